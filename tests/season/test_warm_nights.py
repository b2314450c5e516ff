"""The warm part of the year for trees that wait for warm nights."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.outlook import LEVELS
from mebuki.season.growth import growth_share
from mebuki.season.members import Members, season_members
from mebuki.season.seasons import season_days
from mebuki.season.warm_nights import warm_clock, warm_nights_begin, warm_nights_end
from tests.season.clock_tables import daily_series, noaa_climate

AT = LEVELS.index(50)


def warm_between(first: date, last: date, southern: bool = False) -> Members:
    """Return one season whose nights are warm between two days."""
    days = season_days(2013, southern)
    ordinals = np.arange(days.start, days.stop)
    warm = (ordinals >= first.toordinal()) & (ordinals <= last.toordinal())
    low = np.where(warm, 18.0, 8.0)[np.newaxis]
    return Members(days.start, low, low + 8, days.start, days.start)


@pytest.mark.parametrize(
    ("southern", "first", "last"),
    [
        (False, date(2013, 6, 1), date(2013, 9, 10)),
        (True, date(2013, 12, 1), date(2014, 3, 10)),
    ],
)
def test_warm_nights_begin_and_end_with_the_week_that_is_warm(
    southern: bool, first: date, last: date
) -> None:
    """With 18 after 8 °C five of seven nights make a week of 15.1 °C on the mean.

    The threshold is not known to the degree, so the range spans the nights
    that make weeks of about 13.5 to 16.5 °C: four to seven of them.
    """
    members = warm_between(first, last, southern)
    begins = warm_nights_begin(members, 2013, southern)
    ends = warm_nights_end(members, 2013, southern)
    assert begins[AT] == first + timedelta(days=4)
    assert begins[0] == first + timedelta(days=3)
    assert begins[-1] == first + timedelta(days=6)
    assert ends[AT] == last + timedelta(days=2)
    assert ends[0] == last
    assert ends[-1] == last + timedelta(days=3)


def test_cool_places_have_no_warm_nights() -> None:
    """Where no week reaches the threshold every level is none."""
    members = warm_between(date(2013, 6, 1), date(2013, 9, 10))
    assert set(warm_nights_begin(members, 2013, False, threshold=20.0)) == {None}
    assert set(warm_nights_end(members, 2013, False, threshold=20.0)) == {None}


def test_new_york_has_warm_nights_from_june_to_september() -> None:
    """On four measured years (NOAA) the medians fall where a grower expects them."""
    nothing = daily_series(date(2012, 1, 1).toordinal(), np.zeros(0), np.zeros(0))
    climate = noaa_climate("New York", (2012, 2013, 2014, 2015))
    members = season_members(nothing, climate, 2013, False, date(2012, 11, 1))
    begins = warm_nights_begin(members, 2013, False)[AT]
    ends = warm_nights_end(members, 2013, False)[AT]
    assert begins is not None
    assert ends is not None
    assert date(2013, 5, 15) <= begins <= date(2013, 6, 25)
    assert date(2013, 9, 1) <= ends <= date(2013, 10, 10)


def test_growth_runs_with_the_warm_nights() -> None:
    """A tenth is grown two weeks in, nine tenths at the end; too short a warmth gives no clock."""
    clock = warm_clock(date(2013, 6, 1), date(2013, 9, 15))
    assert clock is not None
    assert growth_share(clock, date(2013, 6, 15)) == pytest.approx(0.1)
    assert growth_share(clock, date(2013, 9, 15)) == pytest.approx(0.9)
    assert "default" in clock.basis
    assert warm_clock(date(2013, 6, 1), date(2013, 7, 1)) is None
