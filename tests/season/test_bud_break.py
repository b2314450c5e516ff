"""The two clocks of bud break: check tables, laws, and the same numbers in every shape."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.bud_break import (
    CWTT,
    SIGDL,
    Clock,
    chill_weighted,
    day_length_start,
    sigmoid_day_length,
)
from mebuki.season.crossing import NEVER, event_days, event_moments
from mebuki.season.seasons import season_days, season_start
from tests.season.clock_tables import LATITUDES, PUBLISHED, noaa_extremes, rows_of

CLOCKS = pytest.mark.parametrize("clock", [CWTT, SIGDL], ids=lambda clock: clock.name)

DAYS = 365
WINTERS = st.lists(st.floats(-25, 30), min_size=DAYS // 5, max_size=DAYS // 5)


@pytest.mark.parametrize(
    ("clock", "table", "column"),
    [(CWTT, "cwtt_noaa_expected.csv", "F"), (SIGDL, "sigdl_noaa_expected.csv", "requirement")],
)
def test_event_days_agree_to_the_day_with_an_independent_calculation(
    clock: Clock, table: str, column: str
) -> None:
    """Every day of the check table (NOAA weather of New York and Seattle) is met exactly."""
    rows = rows_of(PUBLISHED / table)
    for row in rows:
        start, extremes = noaa_extremes(row["location"])
        latitude = LATITUDES[row["location"]]
        progress = clock.read(extremes.mean(axis=0), start, int(row["season"]), latitude)
        (found,) = event_days(progress, [float(row[column])])
        assert date.fromordinal(start + int(found)).isoformat() == row["date"]
    assert len(rows) >= 36


def test_the_day_length_clock_agrees_day_by_day_with_an_independent_calculation() -> None:
    """Effective forcing of the check table is met to half of its last digit."""
    for row in rows_of(PUBLISHED / "sigdl_noaa_detail.csv"):
        start, extremes = noaa_extremes(row["location"])
        latitude = LATITUDES[row["location"]]
        progress = SIGDL.read(extremes.mean(axis=0), start, int(row["season"]), latitude)
        at = date.fromisoformat(row["date"]).toordinal() - start
        assert progress[at] == pytest.approx(float(row["effective"]), abs=6e-4)


def test_forcing_starts_on_the_tabled_day_at_every_latitude() -> None:
    """The first day with 10.7 h of daylight agrees with the table from 15 to 65 degrees."""
    for row in rows_of(PUBLISHED / "day_length_10.7h_by_latitude.csv"):
        found = date.fromordinal(day_length_start(2013, float(row["latitude"])))
        assert found.toordinal() - date(2012, 12, 31).toordinal() == int(row["first_doy"])


def test_two_days_of_chill_weighted_thermal_time_by_hand() -> None:
    """One chill day of 4 °C and one day of 10 °C give 14 / (1 + exp(−0.01))."""
    progress = chill_weighted([4.0, 10.0], 0, 0)
    assert progress == pytest.approx([4 / (1 + np.exp(-0.01)), 14 / (1 + np.exp(-0.01))])


def test_the_need_of_the_day_length_clock_is_bounded_where_there_is_no_chill() -> None:
    """At 22 °C there is no chill: M stays 2.5 and one day gives its forcing over 2.5."""
    rate = 20 / (1 + np.exp(-0.24 * (22 - 12.5)))
    assert sigmoid_day_length([22.0], 0, 0) == pytest.approx([rate / 2.5])


@CLOCKS
@given(values=WINTERS)
def test_progress_never_falls(clock: Clock, values: list[float]) -> None:
    """More days never take progress away."""
    progress = clock.read(np.repeat(values, 5), season_start(2013, False), 2013, 45.0)
    assert (np.diff(progress) >= -1e-9).all()


@CLOCKS
@given(values=WINTERS, day=st.integers(0, DAYS - 1), by=st.floats(0, 15))
def test_warming_a_day_on_its_side_of_the_chill_threshold_never_delays(
    clock: Clock, values: list[float], day: int, by: float
) -> None:
    """A day warmed without losing chill (CWTT: on its side of 5 °C) never delays the event.

    For the day-length clock chill grows with every degree below 22 °C, so there
    the side of the threshold is above 22 °C, or any day below 2 °C that stays so.
    """
    cold, warm = (5.0, 5.0) if clock is CWTT else (2.0, 22.0)
    before = np.repeat(values, 5)
    after = before.copy()
    after[day] += by
    if before[day] <= cold:
        after[day] = min(after[day], cold)
    elif before[day] <= warm:
        after[day] = before[day]
    start = season_start(2013, False)
    needs = [50.0, 150.0, 300.0]
    early, late = (
        event_moments(clock.read(series, start, 2013, 45.0), needs) for series in (after, before)
    )
    assert (early <= late + 1e-6).all()


@given(values=WINTERS)
def test_the_hemispheres_mirror_each_other_on_the_chill_weighted_clock(
    values: list[float],
) -> None:
    """The same winter from 1 May gives the same progress in the south, day for day of forcing."""
    temperature = np.repeat(values, 5)
    # from 1 November to 8 February are 99 days, from 1 May to 9 August 100: that day gives no heat
    temperature[99] = min(temperature[99], 0.0)
    north = CWTT.read(temperature, season_start(2014, False), 2014, 45.0)
    south = CWTT.read(temperature, season_start(2014, True), 2014, -45.0)
    assert np.allclose(north, south)


def test_the_day_length_clock_starts_half_a_year_apart_in_the_hemispheres() -> None:
    """At the same latitude the start in the south is within four days of half a year later."""
    for latitude in (10.0, 30.0, 45.0, 60.0, 67.0):
        north = day_length_start(2013, latitude)
        south = day_length_start(2013, -latitude)
        assert abs(south - north - 182.5) <= 4


@CLOCKS
def test_single_series_and_batches_give_the_same_numbers(clock: Clock) -> None:
    """One series, a batch and a batch with starts of its own agree to the last bit."""
    start, extremes = noaa_extremes("Seattle")
    mean = extremes.mean(axis=0)
    seasons = [2013, 2014, 2015]
    rows = np.array([mean[season_start(year, False) - start :][:360] for year in seasons])
    single = [
        clock.read(row, season_start(year, False), year, 47.45)
        for row, year in zip(rows, seasons, strict=True)
    ]
    forcing = np.array(
        [clock.forcing_from(year, 47.45) - season_start(year, False) for year in seasons]
    )
    batch = clock.progress(rows, np.zeros(3, np.int64), forcing)
    assert np.array_equal(np.array(single), batch)
    needs = [99.0, 218.0, 400.0]
    assert np.array_equal(
        event_days(batch, needs), np.array([event_days(row, needs) for row in single])
    )
    cube = batch[:, np.newaxis].repeat(2, axis=1)
    assert np.array_equal(event_days(cube, needs)[:, 1], event_days(batch, needs))


@given(
    rises=st.lists(st.floats(0, 5), min_size=1, max_size=60),
    needs=st.lists(st.floats(0.01, 200), min_size=1, max_size=8),
)
def test_the_search_finds_what_a_plain_walk_finds(rises: list[float], needs: list[float]) -> None:
    """Halving gives the first day at whose end the sum is reached, or never."""
    sums = np.cumsum(rises)
    expected = [next((day for day, x in enumerate(sums) if x >= need), NEVER) for need in needs]
    assert event_days(sums, needs).tolist() == expected
    moments = event_moments(sums, needs)
    rounded = [int(np.ceil(x)) if np.isfinite(x) else NEVER for x in moments]
    assert rounded == expected


def test_a_missing_day_hides_what_comes_after_it_and_nothing_before() -> None:
    """Requirements reached before the gap keep their day; later ones are not reached."""
    progress = chill_weighted([10.0, 10.0, np.nan, 10.0], 0, 0)
    assert event_days(progress, [5.0, 9.0, 15.0]).tolist() == [0, 1, NEVER]


@CLOCKS
def test_a_series_that_begins_after_the_chill_is_refused(clock: Clock) -> None:
    """The error names the season and how many days are missing."""
    late = season_start(2013, False) + 61
    with pytest.raises(RangeError, match="61 days after the chill of season 2013"):
        clock.read(np.zeros(200), late, 2013, 45.0)


@pytest.mark.parametrize("latitude", [-90.5, 91.0, float("nan")])
def test_a_latitude_out_of_range_is_refused(latitude: float) -> None:
    """Latitudes beyond the poles, or none at all, raise."""
    with pytest.raises(RangeError, match="latitude"):
        day_length_start(2013, latitude)


def test_leap_days_do_not_shift_the_start_of_forcing() -> None:
    """Forcing starts on 8 February in leap years and common years, in seasons of either length."""
    for season in (2012, 2013):
        days = season_days(season, False)
        assert date.fromordinal(CWTT.forcing_from(season, 50.0)) == date(season, 2, 8)
        assert len(days) == (366 if season == 2012 else 365)


@pytest.mark.parametrize("latitude", [66.6, 78.2, 90.0, -66.6, -90.0])
def test_polar_latitudes_have_a_start_before_the_equinox(latitude: float) -> None:
    """Beyond the polar circle the clock starts between the solstice and the equinox."""
    start = date.fromordinal(day_length_start(2013, latitude))
    first, last = ((2, 3), (3, 21)) if latitude > 0 else ((8, 8), (9, 23))
    assert first <= (start.month, start.day) <= last
