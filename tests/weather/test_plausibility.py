"""Plausibility: false values go, real weather stays."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import Origin
from mebuki.weather.plausibility import LONGEST_CLUSTER, check
from mebuki.weather.series_file import read_hourly
from tests.weather.series import EWR, JFK, LGA, an_hour, calm_hours, hours_of, utc


@pytest.mark.parametrize(
    ("file", "expected"),
    [
        (
            JFK,
            [
                (utc(2013, 5, 9, 2), "air_temperature", -10.5),
                (utc(2013, 5, 9, 2), "dew_point", -11.1),
            ],
        ),
        (EWR, []),
        (LGA, []),
    ],
)
def test_of_three_new_york_years_only_the_false_spike_is_rejected(
    file: Path, expected: list[tuple[object, str, float]]
) -> None:
    """Of 26 114 hours only JFK 9 May 2013 02 Z is false: −10.5 °C between 13.9 and 14.0 °C.

    The other airports had 13 to 14 °C in that hour. All fronts and showers of the year stay.
    """
    _, rejected = check(read_hourly(file).series)
    assert [(one.at, one.quantity, one.value) for one in rejected] == expected


@pytest.mark.parametrize("file", [JFK, EWR, LGA])
def test_no_hour_of_a_real_year_was_doubted_when_it_was_new(file: Path) -> None:
    """With each sharp hour as the newest one, only the false spike is held back as unconfirmed."""
    series = read_hourly(file).series
    sharp = np.zeros(len(series.origin), dtype=bool)
    for column in (series.air_temperature, series.dew_point, series.wind_speed):
        sharp[1:] |= np.abs(np.diff(column)) > 4
        sharp[1:] |= np.isnan(column[:-1])
    doubted = set()
    assert sharp.sum() > 50
    for newest in series.hours[sharp & (series.hours > series.start + 24)].tolist():
        _, rejected = check(series.between(newest - 23, newest + 1))
        doubted |= {one.at for one in rejected}
    assert doubted == ({utc(2013, 5, 9, 2)} if file == JFK else set())


def test_a_wind_of_1048_miles_an_hour_is_rejected() -> None:
    """Newark reported 468.5 m/s on 12 February 2013 08 Z; the converted table left it blank."""
    series = read_hourly(EWR).series
    wind = series.wind_speed.copy()
    wind[an_hour(2013, 2, 12, 8) - series.start] = 468.5
    checked, rejected = check(replace(series, wind_speed=wind))
    assert [(one.at, one.quantity) for one in rejected] == [(utc(2013, 2, 12, 8), "wind_speed")]
    assert "75 m/s" in rejected[0].rule
    assert np.isnan(checked.wind_speed[an_hour(2013, 2, 12, 8) - series.start])


def test_a_rejected_temperature_leaves_a_missing_hour() -> None:
    """The value is NaN and its origin says that nothing is known."""
    series = read_hourly(JFK).series
    checked, _ = check(series)
    at = an_hour(2013, 5, 9, 2) - series.start
    assert np.isnan(checked.air_temperature[at])
    assert checked.origin[at] == Origin.MISSING


def test_a_dew_point_beside_a_false_temperature_goes_with_it() -> None:
    """Even a dew point that looks right is not believed where the temperature is false."""
    air = calm_hours(48)
    air[20] = -12
    _, rejected = check(hours_of(air, dew_point=np.full(48, 2.0)))
    assert [one.quantity for one in rejected] == ["air_temperature", "dew_point"]


def test_a_dew_point_above_the_air_temperature_is_rejected() -> None:
    """Rounding may lift it by half a degree, not by two."""
    dew_point = calm_hours(48) - 1
    dew_point[10] += 1.5
    dew_point[30] += 3
    _, rejected = check(hours_of(calm_hours(48), dew_point=dew_point))
    assert [(one.quantity, one.at) for one in rejected] == [("dew_point", utc(1970, 1, 2, 6))]


@pytest.mark.parametrize("length", range(1, LONGEST_CLUSTER + 1))
def test_a_cluster_of_false_hours_is_rejected_whole(length: int) -> None:
    """Air does not fall by 20 °C within an hour, stay for some hours and come back as fast."""
    air = calm_hours(72)
    air[30 : 30 + length] -= 25
    checked, rejected = check(hours_of(air))
    assert len(rejected) == length
    assert np.flatnonzero(np.isnan(checked.air_temperature)).tolist() == [*range(30, 30 + length)]


def test_a_spike_beside_a_hole_is_rejected_too() -> None:
    """A missing hour does not hide what stands beside it."""
    air = calm_hours(48)
    air[20] += 15
    air[21] = np.nan
    _, rejected = check(hours_of(air))
    assert [one.at for one in rejected] == [utc(1970, 1, 1, 20)]


@given(drop=st.floats(8.5, 20), at=st.integers(12, 60))
def test_a_front_that_stays_is_never_rejected(drop: float, at: int) -> None:
    """However sharp, a new level that lasts is weather."""
    air = calm_hours(96)
    air[at:] -= drop
    _, rejected = check(hours_of(air))
    assert rejected == ()


def test_a_jump_in_the_newest_hour_waits_for_the_next_one() -> None:
    """Held back while it is the last hour; let in when the next hour confirms it."""
    air = calm_hours(48)
    air[40:] -= 10
    assert len(check(hours_of(air[:41]))[1]) == 1
    assert check(hours_of(air[:41]), doubt_newest=False)[1] == ()
    assert check(hours_of(air[:42]))[1] == ()


def test_a_jump_beyond_any_front_waits_for_six_hours() -> None:
    """Twenty degrees in an hour are believed only when a cluster is out of the question."""
    air = calm_hours(72)
    air[40:] -= 20
    held = [len(check(hours_of(air[: 40 + seen]))[1]) for seen in range(1, 9)]
    assert held == [1, 2, 3, 4, 5, 6, 0, 0]


def test_a_stuck_sensor_is_rejected_after_a_day() -> None:
    """Twenty-three equal hours may be fog; twenty-four are a broken instrument."""
    air = calm_hours(96)
    air[30:53] = 9.0
    assert check(hours_of(air))[1] == ()
    air[30:54] = 9.0
    _, rejected = check(hours_of(air))
    assert len(rejected) == 23
    assert {one.rule for one in rejected} == {"the same for 24 h"}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("air_temperature", -9999.0),
        ("air_temperature", 61.0),
        ("dew_point", 40.0),
        ("wind_speed", -1.0),
        ("precipitation", 250.0),
        ("precipitation", -0.1),
        ("snowfall", 300.0),
        ("global_radiation", 2000.0),
        ("cloud_cover", 1.2),
    ],
)
def test_values_outside_physical_limits_are_rejected(name: str, value: float) -> None:
    """Each limit holds, and the rejected value is kept to be shown."""
    columns = {"air_temperature": calm_hours(48)}
    columns[name] = calm_hours(48) / 20
    columns[name][25] = value
    air = columns.pop("air_temperature")
    _, rejected = check(hours_of(air, 0, **columns))
    assert [(one.quantity, one.value) for one in rejected] == [(name, value)]


@given(st.lists(st.floats(-80, 80) | st.just(float("nan")), min_size=0, max_size=60))
def test_checking_twice_rejects_nothing_that_is_left_in_place(values: list[float]) -> None:
    """Whatever comes in, the length stays, only NaN is added, and other values are untouched."""
    series = hours_of(np.array(values, dtype=np.float64))
    checked, rejected = check(series)
    left = np.isfinite(checked.air_temperature)
    assert len(checked.origin) == len(values)
    assert (checked.air_temperature[left] == series.air_temperature[left]).all()
    assert int(np.isfinite(series.air_temperature).sum()) - int(left.sum()) == len(rejected)
