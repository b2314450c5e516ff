"""Which garden needs a round at a moment: pure, from what was done and what the clock shows.

A garden is looked at in even steps, more often while a cold night is ahead, and
at the local hour of each reader's daily digest. Whatever was missed (a sleep, a
crash, a clock that jumped) is caught up by one round, the newest.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from mebuki.schedule.slots import Slot, catch_up, local_slots, regular_slots

AHEAD = timedelta(minutes=10)
"""How far a kept moment may lie ahead of the clock before it is taken for a wrong one."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What the timetable knows of a garden.

    Parameters
    ----------
    digest_hours
        The local hours at which somebody wants the daily digest.
    cell
        A word that gardens with the same weather share; they are run together.
    last
        The nominal moment of its newest round (UTC); none before the first.
    watch
        Whether a cold night is ahead.
    """

    garden: str
    zone: ZoneInfo
    digest_hours: frozenset[int] = frozenset()
    cell: str = ""
    last: datetime | None = None
    watch: bool = False


@dataclass(frozen=True, slots=True)
class Due:
    """A round that is to be run now.

    Parameters
    ----------
    at, on
        Its nominal moment (UTC) and local day.
    digest_hours
        The readers' hours that have come since the round before, on this day.
    """

    garden: str
    at: datetime
    on: date
    digest_hours: frozenset[int]
    cell: str = ""


@dataclass(frozen=True, slots=True)
class Timetable:
    """How often gardens are looked at (design defaults).

    Parameters
    ----------
    step
        Between two looks; none for rounds at the digest hours alone.
    cold_step
        Between two looks while a cold night is ahead.
    spread
        The looks of different gardens are spread over this time, each garden
        always at the same offset, so that the weather services are not asked
        by all at once.
    oldest
        A slot longer ago than this is not caught up; a newer one follows soon.
    """

    step: timedelta | None = timedelta(hours=3)
    cold_step: timedelta | None = timedelta(hours=1)
    spread: timedelta = timedelta(minutes=10)
    oldest: timedelta = timedelta(days=1)

    def due(
        self, standing: Standing, now: datetime, done: Callable[[datetime], bool]
    ) -> Due | None:
        """Return the round that a garden needs now, or none.

        Parameters
        ----------
        done
            Whether the round of a nominal moment was finished, well or badly.
        """
        last = standing.last
        if last is not None and last > now + AHEAD:  # kept under a clock that was ahead
            last = None
        if last is None:
            slot = Slot(_quarter(now), _quarter(now).astimezone(standing.zone).date())
            slots: tuple[Slot, ...] = (slot,)
        else:
            slots = self._slots(standing, max(last, now - 2 * self.oldest), now)
        if not slots:
            return None
        chosen = catch_up(slots, lambda one: done(one.at), now, self.oldest).run
        if chosen is None:
            return None
        hours = frozenset(
            hour for hour in standing.digest_hours if _came(hour, standing.zone, last, chosen)
        )
        return Due(standing.garden, chosen.at, chosen.day, hours, standing.cell)

    def _slots(self, standing: Standing, since: datetime, now: datetime) -> tuple[Slot, ...]:
        zone = standing.zone
        step = self.cold_step if standing.watch else self.step
        looks = regular_slots(step, since, now, self._offset(standing)) if step else ()
        found = {Slot(at, at.astimezone(zone).date()) for at in looks}
        for hour in standing.digest_hours:
            found.update(local_slots(hour, zone, since, now))
        return tuple(sorted(found))

    def _offset(self, standing: Standing) -> timedelta:
        minutes = int(self.spread.total_seconds()) // 60
        if not minutes:
            return timedelta()
        name = standing.cell or standing.garden
        drawn = int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big")
        return timedelta(minutes=drawn % minutes)


def _quarter(now: datetime) -> datetime:
    """Return the quarter of an hour that has begun: a first round does not wait for a slot."""
    return now.replace(minute=now.minute - now.minute % 15, second=0, microsecond=0)


def _came(hour: int, zone: ZoneInfo, last: datetime | None, chosen: Slot) -> bool:
    """Whether a digest hour of the day of a round came after the round before it."""
    since = max(last, chosen.at - timedelta(days=1)) if last else chosen.at - timedelta(days=1)
    return any(slot.day == chosen.day for slot in local_slots(hour, zone, since, chosen.at))
