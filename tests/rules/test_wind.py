"""Gusts and wind on frozen root balls."""

from __future__ import annotations

import pytest

from mebuki.domain.advice import Severity
from mebuki.rules import wind
from tests.builders import ON, a_case, a_hard_day, a_place, a_record, a_taxon, a_tree

BOX = a_taxon("buxus-sempervirens", group="evergreen-broadleaf")


@pytest.mark.parametrize(
    ("least", "most", "told"),
    [(14.9, 14.9, False), (15, 15, True), (19.9, 28, False), (20, 28, True)],
)
def test_a_known_gust_counts_from_15_and_a_reckoned_one_from_20(
    least: float, most: float, told: bool
) -> None:
    """Where no gust is known the least that is likely has to reach the limit of an advisory."""
    day = a_hard_day(ON, gust_least=least, gust_most=most)
    assert bool(wind.advise(a_case(hard_days=[day]))) is told


def test_gusts_are_told_for_today_and_tomorrow_only() -> None:
    """Hourly wind three days ahead says little of gusts."""
    days = [a_hard_day(day, gust_least=25, gust_most=25) for day in ("2013-03-28", "2013-03-29")]
    (advice,) = wind.advise(a_case(hard_days=days))
    assert advice.cycle == "2013-03-28"


def test_a_tree_under_cover_fears_no_gust() -> None:
    """A shed keeps the wind out."""
    day = a_hard_day(ON, gust_least=25, gust_most=25)
    assert wind.advise(a_case(place=a_place(kind="shed"), hard_days=[day])) == ()


def test_a_tree_just_repotted_is_more_in_danger() -> None:
    """Its roots do not hold it yet."""
    day = a_hard_day(ON, gust_least=25, gust_most=25)
    fresh = a_tree(records=[a_record("repotted", "2013-03-20")])
    (advice,) = wind.advise(a_case(fresh, hard_days=[day]))
    assert advice.severity is Severity.SEVERE
    assert "repotted lately" in advice.deed
    (other,) = wind.advise(a_case(hard_days=[day]))
    assert other.severity is Severity.MODERATE


@pytest.mark.parametrize(("hours", "told"), [(2, False), (3, True)])
def test_an_evergreen_with_a_frozen_ball_is_shaded_and_not_lifted(hours: int, told: bool) -> None:
    """Three hours of wind or sun above freezing; the ball stays where it is."""
    found = wind.advise(a_case(taxon=BOX, hard_days=[a_hard_day(ON, drying_hours=hours)]))
    assert bool(found) is told
    for advice in found:
        assert advice.action == "frozen-wind"
        assert "do not lift or water" in advice.deed
        assert advice.cautions == ("frozen-pots",)


def test_a_bare_tree_loses_no_water_to_winter_wind() -> None:
    """A maple has no leaves then."""
    assert wind.advise(a_case(hard_days=[a_hard_day(ON, drying_hours=9)])) == ()
