"""Water in winter: the weekly feel of pots at rest, and a drink before hard frost."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from mebuki.domain.advice import Advice, Case, Days
from mebuki.rules import water
from tests.builders import (
    a_case,
    a_distribution,
    a_night,
    a_place,
    a_record,
    a_tree,
    a_tropical_taxon,
    a_water_day,
    some_stages,
)

SHED = a_place("shed", kind="shed")
JANUARY: dict[str, Any] = {"on": "2013-01-16", "autumn_frost": a_distribution("2013-11-08", 8)}


def of(case: Case, action: str) -> list[Advice]:
    """Return the advice of one action."""
    return [each for each in water.advise(case) if each.action == action]


def test_a_pot_at_rest_in_the_shed_is_felt_once_a_week() -> None:
    """Rule R43: one advice for the week of the day, Monday to Sunday, under the week's number."""
    (advice,) = of(a_case(place=SHED, **JANUARY), "winter-water")
    assert advice.span == Days(date(2013, 1, 14), date(2013, 1, 20))
    assert advice.cycle == "2013-W03"


@pytest.mark.parametrize("on", ["2013-03-20", "2013-07-01", "2013-10-30"])
def test_in_growth_there_is_no_weekly_feel(on: str) -> None:
    """From swelling buds to the first frost the daily need speaks."""
    assert of(a_case(place=SHED, on=on), "winter-water") == []


def test_after_the_first_frost_the_weekly_feel_begins_again() -> None:
    """In the new season too, whose spring is still far."""
    case = a_case(place=SHED, on="2013-11-20")
    assert of(case, "winter-water") != []
    ahead = a_case(place=SHED, on="2013-12-20", season=2014, stages=some_stages("2014-04-10", 2014))
    assert of(ahead, "winter-water") != []


def test_open_benches_and_tropical_trees_have_no_weekly_feel() -> None:
    """Rain reaches the bench; a fig indoors grows on."""
    assert of(a_case(**JANUARY), "winter-water") == []
    assert of(a_case(place=SHED, taxon=a_tropical_taxon(), **JANUARY), "winter-water") == []


def test_before_a_hard_frost_dry_pots_are_watered_by_day() -> None:
    """Rule R44: −4 °C or colder tonight or tomorrow night."""
    hard, light = [a_night("2013-01-17", -4)], [a_night("2013-01-17", -3.9)]
    (advice,) = of(a_case(nights=hard, **JANUARY), "water-before-frost")
    assert "before noon" in advice.deed
    assert of(a_case(nights=light, **JANUARY), "water-before-frost") == []
    far = [a_night("2013-01-18", -8)]
    assert of(a_case(nights=far, **JANUARY), "water-before-frost") == []


def test_a_frozen_ball_is_not_watered_before_frost() -> None:
    """It takes none, and the advice on frozen balls stands alone."""
    frozen = [a_water_day("2013-01-16", 1, frozen=True)]
    case = a_case(nights=[a_night("2013-01-16", -9)], water=frozen, **JANUARY)
    assert [each.action for each in water.advise(case)] == ["do-not-water-frozen"]


def test_a_pot_just_watered_or_due_for_water_gets_no_second_reminder() -> None:
    """Watered yesterday, or asked for today anyhow."""
    night = [a_night("2013-01-16", -9)]
    wet = a_tree(records=[a_record("watered", "2013-01-15")])
    assert of(a_case(wet, nights=night, **JANUARY), "water-before-frost") == []
    thirsty = [a_water_day("2013-01-16", 0.1)]
    case = a_case(nights=night, water=thirsty, **JANUARY)
    assert [each.action for each in water.advise(case)] == ["water-today"]


def test_rest_under_cover_does_not_wait_for_a_frost_that_never_comes_there() -> None:
    """Rule R43: in a shed that keeps frost out a pot is felt from December on all the same."""
    late: dict[str, Any] = {"stages": some_stages("2014-04-12", 2014), "season": 2014,
            "autumn_frost": a_distribution("2014-01-09")}  # fmt: skip
    assert of(a_case(place=SHED, on="2013-12-10", **late), "winter-water") != []
    assert of(a_case(place=SHED, on="2013-11-10", **late), "winter-water") == []
