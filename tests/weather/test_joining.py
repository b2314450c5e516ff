"""Joining: no step between models, measured over forecast, an old hour never changed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import DailySeries, Floats, HourlySeries, Origin
from mebuki.weather.answers import at_height, near
from mebuki.weather.cells import Cell, cell_of, plain
from mebuki.weather.joining import (
    FEWEST_HOURS,
    daily_offsets,
    disagreement,
    forecast_after,
    lay_over,
    measured_until,
    missing_stretches,
    nothing,
    offset,
    on_axis,
    shifted,
)
from mebuki.weather.record import no_hours
from tests.weather.series import NEW_YORK, calm_hours, hours_of

NAN = float("nan")


def as_forecast(series: HourlySeries) -> HourlySeries:
    """Return hours marked as forecast."""
    return replace(series, origin=np.full(len(series.origin), Origin.FORECAST, dtype=np.int8))


def test_an_offset_is_fitted_on_common_hours() -> None:
    """Sixty days in common and a model 1.3 °C colder: it is moved up by 1.3 °C."""
    hours = FEWEST_HOURS + 500
    base = hours_of(calm_hours(hours), 1000)
    other = hours_of(calm_hours(hours) - 1.3, 1000)
    assert offset(base, other) == pytest.approx(1.3)
    joined = shifted(other, 1.3)
    assert joined.air_temperature == pytest.approx(base.air_temperature)


@pytest.mark.parametrize("hours", [0, 100, FEWEST_HOURS - 1])
def test_too_few_common_hours_give_no_offset(hours: int) -> None:
    """A warm week must not move a season."""
    base = hours_of(calm_hours(3000), 0)
    other = hours_of(calm_hours(3000), 3000 - hours)
    assert offset(base, other) is None


def test_an_absurd_offset_is_not_believed() -> None:
    """Two series 10 °C apart are not of one place."""
    base = hours_of(calm_hours(3000), 0)
    assert offset(base, hours_of(calm_hours(3000) + 10, 0)) is None


def test_a_forecast_never_replaces_a_measured_hour() -> None:
    """But a measured hour replaces a forecast, and a forecast fills a hole."""
    measured = hours_of(np.array([1.0, NAN, 3.0]), 10)
    ahead = as_forecast(hours_of(np.array([7.0, 7.0, 7.0, 7.0]), 10))
    joined = lay_over(measured, ahead, keep_before=0)
    assert joined.air_temperature.tolist() == [1.0, 7.0, 3.0, 7.0]
    assert joined.origin.tolist() == [1, 2, 1, 2]
    back = lay_over(ahead, measured, keep_before=0)
    assert back.air_temperature.tolist() == [1.0, 7.0, 3.0, 7.0]


@given(
    old=st.lists(st.floats(-20, 30) | st.just(NAN), max_size=60),
    new=st.lists(st.floats(-20, 30) | st.just(NAN), max_size=60),
    at=st.tuples(st.integers(0, 40), st.integers(0, 40)),
    frozen=st.integers(0, 100),
)
def test_a_frozen_hour_keeps_its_value(
    old: list[float], new: list[float], at: tuple[int, int], frozen: int
) -> None:
    """Whatever comes later: measured hours before the limit stay, others follow the newest."""
    base, above = hours_of(np.array(old, float), at[0]), hours_of(np.array(new, float), at[1])
    joined = lay_over(base, above, frozen)
    for hour in range(110):
        before, then = (one_at(one, hour) for one in (base, above))
        expected = before if np.isfinite(before) and (hour < frozen or np.isnan(then)) else then
        got = one_at(joined, hour)
        assert got == expected or (np.isnan(got) and np.isnan(expected))


def one_at(series: HourlySeries, hour: int) -> float:
    """Return the air temperature of an hour, NaN off the axis."""
    return float(on_axis(series, hour, hour + 1).air_temperature[0])


def test_each_hour_knows_its_source() -> None:
    """Three pieces, three runs, holes left out."""
    hours = no_hours(0).laid_over(hours_of(calm_hours(10), 0), "first", 0)
    hours = hours.laid_over(hours_of(calm_hours(10), 6), "second", 8)
    hours = hours.laid_under(hours_of(calm_hours(8), -5), "third")
    assert hours.runs() == [("third", -5, 0), ("first", 0, 8), ("second", 8, 16)]


def test_an_answer_is_cut_at_now() -> None:
    """Up to now it is measured, after that forecast; together nothing is lost."""
    series = as_forecast(hours_of(calm_hours(10), 100))
    past, ahead = measured_until(series, 104), forecast_after(series, 104)
    assert (past.end, ahead.start, ahead.end) == (105, 105, 110)
    assert set(past.origin.tolist()) == {Origin.MEASURED}
    assert set(ahead.origin.tolist()) == {Origin.FORECAST}


def test_missing_stretches_are_found_at_both_ends() -> None:
    """Before, within and after; short ones are left to bridging."""
    air = calm_hours(20)
    air[[4, 10, 11, 12]] = NAN
    found = missing_stretches(hours_of(air, 100), 90, 130, least=3)
    assert found == [(90, 100), (110, 113), (120, 130)]
    assert missing_stretches(nothing(5), 0, 4, least=1) == [(0, 4)]


def days_of(low: Floats, start: int = 1000) -> DailySeries:
    """Return days with a minimum and a maximum eight degrees higher."""
    none = np.full(len(low), NAN)
    return DailySeries(start, low, low + 8, none, none, np.ones(len(low), dtype=np.int8))


def test_past_years_are_fitted_by_night_and_by_day() -> None:
    """Minima and maxima have offsets of their own."""
    recent = days_of(np.linspace(0, 10, 100))
    past = replace(recent, minimum=recent.minimum + 2, maximum=recent.maximum - 1)
    assert daily_offsets(recent, past) == pytest.approx((-2.0, 1.0))
    assert daily_offsets(recent, days_of(np.zeros(50), 1000)) is None


def test_two_forecasts_are_compared_by_their_typical_difference() -> None:
    """Root mean square; too few hours in common compare nothing."""
    one, other = hours_of(calm_hours(50)), hours_of(calm_hours(50) + 2)
    assert disagreement(one, other, 0, 50) == pytest.approx(2.0)
    assert disagreement(one, other, 45, 90) is None


def test_height_changes_temperature_by_the_standard_lapse() -> None:
    """From 500 m to 100 m it is 2.6 °C warmer; an unknown height changes nothing."""
    series = hours_of(calm_hours(5))
    lower = at_height(series, 500, 100)
    assert lower.air_temperature == pytest.approx(series.air_temperature + 2.6)
    assert at_height(series, NAN, 100) is series


@pytest.mark.parametrize(
    ("asked", "got", "within"),
    [
        ((52.5, 13.4), (52.52, 13.42), True),
        ((0.0, 179.9), (0.0, -179.9), True),
        ((70.0, 20.0), (70.0, 21.4), True),
        ((0.0, 20.0), (0.0, 21.4), False),
        ((52.5, 13.4), (13.4, 52.5), False),
        ((52.5, 13.4), (NAN, 13.4), False),
    ],
)
def test_a_snapped_place_must_be_near(
    asked: tuple[float, float], got: tuple[float, float], within: bool
) -> None:
    """Half a degree, counted by the length of a degree there and round the date line."""
    assert near(asked, got, 0.5) is within


@given(st.floats(-90, 90), st.floats(-180, 180), st.sampled_from([0.01, 0.05, 0.1, 0.25]))
def test_a_cell_is_near_short_and_the_same_for_its_own_middle(
    latitude: float, longitude: float, degrees: float
) -> None:
    """At most half a cell off, four decimals at most, and stable."""
    site = NEW_YORK.model_copy(update={"latitude": latitude, "longitude": longitude})
    cell = cell_of(site, degrees)
    assert near((latitude, longitude), (cell.latitude, cell.longitude), degrees / 2 + 1e-4)
    for value in (cell.latitude, cell.longitude):
        assert len(plain(value).partition(".")[2]) <= 4
    middle = site.model_copy(update={"latitude": cell.latitude, "longitude": cell.longitude})
    assert cell_of(middle, degrees) == Cell(cell.latitude, cell.longitude, cell.elevation)
