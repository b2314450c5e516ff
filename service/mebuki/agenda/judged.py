"""Calls to act, judged by what the weather did: hits, false alarms, misses, time to act.

The unit is one tree on one night. A call counts for each tree that it names, from
the moment of the mail that named it first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from statistics import median

from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.agenda.nights import DANGER
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, CareKind
from mebuki.domain.garden import Caution
from mebuki.rules.risk import level_threshold
from mebuki.season.scores import Contingency

HOUR = timedelta(hours=1)


class Outcome(StrEnum):
    """What became of one tree on one night."""

    HIT = "hit"
    FALSE_ALARM = "false alarm"
    MISS = "miss"
    QUIET = "quiet"


@dataclass(frozen=True, slots=True)
class TreeNight:
    """What a past night did to one tree that frost could harm.

    Parameters
    ----------
    evening
        The local day on which the night began.
    harmed
        Whether its measured minimum harms the tree where it stands.
    lowest, limit
        What was measured, and what the tree stands [°C].
    coldest_at
        When it was coldest (UTC).
    """

    tree: str
    evening: date
    harmed: bool
    lowest: float
    limit: float
    coldest_at: datetime


@dataclass(frozen=True, slots=True)
class Call:
    """The trees that one mail asked to protect for one night."""

    level: Caution
    evening: date
    told_at: datetime
    trees: frozenset[str]


@dataclass(frozen=True, slots=True)
class Judgement:
    """One tree, one night, one level: what was told, and what happened."""

    level: Caution
    night: TreeNight
    told_at: datetime | None

    @property
    def outcome(self) -> Outcome:
        """Hit, false alarm, miss, or rightly quiet; a call after the coldest hour is a miss."""
        told = self.told_at is not None and self.told_at < self.night.coldest_at
        if self.night.harmed:
            return Outcome.HIT if told else Outcome.MISS
        return Outcome.FALSE_ALARM if told else Outcome.QUIET

    @property
    def lead_hours(self) -> float | None:
        """Hours [h] from the call to the coldest moment; none without a call."""
        return (self.night.coldest_at - self.told_at) / HOUR if self.told_at else None


def call_of(notice: Notice, situation: Situation) -> Call | None:
    """Return the call against frost that a notice made; none if it made none.

    A tree that was named for its cold roots alone is left out: what the night did to
    those no thermometer tells.

    Parameters
    ----------
    situation
        What the round looked at that made the notice.
    """
    danger, _, rest = notice.key.partition(":")
    if danger != DANGER or notice.step is not NoticeStep.ACT:
        return None
    evening, level = rest.partition(":")[0], notice.level or "balanced"
    names = {name for line in notice.lines for name in line.trees}
    endangered = _endangered(situation, evening, level)
    trees = frozenset(tree for tree in endangered if situation.name(tree) in names)
    return Call(level, date.fromisoformat(evening), notice.at, trees) if trees else None


def would_call(situation: Situation, level: Caution) -> Call | None:
    """Return the call that readers of a level would have got for the night that begins today.

    For levels that nobody reads at: the trees whose chance of harm by frost is above what
    the level is told of; none if there is none.
    """
    tonight = situation.on.isoformat()
    trees = _endangered(situation, tonight, level) & situation.trees.keys()
    return Call(level, situation.on, situation.at, trees) if trees else None


def _endangered(situation: Situation, cycle: str, level: Caution) -> frozenset[str]:
    """Return the trees that frost may harm on a night, by more than a level is told of."""
    return frozenset(
        each.tree
        for each in situation.advice
        if each.kind is CareKind.FROST and each.cycle == cycle and _above(situation, each, level)
    )


def _above(situation: Situation, advice: Advice, level: Caution) -> bool:
    if advice.probability is None or advice.threshold is None:
        return True
    practice = situation.rulebook.practice
    return advice.probability > level_threshold(practice, advice.threshold, level)


def judge(
    nights: Iterable[TreeNight], calls: Iterable[Call], level: Caution
) -> tuple[Judgement, ...]:
    """Return each night of each tree with the first call of a level that named it."""
    first: dict[tuple[str, date], datetime] = {}
    for call in sorted(calls, key=lambda one: one.told_at):
        if call.level == level:
            for tree in call.trees:
                first.setdefault((tree, call.evening), call.told_at)
    return tuple(
        Judgement(level, night, first.get((night.tree, night.evening))) for night in nights
    )


def table_of(judged: Iterable[Judgement]) -> Contingency:
    """Return the counts of hits, false alarms, misses and quiet nights."""
    found = [each.outcome for each in judged]
    return Contingency(
        hits=found.count(Outcome.HIT),
        false_alarms=found.count(Outcome.FALSE_ALARM),
        misses=found.count(Outcome.MISS),
        correct_negatives=found.count(Outcome.QUIET),
    )


def median_lead(judged: Sequence[Judgement]) -> float | None:
    """Return the median time [h] that hits left for acting; none without a hit."""
    leads = [
        lead
        for each in judged
        if each.outcome is Outcome.HIT and (lead := each.lead_hours) is not None
    ]
    return median(leads) if leads else None
