"""Cold nights as the readers of one level see them: which are in danger, which are over.

Frost on fresh roots and new growth, and cold at the roots of trees in winter,
are one danger to the person who must act before dark.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.agenda.grouping import NIGHTS, TRACES, WATCHES
from mebuki.agenda.memory import Mark, Memory, sign
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, CareKind, Severity
from mebuki.domain.outlook import Night
from mebuki.rules.risk import level_threshold
from mebuki.season.decision import raised

DANGER = "frost"
"""The first word of the key of every notice about a cold night."""

COLD = NIGHTS | WATCHES | TRACES
"""Actions of single nights, whatever their chance of harm."""

ONE_DAY = timedelta(days=1)

_RANKS = {severity: rank for rank, severity in enumerate(reversed(Severity))}


@dataclass(frozen=True, slots=True)
class ColdNight:
    """One coming night with the advice for it, and the coldest night of its trees."""

    evening: date
    advice: tuple[Advice, ...]
    night: Night | None

    @property
    def trees(self) -> tuple[str, ...]:
        """The ids of its trees."""
        return tuple(dict.fromkeys(each.tree for each in self.advice))

    @property
    def frosty(self) -> bool:
        """Whether frost may harm fresh roots, bent wood or growth."""
        return any(each.kind is CareKind.FROST for each in self.advice)

    def mark(self, *, acted: bool, before: Mark | None = None) -> Mark:
        """Return what readers know once they are told, with what they knew before."""
        known = before.trees if before is not None else frozenset()
        worst = worst_of(self.advice)
        severity = max(worst, before.severity) if before is not None and before.acted else worst
        trees = known | {sign(tree) for tree in self.trees}
        return Mark(DANGER, self.evening, acted, severity, trees)


def worst_of(advice: Sequence[Advice]) -> int:
    """Return the rank of the worst severity; what is told at all is moderate at least."""
    return max(_RANKS[Severity.MODERATE], *(_RANKS[each.severity] for each in advice))


def cold_nights(situation: Situation, memory: Memory) -> tuple[ColdNight, ...]:
    """Return the nights that ask the readers of a level for a deed, soonest first.

    A tree is told of once a night: for frost rather than for cold roots.
    """
    found: dict[date, dict[str, Advice]] = {}
    for each in _of_nights(situation):
        evening = date.fromisoformat(each.cycle)
        if stands(situation, each, memory):
            trees = found.setdefault(evening, {})
            if each.kind is CareKind.FROST or each.tree not in trees:
                trees[each.tree] = each
    return tuple(
        ColdNight(
            evening,
            tuple(sorted(trees.values(), key=lambda each: (each.kind, each.tree))),
            _coldest(situation, trees.values(), evening),
        )
        for evening, trees in sorted(found.items())
    )


def threshold_of(situation: Situation, advice: Advice, memory: Memory) -> float | None:
    """Return the chance of harm [0..1] above which a level is told; none if it does not decide."""
    if advice.threshold is None:
        return None
    return level_threshold(situation.rulebook.practice, advice.threshold, memory.level)


def stands(situation: Situation, advice: Advice, memory: Memory) -> bool:
    """Return whether a night is a danger for readers who know what they know.

    Raised above the threshold of the level; a tree that was called in stays until its
    chance is clearly below. A word to prepare calls nobody in: on the day the chance
    must exceed the threshold anew, since its forecast is a better one. What a rule
    asks for whatever the chance stands at every level.
    """
    threshold = threshold_of(situation, advice, memory)
    if threshold is None or advice.probability is None or _certain(advice):
        return advice.action in NIGHTS
    mark = memory.marks.get((DANGER, date.fromisoformat(advice.cycle)))
    known = mark is not None and mark.acted and mark.knows(advice.tree)
    return raised(advice.probability, threshold, known, _cleared(situation))


def not_clear(situation: Situation, memory: Memory) -> frozenset[date]:
    """Return the nights whose danger is not clearly over for some tree."""
    return frozenset(
        date.fromisoformat(each.cycle)
        for each in _of_nights(situation)
        if _lingers(situation, each, memory)
    )


def _lingers(situation: Situation, advice: Advice, memory: Memory) -> bool:
    threshold = threshold_of(situation, advice, memory)
    if threshold is None or advice.probability is None or _certain(advice):
        return True
    return raised(advice.probability, threshold, raised_before=True, cleared=_cleared(situation))


def _certain(advice: Advice) -> bool:
    """Whether a rule asks for a deed for another reason than the chance of harm."""
    if advice.probability is None or advice.threshold is None:
        return False
    return advice.action in NIGHTS and advice.probability <= advice.threshold


def _cleared(situation: Situation) -> float:
    return situation.rulebook.practice.value("frost.clear_share")


def _of_nights(situation: Situation) -> Iterator[Advice]:
    trees = situation.trees
    return (each for each in situation.advice if each.action in COLD and each.tree in trees)


def _coldest(situation: Situation, advice: Iterable[Advice], evening: date) -> Night | None:
    nights = [
        night
        for each in advice
        for night in situation.outlooks[each.tree].nights
        if night.evening == evening
    ]
    return min(nights, key=lambda night: (night.air_minimum, night.begins), default=None)
