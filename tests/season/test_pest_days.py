"""Warmth for insects and mites, and the hours told for a day's work."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike

from mebuki.domain.weather import HourlySeries, hour_number
from mebuki.season.hours_ahead import hours_ahead
from mebuki.season.members import Members
from mebuki.season.pest_days import pest_days
from mebuki.season.seasons import season_days

EARLY, MIDDLE, LATE = 0, 1, 2


def members(low: ArrayLike, high: ArrayLike, season: int = 2013, southern: bool = False) -> Members:
    """Return members of a season whose extremes are broadcast to (cases, days)."""
    span = season_days(season, southern)
    shape = np.broadcast_shapes(np.shape(low), (1, len(span)))
    minimum, maximum = (
        np.array(np.broadcast_to(np.asarray(each, np.float64), shape)) for each in (low, high)
    )
    return Members(span.start, minimum, maximum, span.start, span.start - 1)


def test_warmth_counts_from_the_first_of_march_above_ten_degrees() -> None:
    """Extension counting: mean of 8 and 20 °C is 14, so 4 °C d a day; none below 10 °C."""
    (found,) = pest_days(members(8, 20), 2013, southern=False)
    assert (found.begins, found.base, found.season) == (date(2013, 3, 1), 10.0, 2013)
    assert found.total_on(date(2013, 2, 28)) == 0
    assert found.total_on(date(2013, 3, 1)) == 4
    assert found.total_on(date(2013, 3, 31)) == pytest.approx(31 * 4)
    assert found.total_on(date(2014, 3, 1)) == pytest.approx(245 * 4)
    (cold,) = pest_days(members(0, 19), 2013, southern=False)
    assert cold.total_on(date(2013, 10, 31)) == 0


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(50, 28), (275, 153), (1300, 722)])
def test_published_figures_in_fahrenheit_are_five_ninths_of_it(
    fahrenheit: float, celsius: float
) -> None:
    """University of Wisconsin and Cornell figures above 50 °F, rounded to whole °C d.

    A run of days of 68 °F (20 °C) reaches both on the same day within one day.
    """
    (found,) = pest_days(members(20, 20), 2013, southern=False)
    day = found.reached(celsius)[MIDDLE]
    days = -(-fahrenheit // 18)
    assert day is not None
    assert abs((day - date(2013, 3, 1)).days + 1 - days) <= 1


def test_the_spread_of_past_years_is_told_as_early_middle_and_late() -> None:
    """Eleven springs of 11 to 21 °C: 1 to 11 °C d a day, half of them 6 or more."""
    steady = np.arange(11.0, 22.0)[:, np.newaxis]
    (found,) = pest_days(members(steady, steady), 2013, southern=False)
    early, middle, late = found.reached(60)
    assert middle == date(2013, 3, 10)
    assert early == date(2013, 3, 6)
    assert late == date(2013, 3, 30)
    assert found.reached(1e6) == (None, None, None)


def test_in_the_south_warmth_counts_from_the_first_of_september() -> None:
    """Season 2013 of the south ends on 30 April 2014."""
    (found,) = pest_days(members(15, 15, southern=True), 2013, southern=True)
    assert found.begins == date(2013, 9, 1)
    assert len(found.middle) == (date(2014, 5, 1) - date(2013, 9, 1)).days


def test_a_gap_in_the_weather_leaves_the_warmth_unknown() -> None:
    """One unknown day after 1 March is enough; one before it is not missed."""
    low = np.full((1, 365), 12.0)
    low[0, 200] = np.nan
    assert pest_days(members(low, 20.0), 2013, southern=False) == ()
    low = np.full((1, 365), 12.0)
    low[0, 30] = np.nan
    assert len(pest_days(members(low, 20.0), 2013, southern=False)) == 1


@given(st.lists(st.floats(-20, 35), min_size=2, max_size=12), st.floats(0, 10))
def test_totals_never_fall_and_keep_their_order(means: list[float], swing: float) -> None:
    """Law: few cases are ahead of half, half ahead of most, and time only adds."""
    middle = np.asarray(means)[:, np.newaxis]
    (found,) = pest_days(members(middle - swing, middle + swing), 2013, southern=False)
    rows = np.array([found.low, found.middle, found.high])
    assert (np.diff(rows, axis=1) >= 0).all()
    assert (np.diff(rows, axis=0) >= -1e-9).all()


def a_series(start: datetime, hours: int) -> HourlySeries:
    """Return a series whose air temperature counts its hours."""
    zero = np.zeros(hours)
    return HourlySeries(
        start=hour_number(start), air_temperature=np.arange(hours, dtype=np.float64),
        dew_point=zero, wind_speed=zero, precipitation=zero + 0.5, snowfall=zero,
        global_radiation=zero, cloud_cover=zero, origin=np.zeros(hours, np.int8),
    )  # fmt: skip


def test_hours_are_told_from_a_day_before_to_a_week_ahead() -> None:
    """24 + 168 hours, the first of them a day before the moment."""
    start = datetime(2013, 5, 1, tzinfo=UTC)
    at = start + timedelta(days=3)
    found = hours_ahead(a_series(start, 24 * 20), at)
    assert found is not None
    assert found.begins == at - timedelta(days=1)
    assert len(found.air) == len(found.rain) == 24 * 8
    assert found.air[0] == 48
    assert set(found.rain) == {0.5}


def test_hours_end_where_the_weather_ends() -> None:
    """A short forecast is told as far as it goes; none at all as none."""
    start = datetime(2013, 5, 1, tzinfo=UTC)
    short = hours_ahead(a_series(start, 30), start + timedelta(hours=10))
    assert short is not None
    assert (short.begins, len(short.air)) == (start, 30)
    assert hours_ahead(a_series(start, 30), start + timedelta(days=9)) is None
