"""Chill on four scales against published figures and laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.chill import (
    chill_days,
    chill_portions,
    chilling_hours,
    continue_portions,
    utah_rate,
    utah_units,
)
from tests.published_tables import published_columns, published_rows

CONSTANT = published_rows("chill_constant_2000h.csv")

winters = arrays(np.float64, st.tuples(st.integers(1, 4), st.integers(1, 130)),
                 elements=st.floats(-25, 35))  # fmt: skip


@pytest.mark.parametrize("row", CONSTANT, ids=lambda row: f"{row['T']} °C")
def test_two_thousand_hours_of_one_temperature_agree(row: dict[str, str]) -> None:
    """The three hourly scales at 22 temperatures; portions within 0.0001."""
    hours = np.full(2000, float(row["T"]))
    assert float(chilling_hours(hours)[-1]) == float(row["CH"])
    assert float(utah_units(hours)[-1]) == float(row["Utah"])
    expected = float(row["CP_chilling_fn"])
    assert float(chill_portions(hours)[-1]) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("latitude", "hours", "units", "portions"),
    [("50.4", 2313, 2182.5, 141.6459), ("35", 1880, 1789.5, 120.8415)],
)
def test_invented_winters_agree_hour_by_hour_and_at_the_end(
    latitude: str, hours: float, units: float, portions: float
) -> None:
    """5,832 hourly running totals; the first two exactly, portions within 1e-5."""
    temperature, *expected = published_columns(
        f"chill_synth_lat{latitude}_hourly_expected.csv",
        "Temp", "CH_cum", "Utah_cum", "CP_cum_chilling",
    )  # fmt: skip
    np.testing.assert_array_equal(chilling_hours(temperature), expected[0])
    np.testing.assert_array_equal(utah_units(temperature), expected[1])
    found = chill_portions(temperature)
    np.testing.assert_allclose(found, expected[2], atol=1e-5)
    assert (expected[0][-1], expected[1][-1]) == (hours, units)
    assert float(found[-1]) == pytest.approx(portions, abs=1e-4)


def test_limits_belong_to_the_right_class() -> None:
    """Richardson et al. (1974): upper limits belong to the class, lower ones do not."""
    temperature, utah, chilling = published_columns("utah_boundaries.csv", "T", "utah", "ch")
    np.testing.assert_array_equal(utah_rate(temperature), utah)
    np.testing.assert_array_equal(np.diff(chilling_hours(temperature), prepend=0), chilling)
    assert chilling_hours([-0.01, 0, 7.2, 7.21]).tolist() == [0, 1, 2, 2]


def test_chill_days_count_the_limit_itself() -> None:
    """A day of 5 °C counts, one of 5.1 °C does not, an unknown one neither."""
    assert chill_days([5.0, 5.1, float("nan"), -3]).tolist() == [1, 1, 1, 2]
    assert chill_days(np.array([[6.0], [8]]), limit=7).tolist() == [[1], [0]]


@given(winters)
def test_hourly_utah_units_lie_within_one(temperature: Floats) -> None:
    """No hour counts more than 1 or less than −1."""
    assert np.all(np.abs(utah_rate(temperature)) <= 1)


@given(winters)
def test_days_hours_and_portions_never_fall(temperature: Floats) -> None:
    """More input never lowers these three totals."""
    for scale in (chill_days, chilling_hours, chill_portions):
        assert np.all(np.diff(scale(temperature), axis=-1, prepend=0) >= 0)


@given(winters)
def test_series_in_one_call_and_alone_agree(temperature: Floats) -> None:
    """A batch equals its series one by one."""
    for scale in (chill_days, chilling_hours, utah_units, chill_portions):
        batch = scale(temperature)
        assert batch.shape == temperature.shape
        for row, alone in zip(batch, temperature, strict=True):
            np.testing.assert_allclose(row, scale(alone), rtol=0, atol=1e-12)


def _plain_portions(temperature: list[float]) -> float:
    """Return the portions by the published equations, hour by hour in plain numbers."""
    product = share = portions = 0.0
    for index, celsius in enumerate(temperature):
        kelvin = celsius + 273.0
        strength = np.exp(1.6 * 277.0 * (kelvin - 277.0) / kelvin)
        stationary = 139500.0 / 2.567e18 * np.exp((12888.8 - 4153.5) / kelvin)
        rate = 2.567e18 * np.exp(-12888.8 / kelvin)
        start = product if product < 1 else product * (1 - share)
        product = stationary - (stationary - start) * np.exp(-rate) if index else 0.0
        share = strength / (1 + strength)
        portions += product * share if product >= 1 else 0.0
    return float(portions)


@given(arrays(np.float64, st.integers(1, 400), elements=st.floats(0, 12)))
def test_portions_follow_the_published_equations(temperature: Floats) -> None:
    """The blockwise form equals the equations of Fishman et al. (1987), within 1e-9."""
    expected = _plain_portions(temperature.tolist())
    assert float(chill_portions(temperature)[-1]) == pytest.approx(expected, abs=1e-9)


@given(
    arrays(np.float64, (2, 200), elements=st.floats(-2, 14)),
    st.lists(st.integers(0, 200), max_size=4).map(sorted),
)
def test_a_season_cut_into_stretches_has_the_same_portions(
    temperature: Floats, cuts: list[int]
) -> None:
    """The state carries everything: stretches of any length, empty ones too."""
    state, totals = None, []
    for stretch in np.split(temperature, cuts, axis=1):
        portions, state = continue_portions(stretch, state)
        totals.append(portions)
    np.testing.assert_allclose(
        np.concatenate(totals, axis=1), chill_portions(temperature), rtol=0, atol=1e-12
    )


@given(
    arrays(np.float64, 150, elements=st.floats(0, 12)),
    arrays(np.bool_, 150),
)
def test_a_missing_hour_counts_as_no_hour(temperature: Floats, missing: NDArray[np.bool_]) -> None:
    """NaN gives the total that the series has without those hours."""
    holed = np.where(missing, np.nan, temperature)
    for scale in (chill_days, chilling_hours, utah_units, chill_portions):
        totals = np.append(0.0, scale(temperature[~missing]))
        found = float(scale(holed)[-1])
        assert found == pytest.approx(float(totals[-1]), abs=1e-12)


def test_temperatures_no_air_has_are_refused() -> None:
    """Kelvin and a bare number end in an error."""
    with pytest.raises(RangeError, match="278"):
        chill_portions([278.0, 279.0])
    with pytest.raises(RangeError, match="series"):
        chill_portions(5.0)


def test_nothing_in_gives_nothing_out() -> None:
    """An empty series has empty totals."""
    assert chill_portions([]).shape == (0,)
    assert chill_portions(np.empty((3, 0))).shape == (3, 0)
