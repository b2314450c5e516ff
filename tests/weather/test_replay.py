"""The replayed year: what was known when, and what a forecast would have said."""

from __future__ import annotations

import time
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from mebuki.domain.weather import (
    COLUMNS,
    Floats,
    Freshness,
    HourlySeries,
    Origin,
    WeatherPicture,
    hour_number,
)
from mebuki.errors import InputError, TableError
from mebuki.rounds.ports import WeatherSource
from mebuki.weather.plausibility import check
from mebuki.weather.replay import ReplaySource
from mebuki.weather.replayed_forecast import error_spread
from mebuki.weather.series_file import read_hourly
from tests.weather.series import JFK, NEW_YORK, NEW_YORK_DAYS, an_hour, calm_hours, utc

ROUND_HOUR = 10
YEAR = [utc(2013, 1, 1, ROUND_HOUR) + timedelta(days=day) for day in range(365)]


@cache
def the_year() -> ReplaySource:
    """Return the demo's source, read once."""
    return ReplaySource(JFK, NEW_YORK_DAYS, "New York", seed=7)


@cache
def picture(at: datetime) -> WeatherPicture:
    """Return what the demo's source knew at a moment."""
    return the_year().look(NEW_YORK, at)


@cache
def truth() -> HourlySeries:
    """Return the measured hours without the false ones."""
    return check(read_hourly(JFK).series)[0]


def errors_at(lead: int) -> Floats:
    """Return the temperature errors at a lead over the rounds of the year."""
    found = []
    for at in YEAR:
        hour = hour_number(at) - hour_number(at) % 6 + lead
        seen = picture(at).hourly
        if hour < truth().end:
            real = truth().air_temperature[hour - truth().start]
            found.append(seen.air_temperature[hour - seen.start] - real)
    errors = np.array(found)
    return np.asarray(errors[np.isfinite(errors)])


def written(folder: Path, temperature: Floats, first: str) -> Path:
    """Write an hourly file of temperatures and return its path."""
    times = np.arange(first, len(temperature), dtype="datetime64[h]")
    pairs = zip(times, temperature, strict=True)
    rows = "".join(f"{moment}:00Z,{value}\n" for moment, value in pairs)
    path = folder / "own.csv"
    path.write_text("time_utc,temp_c\n" + rows, encoding="utf-8")
    return path


def test_the_replay_is_a_weather_source() -> None:
    """It fits the port of the rounds."""
    source: WeatherSource = the_year()
    assert source.look(NEW_YORK, YEAR[100]).site is NEW_YORK


def test_every_day_of_the_year_can_be_looked_at() -> None:
    """365 days: measured to now, 16 days ahead, no hole in the days, three past years."""
    for at in YEAR:
        seen = picture(at)
        today = at.date().toordinal()
        assert seen.daily.start == date(2012, 1, 1).toordinal()
        assert seen.daily.end >= today + 16
        assert np.isfinite(seen.daily.minimum).all()
        assert seen.forecast_until == at + timedelta(days=16)
        assert seen.climate.years == (2012, 2014, 2015)
        assert seen.measured_until is not None
        assert seen.measured_until <= at


def test_measured_is_what_was_measured_and_the_rest_is_forecast() -> None:
    """Up to now the hours are those of the file, after it none is."""
    at = YEAR[120]
    seen = picture(at).hourly
    past = seen.between(seen.start, hour_number(at) + 1)
    ahead = seen.between(hour_number(at) + 1, seen.end)
    known = past.origin == Origin.MEASURED
    real = truth().air_temperature[: len(past.origin)]
    assert (past.air_temperature[known] == real[known]).all()
    assert (ahead.origin == Origin.FORECAST).all()


def test_nothing_false_is_shown_as_forecast_or_as_measured_in_may() -> None:
    """JFK's false −10.5 °C of 9 May 2013 02 Z shows in no hour and no day of any picture."""
    low = [
        picture(utc(2013, 4, 23, 6) + timedelta(hours=step)).hourly.between(
            an_hour(2013, 5, 9), an_hour(2013, 5, 9, 6)
        )
        for step in range(0, 500, 3)
    ]
    assert min(float(part.air_temperature.min()) for part in low) > 0
    assert float(picture(utc(2013, 5, 12)).daily.minimum[-20:].min()) > 0


