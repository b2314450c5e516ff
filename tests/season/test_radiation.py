"""Sun and cloud estimated where they were not measured, and gaps that are bridged."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.season.evaporation import sky_ratio
from mebuki.season.local_time import bridged, local_clock, local_hour
from mebuki.season.radiation import (
    MEGAJOULES,
    daily_extraterrestrial,
    from_temperature_range,
    sun_hours,
    with_sky,
)
from mebuki.season.seasons import days_of_year
from tests.builders import a_site
from tests.season.hourly_weather import a_daily_wave, hour_of, some_hours

SITE = a_site(longitude=0, time_zone="UTC")


def test_estimated_sun_adds_up_to_equation_50() -> None:
    """The hours of a day sum to kRs √(range) Ra of FAO-56 eq. 50, within 1 %; all flagged."""
    here = some_hours("2013-06-10T01", a_daily_wave(3, 15, 5))
    found = with_sky(here, SITE)
    total = found.series.global_radiation[24:48].sum() * MEGAJOULES
    outside = daily_extraterrestrial(SITE.latitude, date(2013, 6, 11).timetuple().tm_yday)
    assert total == pytest.approx(float(from_temperature_range(outside, 10, 20)), rel=0.01)
    assert found.radiation_estimated.all()
    assert found.cloud_estimated.all()


def test_measured_sun_and_cloud_are_kept() -> None:
    """Only what is missing is estimated, and only that is flagged."""
    here = some_hours(
        "2013-06-10T00", a_daily_wave(2, 15, 5), global_radiation=123, cloud_cover=0.2
    )
    here.global_radiation[30] = np.nan
    found = with_sky(here, SITE)
    assert found.radiation_estimated.sum() == 1
    assert not found.cloud_estimated.any()
    assert np.delete(found.series.global_radiation, 30) == pytest.approx(123)


def test_a_small_range_means_a_cloudy_sky() -> None:
    """Days of 3 °C range are cloudier than days of 15 °C, and both lie within 0..1."""
    clouds = [
        float(with_sky(some_hours("2013-06-10T00", a_daily_wave(2, 15, half)), SITE)
              .series.cloud_cover[12])
        for half in (1.5, 7.5)
    ]  # fmt: skip
    assert 0 <= clouds[1] < 0.35
    assert 0.8 < clouds[0] <= 1


def test_without_temperatures_nothing_is_made_up() -> None:
    """A series without one whole day has no range, so its sun stays unknown."""
    found = with_sky(some_hours("2013-06-10T00", np.full(10, 12.0)), SITE)
    assert np.isnan(found.series.global_radiation).all()
    assert not found.radiation_estimated.any()


def test_nights_take_the_sky_of_the_late_afternoon() -> None:
    """Rs/Rso of the night is that of two to three hours before sunset, not 0.8."""
    hours = hour_of("2013-06-10T00") + np.arange(48)
    sun = sun_hours(hours, 40.6, 0.0)
    clear = 0.75 * sun.extraterrestrial
    ratio = sky_ratio(0.5 * clear, sun, 0.0)
    assert ratio[0] == 0.8
    assert ratio[24] == pytest.approx(0.5)
    assert ratio.min() >= 0.3


@given(st.lists(st.sampled_from([1.0, 2.0, np.nan]), max_size=30))
def test_only_short_gaps_are_bridged(values: list[float]) -> None:
    """Known values stay; a gap of four hours or more, or at an end, stays unknown."""
    series = np.array(values, dtype=np.float64)
    found = bridged(series)
    known = np.isfinite(series)
    np.testing.assert_array_equal(found[known], series[known])
    text = "".join("x" if flag else "." for flag in known)
    for gap in text.split("x"):
        if len(gap) > 3:
            assert np.isnan(found[text.index(gap) : text.index(gap) + len(gap)]).all()
    assert not known.any() or np.isnan(found[: int(known.argmax())]).all()


def test_local_days_have_23_and_25_hours() -> None:
    """New York: 10 March 2013 has 23 hours, 3 November 25, and 6 h is found on both."""
    zone = ZoneInfo("America/New_York")
    for day, length in ((date(2013, 3, 10), 23), (date(2013, 11, 3), 25)):
        first = local_hour(day, 0, zone)
        days, clock = local_clock(np.arange(first - 5, first + 40), zone)
        assert (days == day.toordinal()).sum() == length
        six = local_hour(day, 6, zone) - (first - 5)
        assert clock[six] == 6


def test_days_of_the_year() -> None:
    """1 is New Year's Day; 366 the end of a leap year."""
    days = [date(2012, 12, 31), date(2013, 1, 1), date(2013, 7, 6)]
    np.testing.assert_array_equal(
        days_of_year(np.array([d.toordinal() for d in days])), [366, 1, 187]
    )
