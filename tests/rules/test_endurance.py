"""How long a pot lasts without water."""

from __future__ import annotations

import doctest
from dataclasses import replace
from datetime import timedelta
from math import exp, hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.outlook import TreeOutlook
from mebuki.rules import endurance as module
from mebuki.rules.endurance import Endurance, endurance, last_day
from tests.builders import ON, a_water_day, an_outlook


def outlook(*uses: float, water: float = 0.4) -> TreeOutlook:
    """Return an outlook whose coming days use so much of so much easy water [L]."""
    days = tuple(
        a_water_day(ON + timedelta(days=lead), 0.5, use=use, spread=use / 4)
        for lead, use in enumerate(uses)
    )
    return an_outlook(water=days, available_water=water)


def lasts(*uses: float, water: float = 0.4) -> Endurance:
    """Return how long it lasts, told up to 14 days."""
    found = endurance(outlook(*uses, water=water), 14)
    assert found is not None
    return found


def test_a_pot_of_four_days_use_lasts_four_days() -> None:
    """0.4 L at 0.1 L a day; with a quarter more use, 3.2 days."""
    found = lasts(0.1, 0.1, 0.1, 0.1)
    assert found.days == pytest.approx(4)
    assert found.shortest == pytest.approx(3.2)
    assert last_day(found, ON) == ON + timedelta(days=3)


def test_a_pot_that_is_known_less_well_is_trusted_for_less_long() -> None:
    """e^±0.4 of a table beside 25 % of use: 4 days become 4 / (1 + √(0.25² + 0.4²))."""
    known = outlook(0.1, 0.1, 0.1, 0.1)
    wide = replace(known, available_low=0.4 * exp(-0.4), available_high=0.4 * exp(0.4))
    found = endurance(wide, 14)
    assert found is not None
    assert found.days == pytest.approx(4)
    assert found.shortest == pytest.approx(4 / (1 + hypot(0.25, 0.4)))


def test_a_pot_that_dries_by_noon_needs_somebody_every_day() -> None:
    """0.4 L at 1 L a day: under half a day, told in hours of day."""
    found = lasts(1.0, 1.0)
    assert found.days == pytest.approx(0.4)
    assert str(found) == "about 5 hours of day"
    assert last_day(found, ON) == ON


def test_beyond_the_forecast_the_mean_of_its_days_goes_on() -> None:
    """Two days of 0.1 L and 0.3 L leave 0.6 of 1 L, at 0.2 L a day three days more."""
    assert lasts(0.1, 0.3, water=1.0).days == pytest.approx(5)


def test_winter_is_told_as_longer_than_two_weeks() -> None:
    """A bare tree uses next to nothing."""
    found = lasts(0.001, 0.001)
    assert found.open_end
    assert str(found) == "more than 14 days"
    assert str(lasts(0.0, 0.0)) == "more than 14 days"


def test_where_no_day_is_seen_nothing_is_told() -> None:
    """Unknown is not long."""
    assert endurance(an_outlook(), 14) is None
    assert endurance(outlook(0.1, water=0), 14) is None


@given(st.lists(st.floats(0, 5), min_size=1, max_size=4), st.floats(0.01, 20), st.floats(0.01, 5))
def test_more_water_never_lasts_shorter_and_more_use_never_longer(
    uses: list[float], water: float, more: float
) -> None:
    """The law of any balance."""
    here = lasts(*uses, water=water)
    assert lasts(*uses, water=water + more).days >= here.days - 1e-9
    assert lasts(*(use + more for use in uses), water=water).days <= here.days + 1e-9
    assert here.shortest <= here.days + 1e-9


def test_the_examples_of_its_words_hold() -> None:
    """Days, hours of day, and more than can be told."""
    result = doctest.testmod(module)
    assert (result.failed, result.attempted) == (0, 3)
