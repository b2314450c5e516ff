"""Day length against computed tables, in both hemispheres and beyond the polar circles."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.sun import (
    RISING_ALTITUDE,
    day_length,
    declination,
    equation_of_time,
    first_day_with_length,
    sun_hours,
)
from mebuki.season.sun import sunset as sets_at
from tests.published_tables import published_columns


def test_sunrise_sunset_and_day_length_agree_with_the_table() -> None:
    """Nine latitudes by ten days after Spencer (1971), within 1e-9 h."""
    latitude, day, sunrise, sunset, length = published_columns(
        "day_length_spencer.csv", "lat", "doy", "sunrise", "sunset", "daylength"
    )
    np.testing.assert_allclose(day_length(latitude, day), length, atol=1e-9)
    ordinary = np.abs(sunrise) != 99
    assert not ordinary.all()
    rise, down = sun_hours(latitude[ordinary], day[ordinary])
    np.testing.assert_allclose(rise, sunrise[ordinary], atol=1e-9)
    np.testing.assert_allclose(down, sunset[ordinary], atol=1e-9)


def test_the_sun_may_stay_up_or_down_all_day() -> None:
    """At 68° north it stays up on 21 June and down on 21 December; the south is the reverse."""
    assert day_length([68, 68, -68, -68, 90], [172, 355, 172, 355, 172]).tolist() == [
        24, 0, 0, 24, 24,
    ]  # fmt: skip
    sunrise, sunset = sun_hours(68, [172, 355])
    assert (sunrise.tolist(), sunset.tolist()) == ([0, 12], [24, 12])


def test_declination_has_the_known_solstices() -> None:
    """About ±23.45° at the solstices, within 0.05° (Spencer 1971 is good to 0.035°)."""
    degrees = np.degrees(declination(np.arange(1, 366)))
    assert degrees.max() == pytest.approx(23.45, abs=0.05)
    assert degrees.min() == pytest.approx(-23.45, abs=0.05)
    assert int(np.argmax(degrees)) + 1 in range(170, 175)


@given(st.floats(0, 60), st.integers(1, 365))
def test_day_and_night_trade_places_across_the_equator(latitude: float, day: int) -> None:
    """A day north and the same day south make 24 hours, but for twice the sun's disc.

    The disc and the bending of its light lengthen both days by the same hour
    angles, computed here from the tilted horizon.
    """
    both = float(day_length(latitude, day)) + float(day_length(-latitude, day))
    tilt = float(declination(day))
    width = (
        4
        * np.radians(-RISING_ALTITUDE)
        / (np.sqrt(np.cos(np.radians(latitude)) ** 2 - np.sin(tilt) ** 2))
    )
    assert both == pytest.approx(24 + np.degrees(width) / 15, rel=2e-3)


@given(st.floats(-90, 90), st.integers(1, 366))
def test_day_length_lies_within_the_day(latitude: float, day: int) -> None:
    """Never negative and never above 24 hours, at the poles too."""
    assert 0 <= float(day_length(latitude, day)) <= 24


@pytest.mark.parametrize(
    ("latitude", "day"),
    [
        (latitude, int(day))
        for latitude, day in zip(
            *published_columns("day_length_10.7h_by_latitude.csv", "latitude", "first_doy"),
            strict=True,
        )
    ],
)
def test_days_of_ten_and_seven_tenths_hours_begin_on_the_known_day(
    latitude: float, day: int
) -> None:
    """From 22 December on, 15° to 65° north, to the day."""
    expected = date(2012, 12, 31) + timedelta(days=day)
    assert first_day_with_length(latitude, 10.7, date(2012, 12, 22)) == expected


def test_the_southern_spring_begins_half_a_year_later() -> None:
    """At 42.5° south the first day of 10.7 h from 21 June is in the third week of August."""
    found = first_day_with_length(-42.5, 10.7, date(2013, 6, 21))
    assert found is not None
    assert date(2013, 8, 17) <= found <= date(2013, 8, 25)


def test_a_length_no_day_has_is_not_found() -> None:
    """Fifteen hours never come at 20° north."""
    assert first_day_with_length(20, 15, date(2013, 1, 1)) is None


def test_a_latitude_or_day_that_cannot_be_is_refused() -> None:
    """91° and day 367 end in an error."""
    with pytest.raises(RangeError, match="latitude"):
        day_length(91, 1)
    with pytest.raises(RangeError, match="latitude"):
        day_length(float("nan"), 1)
    with pytest.raises(RangeError, match="day of the year"):
        day_length(50, 367)


def test_a_sundial_is_ahead_and_behind_as_almanacs_say() -> None:
    """16.4 min ahead about 3 November, 14.2 min behind about 11 February, within 0.6 min."""
    minutes = equation_of_time(np.arange(1, 366))
    assert minutes.max() == pytest.approx(16.4, abs=0.6)
    assert minutes.min() == pytest.approx(-14.2, abs=0.6)
    assert int(np.argmax(minutes)) + 1 in range(303, 312)
    assert int(np.argmin(minutes)) + 1 in range(40, 46)


@pytest.mark.parametrize(
    ("latitude", "longitude", "day", "published"),
    [
        (40.71, -74.01, date(2013, 6, 21), datetime(2013, 6, 22, 0, 31, tzinfo=UTC)),
        (40.71, -74.01, date(2013, 12, 21), datetime(2013, 12, 21, 21, 32, tzinfo=UTC)),
        (51.48, 0.0, date(2013, 6, 21), datetime(2013, 6, 21, 20, 21, tzinfo=UTC)),
    ],
)
def test_the_sun_sets_when_almanacs_say(
    latitude: float, longitude: float, day: date, published: datetime
) -> None:
    """New York and Greenwich at the solstices, to the minute of almanacs, within two minutes."""
    found = sets_at(latitude, longitude, day)
    assert found is not None
    assert abs(found - published) <= timedelta(minutes=2)


def test_where_the_sun_does_not_set_no_time_is_told() -> None:
    """At 70° north in June and in December."""
    assert sets_at(70, 20, date(2013, 6, 21)) is None
    assert sets_at(70, 20, date(2013, 12, 21)) is None
