"""When something is due: pure reckoning with moments and local hours.

A slot is the nominal moment of a run. It follows from the calendar and the time
zone alone, so that two programs, or one after a crash, a sleep or a jump of the
clock, name the same slots; whether one was run is for a table to know.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAY = timedelta(days=1)
_NOON = time(12)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, order=True)
class Slot:
    """A nominal moment (UTC), and the local day it belongs to."""

    at: datetime
    day: date


def local_slot(day: date, hour: int, zone: ZoneInfo) -> Slot | None:
    """Return the slot of a local hour on a day; None if the zone skips the whole day.

    An hour that is there twice (clocks put back) counts when it comes first; for
    one that is not there (clocks put forward) the first moment after the gap
    stands. So there is one slot for each day that there is.

    Parameters
    ----------
    hour
        Local hour, 0 to 23.
    """
    if _local(datetime.combine(day, _NOON, zone), zone).date() != day:
        return None
    return Slot(datetime.combine(day, time(hour), zone).astimezone(UTC), day)


def local_slots(hour: int, zone: ZoneInfo, since: datetime, until: datetime) -> tuple[Slot, ...]:
    """Return the slots of a local hour after ``since``, up to and with ``until``, by time."""
    first = since.astimezone(zone).date() - DAY
    count = (until.astimezone(zone).date() - first).days + 2
    slots = (local_slot(first + number * DAY, hour, zone) for number in range(max(count, 0)))
    return tuple(slot for slot in slots if slot is not None and since < slot.at <= until)


def regular_slots(
    step: timedelta, since: datetime, until: datetime, phase: timedelta = timedelta()
) -> tuple[datetime, ...]:
    """Return the moments that are whole steps after 1970 plus ``phase``, after since, to until.

    They lie in UTC and know no summer time. Ask for spans of moderate length.
    """
    first = (since - _EPOCH - phase) // step + 1
    last = (until - _EPOCH - phase) // step
    return tuple(_EPOCH + phase + number * step for number in range(first, last + 1))


@dataclass(frozen=True, slots=True)
class CatchUp:
    """What to do about slots that have passed.

    Parameters
    ----------
    run
        The slot to run now, or none.
    skipped
        Earlier or too old slots that were not run and need not be any more,
        oldest first.
    """

    run: Slot | None
    skipped: tuple[Slot, ...]


def catch_up(
    passed: Sequence[Slot], done: Callable[[Slot], bool], at: datetime, oldest: timedelta
) -> CatchUp:
    """Return the one slot to run after any time away: the newest, if it is not done.

    Parameters
    ----------
    passed
        Slots up to now, in any order; later ones than ``at`` are left alone.
    oldest
        A slot longer ago than this is not run any more.
    """
    slots = sorted(slot for slot in passed if slot.at <= at)
    undone = [slot for slot in slots if not done(slot)]
    if undone and undone[-1] == slots[-1] and at - undone[-1].at <= oldest:
        return CatchUp(undone[-1], tuple(undone[:-1]))
    return CatchUp(None, tuple(undone))


def _local(moment: datetime, zone: ZoneInfo) -> datetime:
    """Return what a clock on the wall shows, which differs from a moment that never was."""
    return moment.astimezone(UTC).astimezone(zone)
