"""Degree days against published tables, numerical integration and laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.degree_days import Cutoff, Method, degree_days
from mebuki.season.degree_hours import degree_hours, growing_degree_hours
from tests.published_tables import published_columns, published_rows

METHODS = {
    "sng_tri": Method.SINGLE_TRIANGLE,
    "dbl_tri": Method.DOUBLE_TRIANGLE,
    "sng_sine": Method.SINGLE_SINE,
    "dbl_sine": Method.DOUBLE_SINE,
    "simple_average": Method.AVERAGE,
}
MISPRINT = (60.0, 100.0, 75.0)

temperatures = st.floats(-40, 50, allow_nan=False)
pairs = arrays(np.float64, (2, 12), elements=temperatures).map(lambda both: np.sort(both, axis=0))


@pytest.mark.parametrize("column", ["sng_tri", "dbl_tri", "sng_sine", "dbl_sine"])
def test_degree_days_agree_with_zalom_1983_table_7(column: str) -> None:
    """Zalom et al. (1983), table 7, to its two decimals; one misprint is left out."""
    low, high, following, expected = published_columns(
        "zalom1983_table7.csv", "temp_min", "temp_max", "temp_nextmin", column
    )
    if column == "dbl_tri":
        keep = [row != MISPRINT for row in zip(low, high, following, strict=True)]
        assert keep.count(False) == 1
        low, high, following, expected = (each[keep] for each in (low, high, following, expected))
    found = degree_days(low, high, 55, 90, METHODS[column], next_minimum=following)
    np.testing.assert_allclose(found, expected, atol=0.0101)


def test_the_misprint_of_zalom_1983_is_not_followed() -> None:
    """Row 60/100/75 prints 24.88; the triangles give 11.875 + 15.25 = 27.125."""
    low, high, following = MISPRINT
    found = degree_days(low, high, 55, 90, Method.DOUBLE_TRIANGLE, next_minimum=following)
    assert float(found) == pytest.approx(27.125, abs=1e-9)


@pytest.mark.parametrize(
    ("column", "method"),
    [("gdd_method1", Method.AVERAGE), ("gdd_method2", Method.AVERAGE_CLIPPED)],
)
def test_both_averages_agree_with_mcmaster_1997_table_1(column: str, method: Method) -> None:
    """McMaster & Wilhelm (1997), table 1, base 0, exactly as printed."""
    low, high, expected = published_columns("mcmaster1997_table1.csv", "tmin", "tmax", column)
    np.testing.assert_allclose(degree_days(low, high, 0, method=method), expected, atol=1e-12)


@pytest.mark.parametrize("cutoff", list(Cutoff))
@pytest.mark.parametrize("name", ["sng_sine", "dbl_sine", "sng_tri", "dbl_tri", "simple_average"])
def test_degree_days_agree_with_numerical_integration(name: str, cutoff: Cutoff) -> None:
    """Twenty days by five methods and four cut-offs, within 0.001."""
    rows = [row for row in published_rows("degree_day_grid_numeric.csv") if row["method"] == name]
    rows = [row for row in rows if row[cutoff]]
    if name == "simple_average" and cutoff in {Cutoff.VERTICAL, Cutoff.INTERMEDIATE}:
        assert rows == []
        return
    assert len(rows) == 20
    for row in rows:
        low, high, following, lower, upper = (
            float(row[key]) for key in ("tmin", "tmax", "next_tmin", "lower", "upper")
        )
        found = degree_days(low, high, lower, upper, METHODS[name], cutoff, following)
        assert float(found) == pytest.approx(float(row[cutoff]), abs=1e-3), row


def _half_curve(start: Floats, end: Floats, method: Method) -> Floats:
    """Return 4,000 temperatures between two extremes, one row a day."""
    way = (np.arange(4000) + 0.5) / 4000
    shape = (1 - np.cos(np.pi * way)) / 2 if method.endswith("sine") else way
    return start[:, None] + (end - start)[:, None] * shape


def _rate(temperature: Floats, cutoff: Cutoff) -> Floats:
    """Return the growth rate above 5 °C with the upper threshold 25 °C."""
    rising = np.clip(temperature - 5, 0, None)
    above = temperature > 25
    if cutoff is Cutoff.HORIZONTAL:
        return np.where(above, 20.0, rising)
    if cutoff is Cutoff.VERTICAL:
        return np.where(above, 0.0, rising)
    if cutoff is Cutoff.INTERMEDIATE:
        return np.where(above, np.clip(45 - temperature, 0, None), rising)
    return rising


@given(
    pairs,
    st.sampled_from([method for method in Method if not method.startswith("average")]),
    st.sampled_from(Cutoff),
)
def test_any_days_agree_with_the_integral_of_their_curve(
    pair: Floats, method: Method, cutoff: Cutoff
) -> None:
    """The rate integrated over 8,000 moments of the day, within 0.02 °C d."""
    low, high = pair
    following = np.append(low[1:], low[-1]) if method.startswith("double") else low
    halves = [_half_curve(low, high, method), _half_curve(high, following, method)]
    expected = _rate(np.concatenate(halves, axis=1), cutoff).mean(axis=1)
    np.testing.assert_allclose(
        degree_days(pair[0], pair[1], 5, 25, method, cutoff), expected, atol=0.02
    )


def test_the_next_day_gives_the_second_half_and_the_last_day_its_own() -> None:
    """Without next minima the following day's is taken, and on the last day its own."""
    low, high = np.array([2.0, 4, -1]), np.array([12.0, 15, 9])
    given_next = degree_days(low, high, 5, method=Method.DOUBLE_SINE, next_minimum=[4, -1, -1])
    np.testing.assert_array_equal(degree_days(low, high, 5, method=Method.DOUBLE_SINE), given_next)
    # Worked by hand: (2, 12) before a minimum of 4, threshold 5.
    assert float(given_next[0]) == pytest.approx(2.93633, abs=1e-5)


