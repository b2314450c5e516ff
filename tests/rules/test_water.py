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


def test_what_the_pot_holds_is_told_as_a_range_and_a_guess_is_called_one() -> None:
    """A table's value is a guess; weighings and findings are not."""
    day = a_water_day(TODAY, 0.1)

    def told(source: str) -> str:
        (advice,) = water.advise(
            a_case(water=[day], available_low=0.2, available_high=0.5, available_source=source)
        )
        reasons = {reason.what: reason for reason in advice.reasons}
        found = reasons["easily available water of the full pot"]
        assert found.source == source
        return found.value

    guess = "a guess, 0.20 to 0.50 L: weigh the pot to know it"
    assert told("mixed mineral: default") == guess
    assert told("kanuma: memory") == guess
    assert told("3 weighings of this pot") == "likely 0.20 to 0.50 L"
    assert told("mixed mineral: default; found dry or wet 4 times") == "likely 0.20 to 0.50 L"
    (plain,) = water.advise(a_case(water=[day]))
    assert all("full pot" not in reason.what for reason in plain.reasons)


def test_the_hours_between_which_it_is_dry_are_told() -> None:
    """16 and 20 h UTC are 12:00 and 16:00 in New York; without a latest hour it may last."""
    hours = {"dry_at": a_moment(TODAY, 18), "dry_earliest": a_moment(TODAY, 16)}
    for latest, words in (
        (a_moment(TODAY, 20), "between 12:00 and 16:00"),
        (None, "from 12:00 on, if at all today"),
    ):
        day = a_water_day(TODAY, 0.1, dry_latest=latest, **hours)
        (advice,) = water.advise(a_case(water=[day]))
        assert words in [reason.value for reason in advice.reasons]


def test_records_that_cannot_be_are_asked_about_and_not_used() -> None:
    """One remark a month beside what the table says; none where the sizes are doubted already."""
    doubt = "weighings differ by 3.90 kg, a pot of 3.27 L by 0.07 to 1.96 kg"
    found = water.advise(a_case(water=[a_water_day(TODAY, 0.1)], available_doubt=doubt))
    assert [advice.action for advice in found] == ["water-today", "check-size"]
    assert found[1].cycle == "2013-03"
    assert doubt in found[1].fact
    assert "left out" in found[1].deed
    days = [a_water_day(TODAY, 0.0, empties=5.0)]
    (sizes,) = water.advise(a_case(water=days, available_doubt=doubt))
    assert "times a day" in sizes.fact


def test_how_long_it_lasts_is_told_with_its_likely_least() -> None:
    """0.4 L at 0.1 L a day, a quarter more or less: about 4 days, likely no less than 3."""
    days = [a_water_day(day, 0.1, use=0.1, spread=0.025) for day in (TODAY, TOMORROW)]
    found = water.advise(a_case(water=days))
    told = {reason.what: reason.value for reason in found[0].reasons}
    assert told["lasts without water"] == "about 4 days, likely no less than 3 days"
