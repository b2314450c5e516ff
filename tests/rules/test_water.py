"""Watering: which pots ask for water today and tomorrow."""

from __future__ import annotations

import pytest

from mebuki.domain.advice import Urgency
from mebuki.rules import water
from tests.builders import a_case, a_moment, a_water_day

TODAY, TOMORROW = "2013-03-27", "2013-03-28"


def test_a_pot_that_uses_its_easy_water_by_evening_asks_for_water() -> None:
    """The local hour is told: 19 h UTC is 15:00 in New York."""
    day = a_water_day(TODAY, 0.1, dry_at=a_moment(TODAY, 19))
    (advice,) = water.advise(a_case(water=[day]))
    assert advice.action == "water-today"
    assert "likely dry by 15:00" in advice.fact
    assert advice.urgency is Urgency.IMMEDIATE


@pytest.mark.parametrize(("share", "told"), [(0.3, True), (0.31, False)])
def test_the_trigger_is_seven_tenths_used(share: float, told: bool) -> None:
    """The edge: exactly three tenths left asks for water."""
    assert bool(water.advise(a_case(water=[a_water_day(TODAY, share)]))) is told


def test_tomorrow_is_told_and_the_day_after_is_not() -> None:
    """Two days are looked at, each with its own identity."""
    days = [a_water_day(day, 0.0) for day in (TODAY, TOMORROW, "2013-03-29")]
    found = water.advise(a_case(water=days))
    assert [advice.cycle for advice in found] == [TODAY, TOMORROW]


def test_a_frozen_root_ball_is_not_watered() -> None:
    """Rule R42, with the caution on frozen pots, even if it is dry."""
    (advice,) = water.advise(a_case(water=[a_water_day(TODAY, 0.0, frozen=True)]))
    assert advice.action == "do-not-water-frozen"
    assert "frozen-pots" in advice.cautions


def test_a_pot_that_empties_five_times_a_day_is_doubted() -> None:
    """The sizes on record are wrong: one remark for the month, no calls for water."""
    days = [a_water_day(day, 0.0, empties=5.0) for day in (TODAY, TOMORROW)]
    (advice,) = water.advise(a_case(water=days))
    assert advice.action == "check-size"
    assert advice.cycle == "2013-03"


def test_a_pot_that_empties_more_than_thrice_is_watered_twice() -> None:
    """Two waterings and shade, not five notices."""
    (advice,) = water.advise(a_case(water=[a_water_day(TODAY, 0.0, empties=3.5)]))
    assert "twice" in advice.fact
    assert "shade" in advice.deed


@pytest.mark.parametrize(("evaporation", "doubted"), [(0.5, False), (5.0, True)])
def test_a_pot_that_never_empties_is_doubted_in_dry_air_only(
    evaporation: float, doubted: bool
) -> None:
    """In winter a leafless tree rightly uses next to nothing."""
    day = a_water_day(TODAY, 0.98, empties=0.01, reference_evaporation=evaporation)
    assert bool(water.advise(a_case(water=[day]))) is doubted


def test_without_water_days_nothing_is_said() -> None:
    """No model, no advice."""
    assert water.advise(a_case()) == ()
