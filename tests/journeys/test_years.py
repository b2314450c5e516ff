"""The constructed hours of measured days keep what was measured."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from mebuki.weather.series_file import read_hourly
from tests.journeys.years import (
    HALF_A_YEAR,
    HARDEST_RAIN,
    NEW_YORK_2014,
    SEATTLE_2015,
    Measured,
    hours_of,
    measured_days,
    site,
    source,
    steps,
)

YEARS = [NEW_YORK_2014, SEATTLE_2015]


def _rows(measured: Measured, southern: bool) -> tuple[np.ndarray, list[float], list[float]]:
    """Return the hours (day, hour, column), and the measured minima and rain of the days."""
    own = [day for day in measured_days(measured.location) if day.on.year == measured.first_year]
    values = np.array([row for _, row in hours_of(own, site(measured, southern))])
    return values.reshape(len(own), 24, 4), [day.minimum for day in own], [day.rain for day in own]


@pytest.mark.parametrize("measured", YEARS, ids=str)
def test_constructed_hours_keep_the_measured_minimum_and_rain_of_each_day(
    measured: Measured,
) -> None:
    """Before noon the minimum is met to 0.5 °C on nine days of ten; rain to the hundredth mm.

    On the others the air of the eve was colder than the morning, which one minimum a day
    cannot tell.
    """
    hours, minima, rain = _rows(measured, southern=False)
    morning = hours[1:, :12, 0].min(axis=1) - np.array(minima[1:])
    assert (np.abs(morning) < 0.5).mean() > 0.9
    assert morning.max() < 0.5
    assert hours[:, :, 3].sum(axis=1) == pytest.approx(rain, abs=0.01)
    shower = np.array(rain) <= 24 * HARDEST_RAIN
    assert (hours[shower, :, 3] <= HARDEST_RAIN + 1e-9).all()


@pytest.mark.parametrize("measured", YEARS, ids=str)
def test_the_constructed_dew_point_never_lies_above_the_air(measured: Measured) -> None:
    """And never above the day's minimum (Allen et al. 1998, FAO-56 eq. 48)."""
    hours, minima, _ = _rows(measured, southern=True)
    assert (hours[:, :, 1] <= hours[:, :, 0]).all()
    assert (hours[:, :, 1] <= np.array(minima)[:, None]).all()


def test_the_written_series_is_read_by_the_replay_without_a_gap(tmp_path: Path) -> None:
    """A year of hours in UTC, from local solar midnight of the first day on."""
    replay = source(NEW_YORK_2014, southern=False, folder=tmp_path)
    series = read_hourly(tmp_path / "hours.csv").series
    assert len(series.origin) == 365 * 24
    assert np.isfinite(series.air_temperature).all()
    first, last = replay.allowed_days(site(NEW_YORK_2014, southern=False))
    assert first == date(2014, 1, 1)
    assert last >= date(2014, 12, 31)


@pytest.mark.parametrize("southern", [False, True])
def test_no_night_of_frost_is_stepped_over(southern: bool) -> None:
    """Each measured day of frost is taken with the day before it, also half a year later."""
    shift = HALF_A_YEAR if southern else timedelta()
    taken = set(steps(NEW_YORK_2014, southern, 7))
    frosts = [
        day.on + shift
        for day in measured_days("New York")
        if day.minimum <= 0 and date(2014, 1, 3) <= day.on < date(2014, 12, 29)
    ]
    assert len(frosts) > 50
    assert all({day, day - timedelta(days=1)} <= taken for day in frosts)