@pytest.mark.parametrize("hour", range(2, 8))
def test_the_false_hour_is_shown_as_rejected_from_its_first_minute(hour: int) -> None:
    """At 02 Z no later hour can tell, and still it is held back; later it is known as false."""
    seen = picture(utc(2013, 5, 9, hour))
    assert [(one.at, one.value) for one in seen.rejected] == [
        (utc(2013, 5, 9, 2), -10.5),
        (utc(2013, 5, 9, 2), -11.1),
    ]
    assert any("rejected" in remark for remark in seen.remarks)
    assert picture(utc(2013, 5, 9, 1)).rejected == ()


def test_nothing_in_a_picture_depends_on_a_later_truth_but_through_the_forecast(
    tmp_path: Path,
) -> None:
    """With another future, the past of the picture is the same to the last bit."""
    lines = JFK.read_text(encoding="utf-8").splitlines(keepends=True)
    at = utc(2013, 4, 9, 23)
    changed = [
        line
        if line[:1] in "#t" or line[:13] <= "2013-04-09T23"
        else f"{line[:20]},{20 + n % 9},,,,,,,\n"
        for n, line in enumerate(lines)
    ]
    path = tmp_path / JFK.name
    path.write_text("".join(changed), encoding="utf-8")
    other = ReplaySource(path, NEW_YORK_DAYS, "New York", seed=7).look(NEW_YORK, at)
    mine = picture(at)
    now = hour_number(at) + 1
    for name in (*COLUMNS, "origin"):
        before = getattr(mine.hourly.between(mine.hourly.start, now), name)
        after = getattr(other.hourly.between(other.hourly.start, now), name)
        assert np.array_equal(before, after, equal_nan=True)
    today = at.date().toordinal() - mine.daily.start
    assert (mine.daily.minimum[:today] == other.daily.minimum[:today]).all()
    assert (mine.rejected, mine.measured_until) == (other.rejected, other.measured_until)


@pytest.mark.parametrize("lead", [6, 12, 18, 24, 48, 96, 168, 240, 336])
def test_the_forecast_error_grows_with_lead_as_designed(lead: int) -> None:
    """Design: 1.0 °C at 6 h, 1.6 °C next night, 2 °C at day 2, 3.8 °C at day 7, then little more.

    About 350 rounds, of which some 200 are independent: 20 % tolerance.
    """
    assert errors_at(lead).std() == pytest.approx(float(error_spread(np.array(lead))), rel=0.2)
    assert abs(errors_at(lead).mean()) < 0.25 * float(error_spread(np.array(lead))) + 0.1


def test_a_distant_forecast_draws_back_towards_the_climate_mean() -> None:
    """At two weeks the forecast varies less than the weather, and hardly follows it."""
    lead = 14 * 24
    pairs = []
    for at in YEAR:
        hour = hour_number(at) - hour_number(at) % 6 + lead
        if hour < truth().end:
            seen = picture(at).hourly
            past = [truth().air_temperature[hour - truth().start]]
            pairs.append((seen.air_temperature[hour - seen.start], past[0], hour))
    table = np.array(pairs)
    table = table[np.isfinite(table).all(axis=1)]
    phase = 2 * np.pi * table[:, 2] / 8766
    year = np.stack((np.ones(len(phase)), np.cos(phase), np.sin(phase)), axis=1)
    rest = [column - year @ np.linalg.lstsq(year, column)[0] for column in table[:, :2].T]
    assert rest[0].std() < 0.9 * rest[1].std()
    assert np.corrcoef(rest[0], rest[1])[0, 1] < 0.6


@pytest.mark.parametrize(("lead", "most"), [(24, 0.8), (72, 0.9), (168, 1.4)])
def test_forecasts_of_one_hour_change_gradually_from_day_to_day(lead: int, most: float) -> None:
    """Successive rounds differ by far less than they err: the sd of a day's change is bounded."""
    changes = []
    for before, after in pairwise(YEAR[:-18]):
        hour = hour_number(after) - hour_number(after) % 6 + lead
        earlier, later = picture(before).hourly, picture(after).hourly
        changes.append(
            later.air_temperature[hour - later.start]
            - earlier.air_temperature[hour - earlier.start]
        )
    assert 0.05 < np.std(changes) < most
    assert np.std(changes) < 0.5 * float(error_spread(np.array(lead)))


