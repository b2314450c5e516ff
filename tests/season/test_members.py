"""The ensemble of a season: what was measured, what is forecast, what past years did."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.weather import DailySeries, Origin, calendar_slot
from mebuki.season.members import FeltHere, Members, season_members, span_members
from mebuki.season.seasons import season_days
from tests.builders import a_place
from tests.season.clock_tables import climate_of, daily_series

ON = date(2013, 3, 1)
START = date(2012, 10, 1).toordinal()
SLOTS = np.arange(366.0)
CLIMATE = climate_of((SLOTS, SLOTS + 10.0), (SLOTS + 1000.0, SLOTS + 1010.0))
NO_CLIMATE = climate_of()


def measured(forecast_days: int = 16) -> DailySeries:
    """Return days to 1 March 2013 at −5 to 5 °C and a forecast of −6 to 6 °C."""
    count = ON.toordinal() - START + 1 + forecast_days
    low = np.full(count, -5.0)
    low[count - forecast_days :] = -6.0
    return daily_series(START, low, -low, forecast_days)


def on_day(members: Members, day: date) -> list[float]:
    """Return the minimum of each member on a day."""
    found: list[float] = members.minimum[:, day.toordinal() - members.start].tolist()
    return found


def test_past_days_are_the_same_in_every_member() -> None:
    """Measured days stand as they were measured, whatever the past years did."""
    members = season_members(measured(), CLIMATE, 2013, False, ON)
    assert members.start == date(2012, 11, 1).toordinal()
    assert members.minimum.shape == (2, 365)
    assert on_day(members, date(2012, 11, 1)) == [-5.0, -5.0]
    assert on_day(members, ON) == [-5.0, -5.0]


def test_a_forecast_stands_for_seven_days_and_has_faded_at_fifteen() -> None:
    """Day 7 is all forecast, day 11 half and half, day 15 all climate."""
    members = season_members(measured(), CLIMATE, 2013, False, ON)
    slot = calendar_slot(ON)
    assert on_day(members, ON + timedelta(days=7)) == [-6.0, -6.0]
    half = [(-6.0 + slot + 11) / 2, (-6.0 + slot + 1011) / 2]
    assert on_day(members, ON + timedelta(days=11)) == pytest.approx(half)
    assert on_day(members, ON + timedelta(days=15)) == [slot + 15, slot + 1015]


def test_days_beyond_the_forecast_come_from_their_calendar_slot() -> None:
    """1 October takes slot 274 of each past year, in a leap year and in a common one."""
    for season in (2013, 2016):
        members = season_members(measured(), CLIMATE, season, False, ON)
        assert on_day(members, date(season, 10, 1)) == [274.0, 1274.0]


def test_the_next_season_is_made_of_past_years_alone() -> None:
    """Before a season has begun nothing of it is known."""
    members = season_members(measured(), CLIMATE, 2014, False, ON)
    assert members.known_until == members.start - 1
    assert on_day(members, date(2013, 11, 1)) == [305.0, 1305.0]
    assert members.remark == ""


def test_without_past_years_only_known_days_are_told() -> None:
    """One member; days after the forecast are missing, not guessed."""
    members = season_members(measured(), NO_CLIMATE, 2013, False, ON)
    assert members.minimum.shape == (1, 365)
    assert on_day(members, ON + timedelta(days=16)) == [-6.0]
    assert np.isnan(on_day(members, ON + timedelta(days=17))).all()
    assert members.known_until == ON.toordinal() + 16


@pytest.mark.parametrize(("missing", "filled"), [(1, True), (3, True), (4, False)])
def test_gaps_up_to_three_days_are_interpolated_and_said(missing: int, filled: bool) -> None:
    """Longer gaps stay missing and the remark says that dates are not predicted."""
    daily = measured()
    first = date(2012, 12, 10).toordinal() - START
    daily.minimum[first : first + missing] = np.nan
    daily.minimum[first + missing :] = -1.0
    members = season_members(daily, CLIMATE, 2013, False, ON)
    at = date(2012, 12, 10).toordinal() - members.start
    gap = members.minimum[0, at : at + missing]
    if filled:
        assert gap == pytest.approx(-5 + 4 * np.arange(1, missing + 1) / (missing + 1))
        assert "2012-12-10" in members.remark
        assert "was interpolated" in members.remark
    else:
        assert np.isnan(gap).all()
        assert "2012-12-10 to 2012-12-13 is missing" in members.remark
        assert "not predicted" in members.remark


def test_a_day_marked_missing_is_not_believed() -> None:
    """A number whose origin is missing counts as a gap."""
    daily = measured()
    at = date(2012, 12, 10).toordinal() - START
    origin = daily.origin.copy()
    origin[at] = Origin.MISSING
    daily.minimum[at] = 40.0
    members = season_members(replace(daily, origin=origin), CLIMATE, 2013, False, ON)
    assert on_day(members, date(2012, 12, 10)) == [-5.0, -5.0]
    assert "2012-12-10" in members.remark


def test_a_missing_forecast_day_is_taken_from_the_climate() -> None:
    """A hole in the forecast does not end the season."""
    daily = measured()
    daily.minimum[-14] = np.nan
    members = season_members(daily, CLIMATE, 2013, False, ON)
    slot = calendar_slot(ON)
    assert on_day(members, ON + timedelta(days=3)) == [slot + 3, slot + 1003]


def test_a_record_that_begins_late_is_said_to_lack_its_chill() -> None:
    """Days before the first record are a gap of their own."""
    daily = measured()
    cut = date(2013, 1, 1).toordinal() - START
    late = daily_series(START + cut, daily.minimum[cut:], daily.maximum[cut:], 16)
    members = season_members(late, CLIMATE, 2013, False, ON)
    assert "2012-11-01 to 2012-12-31 is missing" in members.remark


def test_a_hole_in_one_past_year_is_filled_from_the_others() -> None:
    """A missing slot takes the mean of the other years on that day."""
    low = np.array([SLOTS, SLOTS + 4.0, SLOTS + 100.0])
    low[2, 200] = np.nan
    climate = climate_of(*((row, row + 1.0) for row in low))
    members = season_members(measured(), climate, 2013, False, ON)
    day = date(2013, 1, 1) + timedelta(days=199)
    assert on_day(members, day) == [200.0, 204.0, 202.0]


def test_a_place_changes_the_air_that_is_felt() -> None:
    """An offset is added, then a held minimum is kept; the site's mean follows."""
    members = season_members(measured(), CLIMATE, 2013, False, ON, offset=1.5, minimum_held=2.0)
    assert on_day(members, ON) == [2.0, 2.0]
    assert members.mean[0, ON.toordinal() - members.start] == pytest.approx((2.0 + 6.5) / 2)
    span = range(ON.toordinal(), ON.toordinal() + 1)
    plain = span_members(measured(), CLIMATE, span, ON, FeltHere(-1.0))
    assert plain.minimum.tolist() == [[-6.0], [-6.0]]


def test_a_cold_frame_narrows_the_day_and_keeps_its_mean() -> None:
    """A lag of 24 h / 2π leaves 1/√2 of the day's range round the same mean."""
    felt = FeltHere.at(a_place(temperature_offset=0, lag_hours=24 / (2 * np.pi)))
    low, high = felt.of(np.array([-4.0]), np.array([6.0]))
    assert low + high == pytest.approx([2.0])
    assert high - low == pytest.approx([10.0 / np.sqrt(2.0)])
    assert FeltHere.at(a_place()) == FeltHere()


def test_a_southern_season_runs_from_may() -> None:
    """Southern members begin on 1 May and cover the year from there."""
    members = season_members(measured(), CLIMATE, 2013, True, ON)
    assert members.start == date(2013, 5, 1).toordinal()
    assert members.minimum.shape[1] == len(season_days(2013, True))
