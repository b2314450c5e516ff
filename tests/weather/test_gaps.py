"""Holes: short ones are bridged, long ones stay and are said."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import Origin
from mebuki.weather.gaps import append_hours, bridge, fill_like_neighbours, holes
from mebuki.weather.plausibility import check
from mebuki.weather.series_file import read_hourly
from tests.weather.series import JFK, an_hour, calm_hours, hours_of


def test_a_hole_of_three_hours_is_bridged_by_a_straight_line() -> None:
    """The values lie on the line; the origin still says that nothing was measured."""
    air = np.array([4.0, np.nan, np.nan, np.nan, 8.0])
    series, remarks = bridge(hours_of(air))
    assert series.air_temperature == pytest.approx([4, 5, 6, 7, 8])
    assert series.origin.tolist() == [Origin.MEASURED, *[Origin.MISSING] * 3, Origin.MEASURED]
    assert remarks == ("3 hours were missing in gaps of up to 3 h; straight lines fill them.",)


def test_a_hole_of_four_hours_stays_and_is_named() -> None:
    """No line is drawn across; the remark says from when to when."""
    air = calm_hours(48)
    air[10:14] = np.nan
    series, remarks = bridge(hours_of(air))
    assert np.isnan(series.air_temperature[10:14]).all()
    assert remarks == ("The hours 1970-01-01 10:00 to 1970-01-01 13:00 UTC are missing.",)


def test_holes_at_the_ends_are_never_bridged() -> None:
    """A line needs a hold on both sides."""
    series, remarks = bridge(hours_of(np.array([np.nan, 1.0, 2.0, np.nan])))
    assert np.isnan(series.air_temperature[[0, 3]]).all()
    assert remarks == ()


def test_rain_is_never_invented() -> None:
    """Precipitation stays NaN where the temperature is bridged."""
    rain = np.array([1.0, np.nan, 1.0])
    series, _ = bridge(hours_of(np.array([1.0, np.nan, 3.0]), precipitation=rain))
    assert series.air_temperature[1] == 2
    assert np.isnan(series.precipitation[1])


def test_the_false_spike_of_the_demo_year_is_bridged() -> None:
    """Between 13.9 and 14.0 °C stands 13.95 °C instead of −10.5 °C."""
    checked, _ = check(read_hourly(JFK).series)
    series, remarks = bridge(checked)
    at = an_hour(2013, 5, 9, 2) - series.start
    assert series.air_temperature[at] == pytest.approx(13.95)
    assert "The hours 2013-10-26 00:00 to 2013-10-26 04:00 UTC are missing." in remarks
    assert "The hours 2013-11-03 00:00 to 2013-11-03 04:00 UTC are missing." in remarks


def test_of_many_long_holes_the_newest_are_named_and_the_rest_counted() -> None:
    """A broken logger does not flood the report."""
    air = calm_hours(240)
    for first in range(10, 230, 24):
        air[first : first + 5] = np.nan
    _, remarks = bridge(hours_of(air))
    assert len(remarks) == 5
    assert remarks[0] == "6 earlier stretches of hours are missing too."


def test_a_long_hole_is_filled_with_the_course_of_the_days_beside_it() -> None:
    """A lost day between two equal days looks like them, not like a straight line."""
    air = calm_hours(120)
    holed = air.copy()
    holed[48:72] = np.nan
    assert fill_like_neighbours(holed) == pytest.approx(air, abs=0.2)


@given(st.lists(st.floats(-40, 40) | st.just(float("nan")), min_size=1, max_size=120))
def test_filling_leaves_no_hole_and_stays_within_what_was_seen(values: list[float]) -> None:
    """Filled values lie between the least and the greatest value of the column."""
    column = np.array(values)
    filled = fill_like_neighbours(column)
    known = column[np.isfinite(column)]
    if len(known):
        assert holes(filled) == []
        assert filled.min() >= known.min() - 1e-9
        assert filled.max() <= known.max() + 1e-9
    else:
        assert np.isnan(filled).all()


def test_stretches_are_joined_only_where_they_meet() -> None:
    """A gap or an overlap between two stretches is a fault of the caller."""
    first, then = hours_of(calm_hours(5)), hours_of(calm_hours(3), start=5)
    assert append_hours(first, then).end == 8
    with pytest.raises(ValueError, match="begins at hour 6"):
        append_hours(first, hours_of(calm_hours(3), start=6))
