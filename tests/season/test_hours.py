"""Hours rebuilt from daily extremes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.chill import chill_portions, chilling_hours
from mebuki.season.hours import hourly_temperature
from mebuki.season.sun import sun_hours
from tests.published_tables import published_columns


def _winter(latitude: str) -> tuple[Floats, Floats]:
    low, high, day = published_columns(
        f"chill_synth_lat{latitude}_daily.csv", "Tmin", "Tmax", "JDay"
    )
    (expected,) = published_columns(f"chill_synth_lat{latitude}_hourly_expected.csv", "Temp")
    return hourly_temperature(low, high, day, float(latitude)).ravel(), expected


@pytest.mark.parametrize("latitude", ["35", "50.4"])
def test_hours_stay_close_to_another_coding_of_the_same_curve(latitude: str) -> None:
    """Against chillR 0.77: mean 0.06 °C, at most 0.75 °C, but for the last evening.

    That coding has a small step before dawn, which the continuous form avoids,
    and lets the last evening fall to the minimum at once.
    """
    found, expected = _winter(latitude)
    off = np.abs(found - expected)[:-24]
    assert off.mean() < 0.06
    assert off.max() < 0.75


@pytest.mark.parametrize(
    ("latitude", "portions", "hours"), [("35", 120.8415, 1880), ("50.4", 141.6459, 2313)]
)
def test_season_chill_from_daily_extremes_is_right(
    latitude: str, portions: float, hours: float
) -> None:
    """Within 1.5 portions and 1 % of the chilling hours of the invented winters."""
    found, _ = _winter(latitude)
    assert float(chill_portions(found)[-1]) == pytest.approx(portions, abs=1.5)
    assert float(chilling_hours(found)[-1]) == pytest.approx(hours, rel=0.01)


def test_the_curve_is_continuous_and_lowest_at_sunrise() -> None:
    """No step within a clear week: the fall of a night ends at the minimum of the morning."""
    low, high = np.array([1.0, 3, 0, -4, 2, 5, 1]), np.array([12.0, 15, 9, 6, 13, 17, 10])
    hourly = hourly_temperature(low, high, np.arange(60, 67), 45.0)
    assert np.all(hourly >= np.minimum(low, np.append(low[1:], low[-1]))[:, None] - 1e-9)
    assert np.all(hourly <= high[:, None] + 1e-9)
    sunrise, sunset = sun_hours(45.0, np.arange(60, 67))
    assert np.all((sunrise > 6) & (sunrise < 7) & (sunset > 17) & (sunset < 18))
    assert np.all(hourly[1:, 6] - low[1:] < 0.6)
    assert np.all(np.abs(np.diff(hourly.ravel()[24:])) < 3.0)


def test_without_sunrise_or_sunset_the_mean_stands() -> None:
    """At 70° north all hours of midwinter and midsummer days have the mean of the extremes."""
    hourly = hourly_temperature([-20, 4], [-10, 12], [355, 172], 70)
    np.testing.assert_array_equal(hourly, np.repeat([[-15.0], [8.0]], 24, axis=1))


def test_days_beside_the_polar_night_have_finite_hours() -> None:
    """A year at 68° north goes into the polar night and the midnight sun and out again."""
    day = np.arange(1, 366)
    hourly = hourly_temperature(np.full(365, -8.0), np.full(365, 2.0), day, 68.0)
    assert np.all((hourly >= -8 - 1e-9) & (hourly <= 2 + 1e-9))


def test_a_missing_day_leaves_distant_days_alone() -> None:
    """NaN marks its own day and the nights beside it, no more."""
    low, high = np.full(5, 2.0), np.full(5, 12.0)
    whole = hourly_temperature(low, high, np.arange(60, 65), 45.0)
    low[2] = np.nan
    holed = hourly_temperature(low, high, np.arange(60, 65), 45.0)
    assert np.isnan(holed[2]).all()
    np.testing.assert_array_equal(holed[[0, 4]], whole[[0, 4]])
    np.testing.assert_array_equal(holed[1, :17], whole[1, :17])


def test_impossible_input_is_refused() -> None:
    """A minimum above its maximum and a latitude of 95° end in an error."""
    with pytest.raises(RangeError, match="minimum"):
        hourly_temperature([5], [4], [60], 45)
    with pytest.raises(RangeError, match="latitude"):
        hourly_temperature([4], [5], [60], 95)


@given(
    arrays(np.float64, (2, 3, 6), elements=st.floats(-30, 40)),
    st.lists(st.floats(-90, 90), min_size=3, max_size=3),
    st.integers(1, 360),
)
def test_series_in_one_call_and_alone_agree(
    values: Floats, latitudes: list[float], first: int
) -> None:
    """A batch with a latitude for each series equals the series one by one."""
    low, high = np.sort(values, axis=0)
    day = np.arange(first, first + 6)
    batch = hourly_temperature(low, high, day, latitudes)
    assert batch.shape == (3, 6, 24)
    for index, latitude in enumerate(latitudes):
        alone = hourly_temperature(low[index], high[index], day, latitude)
        np.testing.assert_allclose(batch[index], alone, rtol=0, atol=1e-9)
