"""Heat at the wall, dry air, gusts and frozen pots in wind: limits and what they mean."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.heat_wind import (
    DryAir,
    WallHeat,
    frozen_and_drying,
    gust_range,
    scorches,
    sunny_wall,
    wall_heat,
)
from mebuki.season.humidity import vapour_pressure, vapour_pressure_deficit


@pytest.mark.parametrize(
    ("wall", "expected"),
    [([30, 34.9, 30], WallHeat.NONE), ([30, 35, 30], WallHeat.WATCH),
     ([38, 37, 38], WallHeat.WATCH), ([37, 38, 38], WallHeat.ACT),
     ([30, 42, 30], WallHeat.URGENT), ([np.nan, 36, np.nan], WallHeat.WATCH),
     ([np.nan] * 3, WallHeat.NONE)],
)  # fmt: skip
def test_classes_of_the_wall(wall: list[float], expected: WallHeat) -> None:
    """35, 38 for two hours, 42 °C (Witcher et al. 2020; Martin, Ingram and Nell 1989)."""
    assert wall_heat(wall) == expected


@given(st.lists(st.floats(10, 50), min_size=2, max_size=24), st.floats(0, 10))
def test_a_hotter_wall_is_never_a_lower_class(wall: list[float], hotter: float) -> None:
    """Warming every hour never lowers the class."""
    assert wall_heat(np.array(wall) + hotter) >= wall_heat(wall)


def test_the_sunlit_side_is_told_as_a_range() -> None:
    """3 to 5 K in full sun, half in half of it, none in the dark."""
    sun = np.array([0.0, 400.0, 800.0])
    np.testing.assert_allclose(sunny_wall(30.0, sun, most=False), [30, 31.5, 33])
    np.testing.assert_allclose(sunny_wall(30.0, sun), [30, 32.5, 35])


@pytest.mark.parametrize(
    ("degrees", "humidity", "deficit"), [(25, 50, 1.58), (30, 40, 2.55), (35, 20, 4.50)]
)
def test_deficits_as_tabled(degrees: float, humidity: float, deficit: float) -> None:
    """FAO-56 eq. 11: 25 °C and 50 % 1.58, 30 and 40 2.55, 35 and 20 4.50 kPa."""
    found = vapour_pressure_deficit(degrees, vapour_pressure(degrees, humidity))
    assert found == pytest.approx(deficit, abs=0.006)


@pytest.mark.parametrize(
    ("deficit", "wind", "stress", "age", "expected"),
    [(3.2, 5, 1.0, 90, True), (3.2, 3, 1.0, 90, False), (3.2, 1, 0.7, 90, True),
     (2.9, 5, 1.0, 90, False), (2.9, 5, 1.0, 10, True), (2.0, 9, 0.1, 10, False),
     (3.2, 5, 1.0, np.nan, True)],
)  # fmt: skip
def test_when_leaves_scorch(
    deficit: float, wind: float, stress: float, age: float, expected: bool
) -> None:
    """Dry air for four hours with wind or thirst; fresh leaves from 2.2 kPa; wind alone never."""
    hours = np.full((1, 4), deficit)
    assert scorches(DryAir(hours, wind, stress), [age])[0] == expected
    assert not scorches(DryAir(hours[:, :3], wind, stress), [age])[0]


def test_gusts_are_a_range_where_none_is_known() -> None:
    """10 m/s of wind may gust to 14 or 20; a known gust is itself."""
    low, high = gust_range([10.0, 10.0], [np.nan, 12.0])
    assert (low.tolist(), high.tolist()) == ([14.0, 12.0], [20.0, 12.0])


def test_frozen_roots_in_wind_or_sun() -> None:
    """Hours above 0 °C, windy or sunny, with more than 0.8 of the root-ball frozen."""
    frozen = np.array([[1.0, 1.0, 1.0, 0.5, np.nan], [0.1] * 5])
    air = np.array([2.0, 2.0, -1.0, 2.0, 2.0])
    wind, sun = np.array([5.0, 1.0, 5.0, 5.0, 5.0]), np.array([0.0, 300.0, 300.0, 300.0, 300.0])
    assert frozen_and_drying(frozen, air, wind, sun).tolist() == [2, 0]


def test_impossible_values_are_refused() -> None:
    """Each message names the value and the range."""
    with pytest.raises(RangeError, match="deficit -1 kPa is outside 0 to 15"):
        scorches(DryAir([[-1.0]], 1), [1])
    with pytest.raises(RangeError, match="wind -1"):
        gust_range(-1)
    with pytest.raises(RangeError, match="frozen share 2"):
        frozen_and_drying([2.0], [1.0], [1.0], [1.0])
    with pytest.raises(RangeError, match="the same hours"):
        frozen_and_drying([1.0, 1.0], [1.0], [1.0, 2.0, 3.0], [1.0])
