"""What places do to the weather."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import DailySeries
from mebuki.season.places import at_place, daily_at_place, lagged
from tests.builders import a_place
from tests.season.hourly_weather import a_daily_wave, some_hours


def test_an_open_place_changes_nothing() -> None:
    """All shares 1 and no offset: the site's own weather."""
    here = some_hours("2013-01-01T00", a_daily_wave(2, 3, 5), global_radiation=100, cloud_cover=0.3)
    found = at_place(here, a_place())
    np.testing.assert_array_equal(found.air_temperature, here.air_temperature)
    np.testing.assert_array_equal(found.global_radiation, here.global_radiation)
    np.testing.assert_array_equal(found.wind_speed, here.wind_speed)


def test_shares_offset_and_held_minimum() -> None:
    """Half the wind, a tenth of the rain, 2 °C warmer, held at 4 °C; dew point below the air."""
    here = some_hours(
        "2013-01-01T00", [-6.0, 1.0, 8.0], dew_point=[-8.0, 0.0, 9.5], precipitation=2.0,
        global_radiation=200,
    )  # fmt: skip
    place = a_place(
        wind_share=0.5, rain_share=0.1, sun_share=0.25, temperature_offset=2, minimum_held=4
    )
    found = at_place(here, place)
    np.testing.assert_allclose(found.air_temperature, [4, 4, 10])
    np.testing.assert_allclose(found.dew_point, [-8, 0, 9.5])
    np.testing.assert_allclose(found.wind_speed, 1.0)
    np.testing.assert_allclose(found.precipitation, 0.2)
    np.testing.assert_allclose(found.global_radiation, 50)


@pytest.mark.parametrize(("tau", "share", "lag"), [(2, 0.89, 1.8), (8, 0.43, 4.3), (24, 0.16, 5.4)])
def test_a_lag_damps_and_delays_the_day(tau: float, share: float, lag: float) -> None:
    """A first-order system under a daily wave: amplitude within 0.015, delay within 0.5 h."""
    air = lagged(a_daily_wave(30, 10, 8), tau)[-24:]
    assert (air.max() - air.min()) / 16 == pytest.approx(share, abs=0.015)
    assert (int(air.argmin()) - 5) == pytest.approx(lag, abs=0.5)


def test_missing_hours_stay_missing_and_do_not_upset_a_lag() -> None:
    """A short gap is bridged for the state but not shown; NaN is never held at the minimum."""
    air = np.full(30, 5.0)
    air[10] = np.nan
    air[20:26] = np.nan
    found = at_place(some_hours("2013-01-01T00", air), a_place(lag_hours=12, minimum_held=2))
    np.testing.assert_array_equal(np.isnan(found.air_temperature), np.isnan(air))
    assert found.air_temperature[12] == pytest.approx(5.0)


@given(st.floats(0.1, 72), st.lists(st.floats(-30, 30), min_size=2, max_size=50))
def test_a_lag_never_leaves_the_range_of_the_outside(tau: float, outside: list[float]) -> None:
    """The air inside lies between the lowest and the highest outside air so far."""
    air = np.array(outside)
    inside = lagged(air, tau)
    assert (inside >= np.minimum.accumulate(air) - 1e-9).all()
    assert (inside <= np.maximum.accumulate(air) + 1e-9).all()


def test_daily_extremes_shrink_towards_their_mean() -> None:
    """A lag of 8 h leaves 43 % of the range; offset, rain and the held minimum apply."""
    one = np.ones(1)
    daily = DailySeries(date(2013, 1, 1).toordinal(), -10 * one, 10 * one, 5 * one, 4 * one,
                        np.ones(1, np.int8))  # fmt: skip
    found = daily_at_place(daily, a_place(lag_hours=8, rain_share=0.5, wind_share=0.25))
    assert found.maximum[0] - found.minimum[0] == pytest.approx(0.43 * 20, abs=0.1)
    assert (found.precipitation[0], found.wind_speed[0]) == (2.5, 1.0)
    held = daily_at_place(daily, a_place(minimum_held=3))
    assert (held.minimum[0], held.maximum[0]) == (3, 10)