def test_rounds_between_two_runs_see_the_same_forecast() -> None:
    """At 07 Z nothing has been computed that was not known at 06 Z."""
    early, late = picture(utc(2013, 6, 3, 6)).hourly, picture(utc(2013, 6, 3, 11)).hourly
    first, stop = an_hour(2013, 6, 3, 12), an_hour(2013, 6, 19)
    for name in COLUMNS:
        values = getattr(early.between(first, stop), name)
        assert np.array_equal(values, getattr(late.between(first, stop), name), equal_nan=True)


def test_the_same_seed_gives_the_same_picture_and_another_seed_another() -> None:
    """Two sources built apart agree to the bit; a third with another seed does not."""
    at = YEAR[80]
    again = ReplaySource(JFK, NEW_YORK_DAYS, "New York", seed=7).look(NEW_YORK, at)
    other = ReplaySource(JFK, NEW_YORK_DAYS, "New York", seed=8).look(NEW_YORK, at)
    mine = picture(at).hourly.air_temperature
    assert np.array_equal(mine, again.hourly.air_temperature, equal_nan=True)
    assert not np.array_equal(mine, other.hourly.air_temperature, equal_nan=True)


def test_forecast_values_stay_within_what_air_can_do() -> None:
    """No dew point above the air, no negative wind or rain; sun and cloud are not invented."""
    for at in YEAR[::30]:
        seen = picture(at).hourly
        ahead = seen.between(hour_number(at) + 1, seen.end)
        assert (ahead.dew_point <= ahead.air_temperature + 0.011).all()
        assert (ahead.wind_speed >= 0).all()
        assert (ahead.precipitation >= 0).all()
        assert np.isnan(ahead.cloud_cover).all()


def test_late_december_sees_on_into_january() -> None:
    """The hours end on 30 December 23 Z; the days go on, and the picture says how old it is."""
    seen = picture(utc(2013, 12, 31, 10))
    assert seen.measured_until == utc(2013, 12, 30, 23)
    assert seen.freshness is Freshness.STALE
    assert seen.forecast_until == utc(2014, 1, 16, 10)
    assert seen.hourly.origin[-1] == Origin.FORECAST
    assert any("2013-12-30 23:00 UTC are drawn from" in remark for remark in seen.remarks)
    january = seen.daily.minimum[-16:-11]
    assert january.min() < -5  # 4 January 2014 had −16.0 °C


def test_the_autumn_before_comes_from_the_daily_record() -> None:
    """October to December 2012 give the chill: every day is there as measured."""
    seen = picture(utc(2013, 2, 1, 12)).daily
    autumn = slice(
        date(2012, 10, 1).toordinal() - seen.start, date(2013, 1, 31).toordinal() - seen.start
    )
    assert (seen.origin[autumn] == Origin.MEASURED).all()
    assert seen.minimum[date(2012, 12, 31).toordinal() - seen.start] == -2.2


@pytest.mark.parametrize("at", [utc(2013, 1, 1, 4), utc(2014, 1, 1, 5), utc(2020, 6, 1)])
def test_a_day_outside_the_series_is_refused_with_the_allowed_days(at: datetime) -> None:
    """Local days from 1 January to 31 December 2013 are allowed; the last of 2012 is not."""
    with pytest.raises(InputError, match="2013-01-01 to 2013-12-31"):
        the_year().look(NEW_YORK, at)


def test_the_first_and_the_last_minute_of_the_year_are_allowed() -> None:
    """Local midnight of 1 January lies before the first hour: nothing is measured yet."""
    assert picture(utc(2013, 1, 1, 5)).measured_until is None
    assert picture(utc(2013, 1, 1, 5)).freshness is Freshness.BLIND
    assert picture(utc(2014, 1, 1, 4)).freshness is Freshness.BLIND


def test_few_past_years_and_a_made_up_forecast_are_said() -> None:
    """The reader is told what the picture rests on."""
    remarks = picture(YEAR[50]).remarks
    assert "Only 3 past years (2012, 2014, 2015): the spread is a rough one." in remarks
    assert any("replayed" in remark for remark in remarks)


