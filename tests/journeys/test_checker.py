"""A year of advice for every taxon, looked over by a second opinion; and that opinion itself.

The default run takes some days of three gardens; ``./deploy/test long`` takes three
measured years on both sides of the equator, every fourth day.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from mebuki.domain.advice import Advice, Days
from mebuki.domain.practice import Rulebook
from mebuki.domain.tree import Tree
from mebuki.rounds.planned import Plan
from tests.builders import a_record
from tests.journeys.checker import objections, unmet
from tests.journeys.gardens import SERIES, Grounds, rulebook, taxa, year

SHARE = [
    (Grounds("JFK", southern=False), 40),
    (Grounds("EWR", southern=True), 60),
    (Grounds("LGA", southern=False, shelter=False), 60),
]
WHOLE = [
    (Grounds(series, southern, shelter), 4)
    for series in SERIES
    for southern in (False, True)
    for shelter in ((True, False) if series == "JFK" else (True,))
]


@pytest.fixture(
    scope="module",
    params=[
        *(pytest.param(each, id=f"share of {each[0]}") for each in SHARE),
        *(pytest.param(each, id=f"whole {each[0]}", marks=pytest.mark.long) for each in WHOLE),
    ],
)
def plans(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[Plan]:
    """Return the plans of one garden over a measured year."""
    grounds, every = request.param
    return year(grounds, tmp_path_factory.mktemp("weather"), every)


def test_no_advice_breaks_a_rule_of_the_trade(plans: list[Plan]) -> None:
    """Rest, frost and feed after repotting, dormancy, weak trees, warm rooms: nothing to object."""
    assert {plan.garden.trees[0].taxon for plan in plans} <= set(taxa())
    assert {tree.taxon for tree in plans[0].garden.trees} == set(taxa())
    assert objections(plans) == []


def test_every_tree_gets_what_its_year_needs(plans: list[Plan]) -> None:
    """A window when due, a look at its wire, winter quarters, a feel of its pot in the shed."""
    assert unmet(plans) == []


def test_the_year_is_not_empty(plans: list[Plan]) -> None:
    """The second opinion has had something to read."""
    actions = {each.action for plan in plans for each in plan.advice}
    assert {"repot-window", "wire-check", "feed-season", "prune-structure"} <= actions
    assert {"aftercare", "winter-night", "winter-shelter", "water-today"} <= actions


@pytest.fixture(scope="module")
def spring(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Return the plan of a day in May, when most kinds of advice are told."""
    grounds = Grounds("JFK", southern=False)
    plans = year(grounds, tmp_path_factory.mktemp("weather"), 120)
    assert plans[1].on == date(2013, 5, 2)
    return plans[1]


def told(plan: Plan) -> set[str]:
    """Return the rules to which the second opinion objects in one plan."""
    return {rule for each in objections([plan]) for rule in each.rule.split()}


def first(plan: Plan, action: str, vigour: str = "normal") -> tuple[Tree, Advice]:
    """Return a tree of some vigour and its advice of an action."""
    for each in plan.advice:
        tree = next(tree for tree in plan.garden.trees if tree.id == each.tree)
        if each.action == action and tree.vigour == vigour:
            return tree, each
    pytest.fail(f"no {action} for a {vigour} tree")


def changed(plan: Plan, old: Advice, **changes: Any) -> Plan:
    """Return the plan with one advice changed."""
    new = replace(old, **changes)
    return replace(plan, advice=tuple(new if each is old else each for each in plan.advice))


def recorded(plan: Plan, tree: Tree, kind: str, on: date) -> Plan:
    """Return the plan as if one more record had been there and no rule had seen it."""
    more = tree.model_copy(update={"records": (*tree.records, a_record(kind, on))})
    trees = tuple(more if each.id == tree.id else each for each in plan.garden.trees)
    return replace(plan, garden=plan.garden.model_copy(update={"trees": trees}))


def test_the_second_opinion_objects_to_heavy_work_on_a_weak_tree(spring: Plan) -> None:
    """R04: a block taken away is seen."""
    assert told(spring) == set()
    _, advice = first(spring, "repot-window", "weak")
    assert advice.blocked
    assert "R04" in told(changed(spring, advice, blocked="", urgency="Expected"))


def test_the_second_opinion_objects_to_heavy_work_without_rest(spring: Plan) -> None:
    """R02: bent a month ago, and a repotting as if nothing had been."""
    tree, advice = first(spring, "repot-window")
    soon = Days(spring.on, spring.on + timedelta(days=20))
    plan = changed(spring, advice, span=soon, blocked="", urgency="Expected")
    assert "R02" in told(recorded(plan, tree, "major-bend", spring.on - timedelta(days=30)))


def test_the_second_opinion_objects_to_feed_and_silence_after_repotting(spring: Plan) -> None:
    """R24 to R26: repotted yesterday, fed today, and no care told."""
    tree, advice = first(spring, "feed-season", "strong")
    assert isinstance(advice.span, Days)
    plan = changed(spring, advice, span=Days(spring.on, advice.span.last))
    found = told(recorded(plan, tree, "repotted", spring.on - timedelta(days=1)))
    assert {"R24", "R25", "R26"} <= found


def test_the_second_opinion_objects_to_repotting_into_leaf_and_without_a_word_of_frost(
    spring: Plan,
) -> None:
    """R20 and R26: a window of maples in June, a deed that forgets the cold."""
    advice = next(
        each
        for each in spring.advice
        if each.action == "repot-window" and "palmatum" in each.tree and not each.blocked
    )
    june = Days(date(int(advice.cycle), 6, 1), date(int(advice.cycle), 6, 20))
    plan = changed(spring, advice, span=june, deed="Repot.")
    assert {"R20", "R26"} <= told(plan)


def test_the_second_opinion_objects_to_a_warm_room_for_a_maple(spring: Plan) -> None:
    """R50: no temperate tree goes to the south window."""
    _, advice = first(spring, "winter-shelter")
    assert "R50" in told(changed(spring, advice, deed="Bring into South window."))


def test_the_second_opinion_misses_what_is_never_told(spring: Plan) -> None:
    """Without any advice every tree lacks something it needs."""
    rules = {each.rule for each in unmet([replace(spring, advice=())])}
    assert {"R13", "R23", "R51 R53"} <= rules


def test_the_numbers_of_the_trade_are_those_of_the_practice_file() -> None:
    """Common practice: half a year between styling and repotting, six weeks without feed."""
    book: Rulebook = rulebook()
    assert book.practice.value("recovery.gap_months") == 6
    assert book.practice.figure("repot.feed_pause_weeks").low == 4
    assert book.practice.figure("repot.feed_pause_weeks").high == 6
    assert book.practice.figure("recovery.gap_months").source == "practice"
    parts = book.substrates["mixed-mineral"].parts
    assert len(parts) == 3
    assert set(parts) == {"akadama", "pumice", "lava"}
    assert all(abs(part - 1 / 3) < 0.01 for part in parts.values())