def test_a_flat_day_counts_its_temperature() -> None:
    """Where both extremes are equal the curves are steps: 12 − 5 = 7, and 0 below."""
    for method in Method:
        assert [float(degree_days(t, t, 5, method=method)) for t in (12, 3)] == [7, 0]
        assert degree_days(31, 31, 5, 30, method, Cutoff.HORIZONTAL).tolist() == 25
        assert degree_days(31, 31, 5, 30, method, Cutoff.VERTICAL).tolist() == 0
        assert degree_days(31, 31, 5, 30, method, Cutoff.INTERMEDIATE).tolist() == 24


def test_a_missing_extreme_gives_a_missing_sum() -> None:
    """NaN stays NaN under every method and cut-off."""
    for method in Method:
        for cutoff in Cutoff:
            found = degree_days([2, np.nan], [12, 35], 5, 30, method, cutoff)
            assert math.isnan(float(found[1])), (method, cutoff)


def test_thresholds_and_extremes_in_the_wrong_order_are_refused() -> None:
    """A minimum above its maximum and an upper threshold below the lower end in an error."""
    with pytest.raises(RangeError, match="minimum"):
        degree_days([2, 9], [12, 8], 5)
    with pytest.raises(RangeError, match="upper threshold"):
        degree_days(2, 12, 10, 10)


@given(pairs, st.sampled_from(Method), st.sampled_from(Cutoff), st.floats(-5, 15))
def test_scalar_array_and_batch_agree(
    pair: Floats, method: Method, cutoff: Cutoff, lower: float
) -> None:
    """A day alone, in a series and in a stack of series has the same sum."""
    low, high = pair
    following = np.append(low[1:], low[-1])
    series = degree_days(low, high, lower, 25, method, cutoff)
    stack = degree_days(low.reshape(3, 4), high.reshape(3, 4), lower, 25, method, cutoff)
    alone = [
        float(degree_days(a, b, lower, 25, method, cutoff, n))
        for a, b, n in zip(low, high, following, strict=True)
    ]
    np.testing.assert_allclose(series, alone, rtol=0, atol=1e-12)
    inner = [0, 1, 2, 4, 5, 6, 8, 9, 10]
    np.testing.assert_allclose(stack.ravel()[inner], series[inner], rtol=0, atol=1e-12)


@given(pairs, st.sampled_from(Method), st.sampled_from(Cutoff), st.floats(-5, 15))
def test_running_sums_never_fall(
    pair: Floats, method: Method, cutoff: Cutoff, lower: float
) -> None:
    """No day has negative degree days, so that more days never lower the sum."""
    assert np.all(degree_days(pair[0], pair[1], lower, 25, method, cutoff) >= 0)


@given(pairs, st.sampled_from(Method), st.floats(-5, 15), st.floats(0, 5))
def test_a_warmer_day_never_has_fewer_degree_days(
    pair: Floats, method: Method, lower: float, warming: float
) -> None:
    """Without a cut-off, and with the horizontal one, warming never lowers the sum."""
    low, high = pair
    for upper in (None, 25.0):
        cold = degree_days(low, high, lower, upper, method)
        warm = degree_days(low + warming, high + warming, lower, upper, method)
        assert np.all(warm >= cold - 1e-9)


@given(pairs, st.sampled_from(Method))
def test_cutoffs_keep_their_order(pair: Floats, method: Method) -> None:
    """No cut-off counts most, then horizontal, then intermediate; vertical is below horizontal."""
    full, flat, sloped, stopped = (
        degree_days(pair[0], pair[1], 5, 25, method, cutoff)
        for cutoff in (Cutoff.NONE, Cutoff.HORIZONTAL, Cutoff.INTERMEDIATE, Cutoff.VERTICAL)
    )
    assert np.all(full >= flat - 1e-9)
    assert np.all(flat >= sloped - 1e-9)
    assert np.all(sloped >= stopped - 1e-9)


def test_growing_degree_hours_agree_with_the_published_curve() -> None:
    """Anderson et al. (1986) at seventeen temperatures, within 1e-9."""
    temperature, expected = published_columns("growing_degree_hours.csv", "T", "gdh")
    np.testing.assert_allclose(growing_degree_hours(temperature), expected, atol=1e-9)


def test_growing_degree_hours_sum_as_in_the_invented_winters() -> None:
    """Season sums of two invented winters: 14677.54 and 34273.68, within 0.01."""
    for latitude, total in (("50.4", 14677.54), ("35", 34273.68)):
        (temperature,) = published_columns(f"chill_synth_lat{latitude}_hourly_expected.csv", "Temp")
        assert float(growing_degree_hours(temperature).sum()) == pytest.approx(total, abs=0.01)


def test_the_mean_of_degree_hours_is_the_integral_of_the_day() -> None:
    """A sine day sampled finely has the single sine's degree days, within 0.001."""
    phase = 2 * np.pi * (np.arange(2400) + 0.5) / 2400
    found = degree_hours(7 + 5 * np.sin(phase), 5).mean()
    assert float(found) == pytest.approx(2.72066, abs=1e-3)
