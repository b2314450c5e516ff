"""Local days of 23, 24 and 25 hours, and the climate made of them."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from mebuki.domain.weather import DailySeries, Origin, calendar_slot
from mebuki.weather.day_curve import hours_from_days
from mebuki.weather.local_days import (
    climate_from_days,
    daily_from_hourly,
    from_day,
    lay_over,
    local_midnights,
    missing_days,
)
from mebuki.weather.plausibility import check
from mebuki.weather.series_file import read_daily, read_hourly
from tests.weather.series import JFK, NEW_YORK_DAYS, an_hour, hours_of

NEW_YORK = ZoneInfo("America/New_York")


def days_of(minimum: list[float], start: int, origin: Origin = Origin.MEASURED) -> DailySeries:
    """Return days of a given minimum, the maximum 8 K above."""
    low = np.array(minimum, dtype=np.float64)
    codes = np.where(np.isfinite(low), origin, Origin.MISSING).astype(np.int8)
    return DailySeries(start, low, low + 8, np.zeros(len(low)), np.ones(len(low)), codes)


def test_the_days_of_new_york_have_23_and_25_hours_when_clocks_change() -> None:
    """Daylight saving time of 2013 began on 10 March and ended on 3 November."""
    first = date(2013, 1, 1).toordinal()
    lengths = np.diff(local_midnights(first, first + 365, NEW_YORK))
    odd = {date.fromordinal(first + int(i)): int(lengths[i]) for i in np.flatnonzero(lengths != 24)}
    assert odd == {date(2013, 3, 10): 23, date(2013, 11, 3): 25}


@pytest.mark.parametrize(
    ("zone", "day", "length"),
    [
        ("Pacific/Apia", date(2011, 12, 30), 0),
        ("America/Sao_Paulo", date(2018, 11, 4), 23),
        ("Asia/Kolkata", date(2020, 5, 1), 24),
        ("Europe/Berlin", date(2020, 10, 25), 25),
    ],
)
def test_odd_days_of_other_zones_are_right(zone: str, day: date, length: int) -> None:
    """Samoa skipped a day, Brazil sprang at midnight, India is half an hour off."""
    first = day.toordinal()
    assert int(np.diff(local_midnights(first, first + 1, ZoneInfo(zone)))[0]) == length


def test_a_value_at_local_midnight_belongs_to_the_day_that_begins() -> None:
    """Temperature counts from midnight on, rain until the next midnight included."""
    start = an_hour(2013, 3, 10, 5)
    air = np.full(47, 10.0)
    air[0], air[23] = 1.0, 2.0
    rain = np.zeros(47)
    rain[0], rain[23] = 5.0, 7.0
    days = daily_from_hourly(hours_of(air, start, precipitation=rain), NEW_YORK)
    assert days.start == date(2013, 3, 10).toordinal()
    assert days.minimum.tolist() == [1.0, 2.0]
    assert days.precipitation.tolist() == [7.0, 0.0]


def test_a_day_with_fewer_than_twenty_hours_has_no_extremes() -> None:
    """Nineteen hours may have missed the night; twenty are taken."""
    air = np.full(48, 5.0)
    air[:5] = np.nan
    air[24:28] = np.nan
    days = daily_from_hourly(hours_of(air, 0), ZoneInfo("UTC"))
    assert np.isnan(days.minimum).tolist() == [True, False]
    assert days.origin.tolist() == [Origin.MISSING, Origin.MEASURED]
    assert missing_days(days) == (
        "Days with fewer than 20 hours have no minimum or maximum: 1970-01-01.",
    )


def test_the_days_made_from_hours_agree_with_noaas_own_daily_summaries() -> None:
    """JFK hours against NOAA's New York days of 2013: maxima 0.44 °C lower, minima 0.3 °C higher.

    Readings at the full hour miss the peaks; a shift of the day by hours would give a
    spread of the maxima well above 1 °C.
    """
    checked, _ = check(read_hourly(JFK).series)
    days = daily_from_hourly(checked, NEW_YORK)
    record = read_daily(NEW_YORK_DAYS, "New York").series
    own = slice(days.start - record.start, days.end - record.start)
    peaks = days.maximum - record.maximum[own]
    lows = days.minimum - record.minimum[own]
    assert np.nanmean(peaks) == pytest.approx(-0.44, abs=0.1)
    assert np.nanstd(peaks) < 0.6
    assert np.nanmean(lows) == pytest.approx(0.37, abs=0.15)
    rain = days.precipitation - record.precipitation[own]
    assert abs(np.nanmean(rain)) < 0.15


def test_nothing_comes_of_no_hours() -> None:
    """An empty series has no days."""
    assert len(daily_from_hourly(hours_of(np.empty(0)), NEW_YORK).origin) == 0


def test_a_day_that_is_partly_forecast_is_a_forecast() -> None:
    """The least certain hour names the day."""
    series = hours_of(np.full(48, 5.0))
    series.origin[30:] = Origin.FORECAST
    days = daily_from_hourly(series, ZoneInfo("UTC"))
    assert days.origin.tolist() == [Origin.MEASURED, Origin.FORECAST]


def test_past_days_without_hours_come_from_the_daily_record() -> None:
    """Before the hours and in their holes the record stands; from today on it is shut."""
    base = days_of([1, 2, 3, 4, 5, 6], start=100)
    days = days_of([30, float("nan"), 50, 60], start=102)
    laid = lay_over(days, base, today=104)
    assert laid.start == 100
    assert laid.minimum.tolist() == [1, 2, 30, 4, 50, 60]


def test_a_record_that_begins_after_today_is_not_looked_at() -> None:
    """The future of the record never shows."""
    days = days_of([30, 40], start=102)
    laid = lay_over(days, days_of([1, 2, 3], start=102), today=102)
    assert laid.minimum.tolist() == [30, 40]


def test_days_are_cut_at_the_front_and_where_nothing_follows() -> None:
    """Days without temperature at the end are no forecast."""
    cut = from_day(days_of([1, 2, 3, float("nan")], start=10), 11)
    assert (cut.start, cut.minimum.tolist()) == (11, [2, 3])


def test_the_climate_leaves_out_the_year_of_the_hours() -> None:
    """Of 2012 to 2015 without 2013 three years are left, by calendar day."""
    record = read_daily(NEW_YORK_DAYS, "New York").series
    climate = climate_from_days(record, leave_out={2013})
    assert climate.years == (2012, 2014, 2015)
    assert climate.minimum.shape == (3, 366)
    assert climate.minimum[1, calendar_slot(date(2014, 1, 4))] == -16.0
    at = date(2014, 12, 31).toordinal() - record.start
    assert climate.minimum[1, 365] == record.minimum[at]


def test_the_leap_day_of_other_years_is_the_mean_of_its_neighbours() -> None:
    """28 February and 1 March 2014 give 29 February."""
    record = read_daily(NEW_YORK_DAYS, "New York").series
    climate = climate_from_days(record, leave_out={2013})
    at = date(2014, 2, 28).toordinal() - record.start
    assert climate.minimum[1, 59] == pytest.approx(record.minimum[at : at + 2].mean())


def test_only_complete_years_make_a_climate() -> None:
    """A year with a month missing, or cut off, does not count."""
    start = date(2019, 6, 1).toordinal()
    low = [5.0] * (date(2022, 3, 1).toordinal() - start)
    for day in range(400, 431):
        low[day] = float("nan")
    assert climate_from_days(days_of(low, start)).years == (2021,)
    assert climate_from_days(days_of([1.0], start)).minimum.shape == (0, 366)


def test_hours_drawn_from_days_keep_their_extremes_and_their_rain() -> None:
    """Gathered into days again, the record's extremes, rain and wind come out.

    A front can put the night before or after beyond the day's own extremes, never short of them.
    """
    record = read_daily(NEW_YORK_DAYS, "New York").series
    week = from_day(record, record.end - 400)
    again = daily_from_hourly(hours_from_days(week, NEW_YORK, Origin.MEASURED), NEW_YORK)
    inner = slice(1, -1)
    above = (again.maximum - week.maximum)[inner]
    below = (week.minimum - again.minimum)[inner]
    for beyond in (above, below):
        assert beyond.min() > -1e-9
        assert (beyond < 1e-9).mean() > 0.9
    ordinary = np.diff(local_midnights(week.start, week.end, NEW_YORK)) == 24
    ordinary[[0, -1]] = False
    assert again.precipitation[ordinary] == pytest.approx(week.precipitation[ordinary], abs=1e-6)
    assert again.wind_speed[inner] == pytest.approx(week.wind_speed[inner])
