"""The last spring frost and the first autumn frost as distributions over past years."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.outlook import LEVELS
from mebuki.domain.weather import Floats, calendar_slot
from mebuki.season.frost_dates import autumn_frost, spring_frost
from mebuki.season.members import FeltHere
from tests.season.clock_tables import climate_of, daily_series, noaa_climate, noaa_extremes

NOTHING = daily_series(date(2012, 1, 1).toordinal(), np.zeros(0), np.zeros(0))
ON = date(2013, 1, 20)


def year_with_frosts(last_spring: date, first_autumn: date) -> tuple[Floats, Floats]:
    """Return a year whose nights are frosty outside two days."""
    low = np.full(366, 5.0)
    low[: calendar_slot(last_spring) + 1] = -3.0
    low[calendar_slot(first_autumn) :] = -3.0
    return low, low + 10


FROSTS = [
    (date(2013, 4, 1) + timedelta(days=2 * k), date(2013, 10, 1) + timedelta(days=2 * k))
    for k in range(11)
]
CLIMATE = climate_of(*(year_with_frosts(*days) for days in FROSTS))


def test_the_medians_are_the_middle_years() -> None:
    """Of last frosts on 1, 3, ... 21 April the middle one is the 11th; so in October."""
    spring = spring_frost(NOTHING, CLIMATE, 2013, False, ON)
    autumn = autumn_frost(NOTHING, CLIMATE, 2013, False, ON)
    assert spring[LEVELS.index(50)] == date(2013, 4, 11)
    assert autumn[LEVELS.index(50)] == date(2013, 10, 11)
    assert list(spring) == sorted(day for day in spring if day)
    assert list(autumn) == sorted(day for day in autumn if day)


def test_a_frost_that_has_come_is_known() -> None:
    """After a measured October frost every level is its day, whatever past years did."""
    first, frost = date(2013, 6, 1), date(2013, 10, 15)
    low = np.full(140, 8.0)
    low[(frost - first).days] = -1.0
    daily = daily_series(first.toordinal(), low, low + 10)
    found = autumn_frost(daily, CLIMATE, 2013, False, first + timedelta(days=139))
    assert set(found) == {frost}


def test_a_mild_winter_place_has_no_frost_date() -> None:
    """Where half of the years have no frost, half of the levels have no day."""
    mild = np.full(366, 6.0)
    climate = climate_of(*([(mild, mild + 5)] * 5), *([year_with_frosts(*FROSTS[0])] * 5))
    found = autumn_frost(NOTHING, climate, 2013, False, ON)
    assert [day is not None for day in found] == [level < 50 for level in LEVELS]
    spring = spring_frost(NOTHING, climate, 2013, False, ON)
    assert [day is not None for day in spring] == [level > 50 for level in LEVELS]


def test_a_warmer_threshold_or_colder_place_brings_frost_nearer_to_summer() -> None:
    """A bench 2 °C colder has later spring and earlier autumn frosts (NOAA, Seattle)."""
    start, extremes = noaa_extremes("Seattle")
    daily = daily_series(start, *extremes[:, :366])
    climate = noaa_climate("Seattle", (2012, 2013, 2014, 2015))
    on = date(2012, 12, 31)
    at = LEVELS.index(50)
    for find, later in ((spring_frost, True), (autumn_frost, False)):
        plain = find(daily, climate, 2013, False, on)[at]
        cold = find(daily, climate, 2013, False, on, FeltHere(-2.0))[at]
        strict = find(daily, climate, 2013, False, on, threshold=2.0)[at]
        assert plain is not None
        assert cold == strict
        assert cold is not None
        assert (cold > plain) is later


def test_the_frosts_of_a_southern_garden_fall_in_its_own_spring_and_autumn() -> None:
    """The same nights half a year apart: last frost in October, first frost in April."""
    low = np.full(366, 5.0)
    low[calendar_slot(date(2013, 4, 20)) : calendar_slot(date(2013, 10, 10)) + 1] = -3.0
    climate = climate_of((low, low + 10))
    assert set(spring_frost(NOTHING, climate, 2013, True, ON)) == {date(2013, 10, 10)}
    assert set(autumn_frost(NOTHING, climate, 2013, True, ON)) == {date(2014, 4, 20)}


@pytest.mark.parametrize("find", [spring_frost, autumn_frost])
def test_without_past_years_nothing_is_said_of_the_future(find: object) -> None:
    """No climate and no frost so far: every level is unknown."""
    low = np.full(200, 5.0)
    daily = daily_series(date(2012, 9, 1).toordinal(), low, low + 10)
    assert callable(find)
    assert set(find(daily, climate_of(), 2013, False, date(2013, 3, 1))) == {None}
