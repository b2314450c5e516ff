"""Measured years of advice for every taxon, looked over by a second opinion; and that opinion.

A simulated keeper does what is advised and writes it down. The default run takes
some days of three gardens and one thin year; ``./deploy/test long`` takes three
measured years, in the north and mirrored in the south, for every taxon in three
pots, and four years on end (see `tests.journeys.years` for what is measured and
what is constructed within the day).
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
from tests.journeys.checker import objections
from tests.journeys.gardens import Grounds, plans_on, rulebook, taxa
from tests.journeys.keeper import Trial, live
from tests.journeys.needs import Told, unmet
from tests.journeys.years import (
    HALF_A_YEAR,
    NEW_YORK_2013,
    NEW_YORK_2014,
    NEW_YORK_LONG,
    SEATTLE_2015,
)

SHARE = [
    Grounds(NEW_YORK_2013),
    Grounds(NEW_YORK_2014, southern=True),
    Grounds(SEATTLE_2015, shelter=False),
]
SHARE_EVERY, SHARE_DAYS = 60, 6
"""Days between the plans of the default run, and how many."""

WHOLE = [
    *(
        Grounds(weather, southern)
        for weather in (NEW_YORK_2013, NEW_YORK_2014, SEATTLE_2015)
        for southern in (False, True)
    ),
    Grounds(NEW_YORK_2013, shelter=False, nth=3),
]
ON_END = [Grounds(NEW_YORK_LONG, nth=8), Grounds(NEW_YORK_LONG, southern=True, nth=16)]
WEEK = 7
"""Days from step to step without frost: what is told for a week is never stepped over."""


pytestmark = pytest.mark.xdist_group("checker")
LIFE = {"repot-window", "wire-check", "feed-season", "prune-structure", "aftercare"}


@pytest.mark.parametrize("grounds", SHARE, ids=str)
def test_no_advice_of_some_days_breaks_a_rule_of_the_trade(
    grounds: Grounds, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Rest, frost and feed after repotting, dormancy, weak trees, warm rooms: nothing to object."""
    shift = HALF_A_YEAR if grounds.southern else timedelta()
    first = grounds.weather.first + shift + timedelta(days=1)
    days = (first + timedelta(days=SHARE_EVERY * number) for number in range(SHARE_DAYS))
    plans = plans_on(grounds, tmp_path_factory.mktemp("weather"), days)
    assert {tree.taxon for tree in plans[0].garden.trees} == set(taxa())
    assert objections(plans) == []
    actions = {each.action for plan in plans for each in plan.advice}
    assert {*LIFE, "winter-night", "winter-shelter", "water-today"} <= actions


def _judge(trial: Trial) -> None:
    """Hold a trial against the second opinion: nothing to object, nothing wanting."""
    assert trial.objections == []
    assert trial.unmet == []
    assert trial.broken_at_new_year == []
    assert set(trial.actions) >= LIFE
    assert trial.deeds["repotted"] > 0
    assert trial.deeds["wire-checked"] > 0


def test_a_thin_year_with_a_keeper_who_does_what_is_advised(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Every eleventh taxon, each day near frost and every seventh of the others."""
    grounds = Grounds(NEW_YORK_2014, nth=11)
    trial = live(grounds, tmp_path_factory.mktemp("weather"), WEEK)
    _judge(trial)


@pytest.mark.long
@pytest.mark.parametrize("grounds", WHOLE, ids=str)
def test_a_measured_year_of_every_taxon_breaks_no_rule_and_leaves_nothing_wanting(
    grounds: Grounds, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each day near frost and every seventh of the others; the keeper does what is advised."""
    trial = live(grounds, tmp_path_factory.mktemp("weather"), WEEK)
    with capsys.disabled():
        print(f"\n{grounds}: {trial.days} days, {trial.advice} advice, {dict(trial.deeds)}")  # noqa: T201 - the figures of a long trial
    _judge(trial)


@pytest.mark.long
@pytest.mark.parametrize("grounds", ON_END, ids=str)
def test_four_years_on_end_keep_rest_and_records_over_new_year(
    grounds: Grounds, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every eighth taxon (south: sixteenth): due years come round, entries last over new year."""
    trial = live(grounds, tmp_path_factory.mktemp("weather"), WEEK)
    with capsys.disabled():
        print(  # noqa: T201 - the figures of a long trial
            f"\n{grounds}: {trial.days} days, {trial.advice} advice, {dict(trial.deeds)}, "
            f"repotted {max(trial.repotted.values(), default=0)} times at most, "
            f"{trial.carried_over_new_year} entries over new year"
        )
    _judge(trial)
    assert trial.carried_over_new_year > 0
    assert max(trial.repotted.values()) > 1


@pytest.fixture(scope="module")
def spring(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Return the plan of a day in May, when most kinds of advice are told."""
    day = iter([date(2013, 5, 2)])
    (plan,) = plans_on(Grounds(NEW_YORK_2013), tmp_path_factory.mktemp("weather"), day)
    return plan


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
    told_nothing = Told(southern=False)
    for day in (date(2013, 1, 5), date(2013, 8, 10), date(2013, 12, 28)):
        told_nothing.add(replace(spring, on=day, advice=()))
    rules = {each.rule for each in unmet(told_nothing)}
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
