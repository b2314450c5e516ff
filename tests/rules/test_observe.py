"""Observations: asked for where they teach most, and not where the answer is known."""

from __future__ import annotations

from datetime import date

import pytest

from mebuki.domain.advice import Advice, Case, Days
from mebuki.rules import observe
from tests.builders import (
    a_case,
    a_frost_free_place,
    a_night,
    a_record,
    a_southern_site,
    a_tree,
    a_water_day,
    some_stages,
)

DUE = a_tree(records=[a_record("repotted", "2010-03-20")])
WIDE = some_stages(sd=8)
"""First open bud about 5 April, from 26 March to 15 April in eight of ten cases."""


def asked(case: Case, action: str) -> Advice | None:
    """Return the request of one action, if it is made."""
    found = [each for each in observe.advise(case) if each.action == action]
    return found[0] if found else None


def buds(case: Case) -> Advice | None:
    """Return the question about buds, if it is asked."""
    return asked(case, "observe-buds")


def test_buds_are_asked_about_where_their_spread_is_wide() -> None:
    """Twenty days between early and late; a spread of eight days is known well enough."""
    advice = buds(a_case(DUE, stages=WIDE))
    assert advice is not None
    assert advice.weight == 20
    assert advice.cycle == "2013-W13"
    assert advice.span == Days(date(2013, 3, 25), date(2013, 3, 31))
    assert buds(a_case(DUE, stages=some_stages(sd=3))) is None


@pytest.mark.parametrize(
    ("on", "told"),
    [("2013-03-18", False), ("2013-03-19", True), ("2013-04-15", True), ("2013-04-16", False)],
)
def test_buds_are_asked_about_while_the_answer_is_open(on: str, told: bool) -> None:
    """From a week before the early date to the late one."""
    assert (buds(a_case(DUE, stages=WIDE, on=on)) is not None) is told


def test_a_tree_that_is_not_due_is_asked_about_only_if_prized() -> None:
    """Repotted last spring; a prized tree counts half as much more."""
    lately = [a_record("repotted", "2012-03-20")]
    assert buds(a_case(a_tree(records=lately), stages=WIDE)) is None
    prized = buds(a_case(a_tree(records=lately, value="prized"), stages=WIDE))
    assert prized is not None
    assert prized.weight == 30


def test_an_answer_on_record_ends_the_question() -> None:
    """Bud break of this spring is on record; that of last spring is not an answer."""
    seen = a_tree(records=[a_record("bud-break-seen", "2013-03-25")])
    assert buds(a_case(seen, stages=WIDE)) is None
    last = a_tree(records=[a_record("bud-break-seen", "2012-03-25")])
    assert buds(a_case(last, stages=WIDE)) is not None


def test_buds_of_the_south_are_asked_about_in_their_spring() -> None:
    """Bud break on 12 September."""
    stages = some_stages("2013-09-12", sd=8)
    case = a_case(DUE, stages=stages, on="2013-09-01", site=a_southern_site())
    assert buds(case) is not None


@pytest.mark.parametrize(
    ("low", "kind", "told"),
    [(-7, "radiation", False), (-2, "radiation", True), (5, "radiation", False),
     (-2, "advective", False)],
)  # fmt: skip
def test_a_thermometer_is_asked_for_on_a_clear_calm_night_near_freezing(
    low: float, kind: str, told: bool
) -> None:
    """Where garden and forecast differ most and the difference decides."""
    case = a_case(nights=[a_night("2013-03-27", low, frost_type=kind)])
    assert (asked(case, "observe-minimum") is not None) is told


def test_no_thermometer_is_asked_for_where_it_is_known_or_held() -> None:
    """Read ten days ago or less, a place whose minimum is held, or no night in sight."""
    night = a_night("2013-03-27", -1)
    read = a_tree(records=[a_record("minimum-read", "2013-03-20", amount=-2)])
    assert asked(a_case(read, nights=[night]), "observe-minimum") is None
    held = a_case(place=a_frost_free_place(), nights=[night])
    assert asked(held, "observe-minimum") is None
    assert asked(a_case(nights=[a_night("2013-03-28", -1)]), "observe-minimum") is None
    old = a_tree(records=[a_record("minimum-read", "2013-03-01", amount=-2)])
    assert asked(a_case(old, nights=[night]), "observe-minimum") is not None


def test_a_pot_is_weighed_where_its_use_is_least_sure() -> None:
    """A spread of 0.1 L of 0.4 L is a quarter; of 0.05 L it is sure enough."""
    unsure = a_water_day("2013-03-27", 0.5, spread=0.1)
    advice = asked(a_case(water=(unsure,)), "observe-weigh")
    assert advice is not None
    assert advice.weight == pytest.approx(0.25)
    assert asked(a_case(water=(a_water_day("2013-03-27", 0.5),)), "observe-weigh") is None
    ordinary = a_case(a_tree(value="ordinary"), water=(unsure,))
    assert asked(ordinary, "observe-weigh") is None


def test_a_pot_weighed_this_season_is_known() -> None:
    """120 days long; a frozen pot is not weighed at all."""
    unsure = a_water_day("2013-03-27", 0.5, spread=0.1)
    lately = a_tree(records=[a_record("pot-weighed", "2013-01-20", amount=5.0)])
    assert asked(a_case(lately, water=(unsure,)), "observe-weigh") is None
    old = a_tree(records=[a_record("pot-weighed", "2012-11-20", amount=5.0)])
    assert asked(a_case(old, water=(unsure,)), "observe-weigh") is not None
    frozen = a_water_day("2013-03-27", 0.5, spread=0.1, frozen=True)
    assert asked(a_case(water=(frozen,)), "observe-weigh") is None


def test_a_request_stands_for_its_whole_week() -> None:
    """Monday to Sunday, so that it does not move from day to day."""
    days = [date(2013, 3, day) for day in range(25, 32)]
    found = [buds(a_case(DUE, stages=WIDE, on=day)) for day in days]
    spans = {advice.span for advice in found if advice is not None}
    assert None not in found
    assert spans == {Days(date(2013, 3, 25), date(2013, 3, 31))}
