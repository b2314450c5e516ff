"""Seasons by the calendar year of their spring, in both hemispheres."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.weather import calendar_slot
from mebuki.season.seasons import (
    autumn_frost_days,
    calendar_slots,
    days_of_year,
    forcing_start,
    season_days,
    season_of,
    solstice,
    spring_frost_days,
)


@pytest.mark.parametrize(
    ("day", "southern", "season"),
    [
        ("2012-10-31", False, 2012),
        ("2012-11-01", False, 2013),
        ("2013-10-31", False, 2013),
        ("2013-04-30", True, 2012),
        ("2013-05-01", True, 2013),
        ("2014-01-15", True, 2013),
    ],
)
def test_a_day_belongs_to_the_season_of_its_spring(day: str, southern: bool, season: int) -> None:
    """Northern seasons turn on 1 November, southern ones on 1 May."""
    assert season_of(date.fromisoformat(day), southern) == season


@given(day=st.dates(date(1900, 1, 1), date(2100, 12, 31)), southern=st.booleans())
def test_every_day_lies_within_its_own_season(day: date, southern: bool) -> None:
    """The season of a day holds the day, and seasons meet without hole or overlap."""
    season = season_of(day, southern)
    assert day.toordinal() in season_days(season, southern)
    assert season_days(season, southern).stop == season_days(season + 1, southern).start
    assert len(season_days(season, southern)) in (365, 366)


@pytest.mark.parametrize("southern", [False, True])
def test_the_marks_of_a_season_come_in_order(southern: bool) -> None:
    """Chill, solstice, midwinter, forcing, midsummer; frost spans reach the next midwinter."""
    days = season_days(2013, southern)
    spring, autumn = spring_frost_days(2013, southern), autumn_frost_days(2013, southern)
    marks = [
        days.start,
        solstice(2013, southern),
        spring.start,
        forcing_start(2013, southern),
        spring.stop,
        days.stop,
        autumn.stop,
    ]
    assert marks == sorted(marks)
    assert spring.stop == autumn.start


@given(first=st.dates(date(1900, 1, 1), date(2100, 1, 1)))
def test_days_of_the_year_agree_with_the_calendar(first: date) -> None:
    """A run of days over two year ends has the day numbers that `datetime` gives."""
    days = [first + timedelta(days=count) for count in range(800)]
    found = days_of_year(np.array([day.toordinal() for day in days]))
    assert found.tolist() == [day.timetuple().tm_yday for day in days]


@given(first=st.dates(date(1899, 1, 1), date(2100, 1, 1)))
def test_calendar_slots_of_many_days_are_those_of_single_days(first: date) -> None:
    """Arrays give the slots that the climate's own rule gives, leap years or not."""
    days = [first + timedelta(days=count) for count in range(800)]
    found = calendar_slots(np.array([day.toordinal() for day in days]))
    assert found.tolist() == [calendar_slot(day) for day in days]
