"""How well a garden was warned of frost: the nights of some time, level by level.

What was told is counted by the moment at which a mail server took the mail; for a level
that nobody of the garden reads at, what would have been told by the moment of the round.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from mebuki.agenda.judged import Call, Outcome, TreeNight, judge, median_lead, table_of
from mebuki.domain.garden import Caution
from mebuki.rules.risk import NOTICE_LEVELS
from mebuki.season.scores import Contingency
from mebuki.season.seasons import season_days, season_of


@dataclass(frozen=True, slots=True)
class KeptCall:
    """One tree that a round called in, or would have called in, at one level.

    Parameters
    ----------
    called_at
        The moment (UTC) of the first round that did.
    mailed
        Whether there was a mail about it to a reader of the level.
    told_at
        When a mail server took the first such mail (UTC); none if none did.
    """

    level: Caution
    evening: date
    tree: str
    called_at: datetime
    mailed: bool = False
    told_at: datetime | None = None

    @property
    def since(self) -> datetime | None:
        """From when it counts: when it was told, or would have been; none if mail failed."""
        return self.told_at if self.mailed else self.called_at


@dataclass(frozen=True, slots=True)
class Account:
    """What is kept of the nights of a garden.

    Parameters
    ----------
    last
        The last evening that it covers.
    watched
        The evenings on which rounds looked ahead.
    judged
        The evenings of which the night was measured and judged.
    nights
        What the judged nights did, a row for each tree that frost could harm.
    """

    last: date
    watched: frozenset[date]
    judged: frozenset[date]
    nights: tuple[TreeNight, ...]
    calls: tuple[KeptCall, ...]

    def unjudged(self, before: date) -> int:
        """Return how many nights since the first watched one and before a day were not judged."""
        known = self.watched | self.judged
        if not known:
            return 0
        stop = min(before, self.last + timedelta(days=1))
        nights = max((stop - min(known)).days, 0)
        return nights - sum(day < stop for day in self.judged)


@dataclass(frozen=True, slots=True)
class LevelRecord:
    """How one level did over some nights.

    Parameters
    ----------
    table
        Counts of trees and nights: a tree in a night counts once.
    lead_hours
        Median time [h] from a call that was right to the coldest moment; none without one.
    harmful, warned
        Nights that would have harmed a tree, and those of them on which every such tree
        was called in time.
    calls, vain
        Nights with a call, and those of them that would have harmed no tree called.
    mailed
        Nights with a call of which there was a mail to a reader of the level.
    unsent
        Those of them of which no mail was taken by a server.
    """

    level: Caution
    table: Contingency
    lead_hours: float | None
    harmful: int
    warned: int
    calls: int
    vain: int
    mailed: int
    unsent: int


def this_season_and_last(day: date, southern: bool) -> tuple[tuple[date, date], ...]:
    """Return the first and last day of the season of a day, and of the one before it.

    >>> this_season_and_last(date(2013, 4, 2), southern=False)[0]
    (datetime.date(2012, 11, 1), datetime.date(2013, 10, 31))
    """
    running = season_of(day, southern)
    spans = (season_days(season, southern) for season in (running, running - 1))
    return tuple((date.fromordinal(span[0]), date.fromordinal(span[-1])) for span in spans)


def level_records(account: Account) -> tuple[LevelRecord, ...]:
    """Return how each level did, the most cautious first."""
    return tuple(_record(account, level) for level in NOTICE_LEVELS)


def _record(account: Account, level: Caution) -> LevelRecord:
    kept = [each for each in account.calls if each.level == level]
    judged = judge(account.nights, _calls(kept), level)
    nights: dict[date, list[Outcome]] = {}
    for each in judged:
        nights.setdefault(each.night.evening, []).append(each.outcome)
    harmful = [found for found in nights.values() if _harms(found)]
    calls = {day for day, found in nights.items() if _called(found)}
    mailed = {each.evening for each in kept if each.mailed} & account.judged
    sent = {each.evening for each in kept if each.told_at is not None}
    return LevelRecord(
        level=level,
        table=table_of(judged),
        lead_hours=median_lead(judged),
        harmful=len(harmful),
        warned=sum(Outcome.MISS not in found for found in harmful),
        calls=len(calls),
        vain=sum(Outcome.HIT not in nights[day] for day in calls),
        mailed=len(mailed),
        unsent=len(mailed - sent),
    )


def _calls(kept: Iterable[KeptCall]) -> Iterable[Call]:
    return (
        Call(each.level, each.evening, since, frozenset({each.tree}))
        for each in kept
        if (since := each.since) is not None
    )


def _harms(found: Sequence[Outcome]) -> bool:
    return Outcome.HIT in found or Outcome.MISS in found


def _called(found: Sequence[Outcome]) -> bool:
    return Outcome.HIT in found or Outcome.FALSE_ALARM in found
