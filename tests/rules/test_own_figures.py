"""A figure of one's own practice file changes the advice, and the advice says whose it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from mebuki.domain.advice import Advice, Case
from mebuki.domain.practice import Practice
from mebuki.rules.evaluate import evaluate_all
from tests.builders import (
    a_case,
    a_distribution,
    a_figure,
    a_growth_clock,
    a_hard_day,
    a_night,
    a_record,
    a_root_night,
    a_taxon,
    a_tree,
    a_water_day,
    some_stages,
)

OWN = "your practice file: trial"
GROWTH = (2013, a_growth_clock())

CASES: Mapping[str, tuple[float, Callable[[], Case]]] = {
    "repot.frost_free_weeks": (
        10, lambda: a_case(tree=a_tree(records=[a_record("repotted", "2013-03-20")]))
    ),
    "repot.root_frost_limit": (
        3,
        lambda: a_case(
            tree=a_tree(records=[a_record("repotted", "2013-03-20")]),
            nights=[a_night("2013-03-28", 2)],
        ),
    ),
    "repot.early_years": (
        2, lambda: a_case(tree=a_tree(records=[a_record("repotted", "2012-03-20")]),
                          stages=some_stages())
    ),
    "repot.window_weeks": (
        5,
        lambda: a_case(taxon=a_taxon(repotting={"cue": "before-growth"}), stages=some_stages()),
    ),
    "repot.growth_weeks": (
        3,
        lambda: a_case(
            taxon=a_taxon(group="needle-evergreen", repotting={"cue": "late-spring"}),
            stages=some_stages(),
        ),
    ),
    "repot.bloom_weeks": (
        9,
        lambda: a_case(
            taxon=a_taxon(group="evergreen-broadleaf", repotting={"cue": "after-flowering"}),
            stages=some_stages(),
        ),
    ),
    "wire.bite_gap": (
        0.6,
        lambda: a_case(
            tree=a_tree(records=[a_record("wired", "2013-03-01")]), growth=[GROWTH]
        ),
    ),
    "wire.bend_frost_limit": (
        3,
        lambda: a_case(
            on="2013-02-20", tree=a_tree(records=[a_record("major-bend", "2013-02-10")]),
            nights=[a_night("2013-02-21", 2)],
        ),
    ),
    "frost.hardened_days": (
        100,
        lambda: a_case(
            on="2013-06-25", stages=some_stages(),
            nights=[a_night("2013-06-25", -3)],
        ),
    ),
    "frost.threshold_good": (
        0.9, lambda: a_case(stages=some_stages("2013-03-10"), nights=[a_night("2013-03-28", 0)])
    ),
    "winter.limit_margin": (
        0.1, lambda: a_case(nights=[a_night("2013-03-28", -8)],
                            roots=[a_root_night("2013-03-28", -6)])
    ),
    "water.trigger_share": (
        0.3, lambda: a_case(water=[a_water_day("2013-03-27", share_evening=0.5)])
    ),
    "feed.last_days": (
        30, lambda: a_case(on="2013-09-20", stages=some_stages(), growth=[GROWTH],
                           autumn_frost=a_distribution("2013-11-05"),
                           taxon=a_taxon(upkeep={"feed_start_weeks": a_figure(3)}))
    ),
    "wind.gust_limit": (
        12, lambda: a_case(hard_days=[a_hard_day("2013-03-27", gust_least=13, gust_most=13)])
    ),
}  # fmt: skip


def _advice(case: Case, key: str, value: float | None) -> tuple[Advice, ...]:
    figures = dict(case.rulebook.practice.figures)
    if value is not None:
        figures[key] = figures[key].model_copy(update={"value": value, "source": OWN})
    book = case.rulebook.model_copy(update={"practice": Practice(figures=figures)})
    return tuple(evaluate_all([replace(case, rulebook=book)]))


def _without_reasons(advice: tuple[Advice, ...]) -> tuple[Advice, ...]:
    return tuple(replace(each, reasons=()) for each in advice)


@pytest.mark.parametrize("key", CASES)
def test_a_figure_of_ones_own_changes_the_advice_and_is_named(key: str) -> None:
    """What is advised differs from the shipped figure's advice, and a reason says from where."""
    value, make = CASES[key]
    case = make()
    shipped, own = _advice(case, key, None), _advice(case, key, value)
    assert _without_reasons(own) != _without_reasons(shipped)
    assert OWN not in {reason.source for each in shipped for reason in each.reasons}
    told = {reason.source for each in own for reason in each.reasons}
    assert OWN in told or not own
