"""Stages of past seasons from a table, as ``mebuki compute bud-break`` prints them."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError
from mebuki.season.past_seasons import observed_dates, season_faults
from tests.season.clock_tables import (
    LATITUDES,
    PUBLISHED,
    noaa_extremes,
    phenology,
    rows_of,
    thermal,
)

CHERRY = phenology(thermal(135, 0.3), flowering=thermal(221, 0.13))


def table(location: str = "New York") -> tuple[Ints, Floats, Floats]:
    """Return days, minimum and maximum of the NOAA series."""
    start, extremes = noaa_extremes(location)
    return np.arange(start, start + extremes.shape[1]), extremes[0], extremes[1]


def test_bud_break_of_past_seasons_agrees_with_the_check_table() -> None:
    """BBCH 7 of each season falls on the day of the independent calculation (NOAA)."""
    for row in rows_of(PUBLISHED / "cwtt_noaa_expected.csv"):
        rows = observed_dates(
            phenology(thermal(float(row["F"]))), *table(row["location"]), LATITUDES[row["location"]]
        )
        found = {(season, stage): day for season, stage, day in rows}
        assert str(found[int(row["season"]), 7]) == row["date"]


def test_every_season_has_a_row_for_each_stage_and_only_known_ones_a_day() -> None:
    """2012 lacks its chill and 2016 its spring: their rows have no day, and the first says why."""
    rows = observed_dates(CHERRY, *table(), 40.78)
    assert [(season, stage) for season, stage, _ in rows] == [
        (season, stage) for season in range(2012, 2017) for stage in (1, 7, 11, 19, 61)
    ]
    assert {season for season, _, day in rows if day is None} == {2012, 2016}
    assert {season for season, _, day in rows if day is not None} == {2013, 2014, 2015}
    faults = season_faults(*table(), 40.78)
    assert "2011-11-01 to 2011-12-31 is missing" in faults[2012]
    assert set(faults) == {2012}


def test_stages_of_a_season_come_in_order() -> None:
    """Swell, break, unfolded and grown follow one another in every season."""
    rows = observed_dates(CHERRY, *table("Seattle"), 47.45)
    for season in (2013, 2014, 2015):
        days = [day for year, stage, day in rows if year == season and stage < 61]
        known = [day for day in days if day is not None]
        assert len(known) == 4
        assert known == sorted(known)


def test_days_left_out_are_interpolated_or_end_the_season() -> None:
    """Two days left out change little; twenty leave the season without dates."""
    days, low, high = table()
    at = date(2014, 3, 1).toordinal() - int(days[0])
    whole = observed_dates(CHERRY, days, low, high, 40.78)
    for missing in (2, 20):
        kept = np.r_[0:at, at + missing : len(days)]
        rows = observed_dates(CHERRY, days[kept], low[kept], high[kept], 40.78)
        faults = season_faults(days[kept], low[kept], high[kept], 40.78)
        assert "2014-03-01" in faults[2014]
        for (season, stage, day), (_, _, before) in zip(rows, whole, strict=True):
            if missing == 20 and season == 2014:
                assert day is None or (stage == 1 and day < date(2014, 3, 1))
            elif day is not None and before is not None:
                assert abs((day - before).days) <= 2


def test_the_southern_half_year_is_read_by_its_own_calendar() -> None:
    """The New York series moved half a year reads as a southern garden, seasons by its spring."""
    days, low, high = table()
    rows = observed_dates(CHERRY, days + 182, low, high, -40.78)
    breaks = {season: day for season, stage, day in rows if stage == 7}
    north = {
        season: day
        for season, stage, day in observed_dates(CHERRY, days, low, high, 40.78)
        if stage == 7
    }
    for season in (2013, 2014, 2015):
        south_day, north_day = breaks[season], north[season]
        assert south_day is not None
        assert north_day is not None
        assert abs((south_day - north_day).days - 182) <= 3


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("swap", "row 5: .* does not come after"),
        ("repeat", "row 5: .* does not come after"),
        ("crossed", "row 8: minimum 30 is above maximum"),
        ("empty", "no rows"),
    ],
)
def test_a_faulty_table_is_refused_by_row_and_rule(change: str, words: str) -> None:
    """Unsorted, repeated or crossed rows and an empty table raise and name the row."""
    days, low, high = (column.copy() for column in table())
    if change == "swap":
        days[3], days[4] = days[4], days[3]
    elif change == "repeat":
        days[4] = days[3]
    elif change == "crossed":
        low[7] = 30.0
    else:
        days, low, high = days[:0], low[:0], high[:0]
    with pytest.raises(RangeError, match=words):
        observed_dates(CHERRY, days, low, high, 40.78)
