"""Moisture of the air against published tables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.humidity import (
    atmospheric_pressure,
    dew_point,
    psychrometric_constant,
    saturation_slope,
    saturation_vapour_pressure,
    vapour_pressure,
    vapour_pressure_deficit,
    wet_bulb,
)
from tests.published_tables import published_columns


def test_saturation_and_slope_match_the_published_table() -> None:
    """FAO-56 annex 2 form (eq. 11 and 13), to the digits printed."""
    degrees, pressure, slope = published_columns(
        "es_slope_check.csv", "T_C", "es_FAO_eq11_kPa", "slope_eq13_kPa_per_C"
    )
    np.testing.assert_allclose(saturation_vapour_pressure(degrees), pressure, atol=6e-5)
    np.testing.assert_allclose(saturation_slope(degrees), slope, atol=6e-5)


def test_saturation_agrees_with_an_independent_formula_above_freezing() -> None:
    """Against psychrolib 2.5.0 (ASHRAE), within 0.15 % from 0 to 45 °C."""
    degrees, other = published_columns("es_slope_check.csv", "T_C", "es_psychrolib_kPa")
    warm = degrees >= 0
    np.testing.assert_allclose(saturation_vapour_pressure(degrees[warm]), other[warm], rtol=1.5e-3)


def test_wet_bulb_agrees_with_thermodynamic_programs() -> None:
    """MetPy 1.7.1: within 0.1 K up to 20 °C, and 0.15 K of psychrolib 2.5.0 in dry heat."""
    degrees, humidity, ashrae, metpy = published_columns(
        "psychro_check.csv", "T_C", "RH_pct", "Tw_psychrolib_101325Pa", "Tw_metpy_1013.25hPa"
    )
    found = wet_bulb(degrees, vapour_pressure(degrees, humidity))
    cool = degrees < 20
    np.testing.assert_allclose(found[cool], metpy[cool], atol=0.1)
    np.testing.assert_allclose(found[~cool], ashrae[~cool], atol=0.15)


def test_dew_point_and_deficit_match_the_table() -> None:
    """The inverse of FAO-56 eq. 11, and es − ea, to the digits printed."""
    degrees, humidity, dew, deficit = published_columns(
        "psychro_check.csv", "T_C", "RH_pct", "Td_from_FAO_es_inverse", "VPD_kPa_air"
    )
    actual = vapour_pressure(degrees, humidity)
    np.testing.assert_allclose(dew_point(actual), dew, atol=2e-3)
    np.testing.assert_allclose(vapour_pressure_deficit(degrees, actual), deficit, atol=6e-5)


@pytest.mark.parametrize(("metres", "kilopascals"), [(1800, 81.8), (1200, 87.9)])
def test_air_pressure_by_elevation(metres: float, kilopascals: float) -> None:
    """FAO-56 examples 2 and 4, within 0.05 kPa."""
    assert atmospheric_pressure(metres) == pytest.approx(kilopascals, abs=0.05)


def test_the_psychrometer_equation_gives_the_published_vapour_pressure() -> None:
    """FAO-56 example 4: 25.6 °C dry, 19.5 °C wet at 87.9 kPa is 1.91 kPa; solved backwards."""
    assert wet_bulb(25.6, 1.91, 87.9) == pytest.approx(19.5, abs=0.06)
    assert psychrometric_constant(81.8) == pytest.approx(0.054, abs=6e-4)


@given(st.floats(-30, 45), st.floats(1, 100))
def test_wet_bulb_lies_between_dew_point_and_air(degrees: float, humidity: float) -> None:
    """No air has a wet bulb above its own temperature or below its dew point."""
    actual = vapour_pressure(degrees, humidity)
    wet = float(wet_bulb(degrees, actual))
    assert dew_point(actual) - 1e-3 <= wet <= degrees + 1e-9


def test_impossible_humidity_is_refused_and_unknown_passes_through() -> None:
    """A humidity over 100 % names itself; NaN stays NaN."""
    with pytest.raises(RangeError, match=r"relative humidity 104 % is outside 0 to 100"):
        vapour_pressure(20, [50, 104])
    assert np.isnan(wet_bulb(np.nan, 1.0))
    assert np.isnan(dew_point(0.0))