def test_the_sources_are_named_with_their_credit() -> None:
    """Measured days, measured hours and forecast are three stretches, the last with its run."""
    days, hours, ahead = picture(utc(2013, 3, 3, 10)).provenance
    assert all("NOAA" in one.credit for one in (days, hours, ahead))
    assert (hours.last, ahead.first) == (utc(2013, 3, 3, 10), utc(2013, 3, 3, 11))
    assert ahead.run == utc(2013, 3, 3, 6)


def test_a_forecast_stands_in_while_the_newest_hours_are_missing() -> None:
    """On 26 October 2013 five hours are lost: at 03 Z the last measured hour is 23 Z."""
    seen = picture(utc(2013, 10, 26, 3))
    assert seen.measured_until == utc(2013, 10, 25, 23)
    lost = seen.hourly.between(an_hour(2013, 10, 26), an_hour(2013, 10, 26, 4))
    assert (lost.origin == Origin.FORECAST).all()
    later = picture(utc(2013, 10, 27, 12))
    assert "The hours 2013-10-26 00:00 to 2013-10-26 04:00 UTC are missing." in later.remarks


def test_a_file_of_ones_own_works_without_a_daily_record(tmp_path: Path) -> None:
    """Season to date from the file itself, an error that grows, and no past years."""
    source = ReplaySource(written(tmp_path, calm_hours(24 * 60), "2021-02-01T00"))
    seen = source.look(NEW_YORK, utc(2021, 3, 1, 12))
    assert seen.climate.years == ()
    assert any("no past years" in remark for remark in seen.remarks)
    assert seen.daily.end == date(2021, 3, 17).toordinal()
    assert np.isfinite(seen.hourly.air_temperature).all()
    end = source.look(NEW_YORK, utc(2021, 4, 1, 23))
    assert end.forecast_until is None
    assert "The series ends here: there is no forecast." in end.remarks


def test_a_file_of_ones_own_with_holes_of_days_works_everywhere(tmp_path: Path) -> None:
    """A logger that was out for three days gives missing days, said in a remark."""
    air = calm_hours(24 * 40)
    air[240:312] = np.nan
    source = ReplaySource(written(tmp_path, air, "2021-02-01T05"))
    for day in range(40):
        seen = source.look(NEW_YORK, utc(2021, 2, 1, 12) + timedelta(days=day))
        assert len(seen.daily.origin)
    assert np.isnan(seen.daily.minimum).sum() == 3
    assert any("2021-02-12" in remark for remark in seen.remarks)


def test_a_file_of_mostly_impossible_values_is_refused(tmp_path: Path) -> None:
    """A column of −9999 is no weather."""
    air = calm_hours(100)
    air[20:] = -9999
    with pytest.raises(TableError, match="80 of 100 values"):
        ReplaySource(written(tmp_path, air, "2021-02-01T00"))


def test_a_look_takes_less_than_a_third_of_a_second() -> None:
    """A report that asks for every day of a year stays quick: the best of three looks counts."""
    source, taken = the_year(), []
    for day in (300, 310, 320):
        begin = time.perf_counter()
        source.look(NEW_YORK, YEAR[day])
        taken.append(time.perf_counter() - begin)
    assert min(taken) < 0.3


def test_a_bias_and_a_scale_for_trials_move_the_forecast_and_nothing_else() -> None:
    """Hours ahead differ by the bias, other errors by their scale; what is measured stays."""
    at, start = YEAR[80], hour_number(YEAR[80]) + 1
    plain = picture(at).hourly
    warm = ReplaySource(JFK, NEW_YORK_DAYS, "New York", seed=7, bias=1.5).look(NEW_YORK, at).hourly
    wide = ReplaySource(JFK, NEW_YORK_DAYS, "New York", seed=7, scale=2).look(NEW_YORK, at).hourly
    apart = warm.air_temperature - plain.air_temperature
    ahead = slice(start - plain.start, None)
    assert apart[ahead] == pytest.approx(np.full(16 * 24, 1.5), abs=0.011)
    assert np.nanmax(np.abs(apart[: start - plain.start])) == 0
    real = truth().between(start, plain.end).air_temperature
    errors = [each.air_temperature[ahead] - real for each in (plain, wide)]
    known = np.isfinite(real)
    assert errors[1][known] == pytest.approx(2 * errors[0][known], abs=0.031)
