"""Which requests for observations are made: two a week at most, the most helpful ones.

One question about buds for a few trees, and one request beside it: a thermometer in
one week, a weighing in the next. A weighing waits while buds are asked about, for that
is the fullest part of the year. So nobody is asked for more than two things in a week,
whatever the weather does within it.
"""

from __future__ import annotations

from collections.abc import Iterable

from mebuki.domain.advice import Advice, CareKind

BUDS, MINIMUM, WEIGH = "observe-buds", "observe-minimum", "observe-weigh"
REQUESTS = (BUDS, MINIMUM, WEIGH)

BUD_TREES = 3
"""Trees in one question about buds (default)."""


def chosen(advice: Iterable[Advice]) -> tuple[Advice, ...]:
    """Return the requests to make of all that advice asks for, heaviest first.

    Trees of the same weight go by their ids; the order of the advice does not matter.
    """
    asked = sorted(
        (each for each in advice if each.kind is CareKind.OBSERVE),
        key=lambda each: (-each.weight, each.tree, each.action),
    )
    buds = [each for each in asked if each.action == BUDS][:BUD_TREES]
    beside = [
        each
        for each in asked
        if each.action == _beside(each.cycle) and not (buds and each.action == WEIGH)
    ][:1]
    return (*buds, *beside)


def _beside(week: str) -> str:
    """Return what is asked for beside buds in a week such as ``2013-W13``."""
    return MINIMUM if int(week[-2:]) % 2 else WEIGH
