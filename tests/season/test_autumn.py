"""Autumn colour, leaf fall and the end of pine shoots: weak clocks that say so."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.domain.outlook import LEVELS
from mebuki.season.autumn import (
    COLOUR,
    Cooling,
    autumn_outlook,
    cooling_moments,
    growing_season_end,
)
from mebuki.season.members import Members, season_members, span_members
from mebuki.season.pine_shoots import annual_temperature_sum, shoot_extension_end
from mebuki.season.seasons import autumn_frost_days
from tests.builders import a_taxon
from tests.season.clock_tables import climate_of, daily_series, noaa_climate

NOTHING = daily_series(date(2012, 1, 1).toordinal(), np.zeros(0), np.zeros(0))
SPAN = autumn_frost_days(2013, False)


def steady(temperature: float) -> Members:
    """Return one autumn of one temperature."""
    days = np.full((1, len(SPAN)), temperature)
    return Members(SPAN.start, days, days, SPAN.start, SPAN.start)


def new_york() -> Members:
    """Return the autumns of New York in four past years (NOAA) as members."""
    climate = noaa_climate("New York", (2012, 2013, 2014, 2015))
    return span_members(NOTHING, climate, SPAN, date(2013, 7, 1))


def test_a_cooling_sum_by_hand() -> None:
    """At a steady 18 °C a maple counts 10 °C d a day from 2 September: 505 on the 51st day."""
    (moment,) = cooling_moments(steady(18.0), COLOUR["acer-palmatum"][0], 2013, False)
    day = date.fromordinal(SPAN.start + int(np.ceil(moment)))
    assert day == date(2013, 9, 2) + timedelta(days=50)


def test_a_cooling_sum_that_is_not_reached_is_said_to_be_never() -> None:
    """Without a day below the threshold the stage does not come."""
    assert np.isinf(cooling_moments(steady(30.0), Cooling(28.0, 245, 505.0), 2013, False)).all()


def test_maples_in_new_york_colour_in_october_and_november() -> None:
    """Order: colour begins, height, leaf fall begins, ends; all with a spread of weeks."""
    found = autumn_outlook(a_taxon(), new_york(), 2013, southern=False)
    stages = [
        found.colour_begins,
        found.colour_height,
        found.leaf_fall_begins,
        found.leaf_fall_ends,
    ]
    medians = [stage[LEVELS.index(50)] for stage in stages]
    known = [day for day in medians if day is not None]
    assert known == sorted(known)
    assert date(2013, 10, 1) <= known[0] <= known[1] <= date(2013, 12, 1)
    for stage in stages:
        low, high = stage[LEVELS.index(10)], stage[LEVELS.index(90)]
        assert low is not None
        assert high is not None
        assert (high - low).days >= 14
    assert "cannot be predicted well" in found.warning


def test_other_deciduous_trees_follow_the_end_of_the_growing_season() -> None:
    """A larch has no colour clock here: leaf fall alone, with its basis named."""
    larch = a_taxon("larix-decidua", group="deciduous-conifer")
    found = autumn_outlook(larch, new_york(), 2013, southern=False)
    assert set(found.colour_begins) == {None}
    begins = found.leaf_fall_begins[LEVELS.index(50)]
    assert begins is not None
    assert date(2013, 10, 15) <= begins <= date(2013, 12, 1)
    assert found.basis == "end of the growing season"


def test_evergreens_have_no_autumn() -> None:
    """Nothing is told of leaf fall for a tree that keeps its leaves."""
    found = autumn_outlook(a_taxon(group="needle-evergreen"), new_york(), 2013, southern=False)
    assert set(found.leaf_fall_begins) == {None}


def test_the_growing_season_ends_after_five_cool_weekly_means() -> None:
    """Deep cold from day 20 on: the weekly mean is below 10 °C for the fifth time on day 24."""
    mean = np.full((1, 60), 15.0)
    mean[:, 20:] = -40.0
    members = Members(SPAN.start, mean, mean, SPAN.start, SPAN.start)
    assert growing_season_end(members).tolist() == [24.0]
    warm = Members(SPAN.start, mean + 100.0, mean + 100.0, SPAN.start, SPAN.start)
    assert np.isinf(growing_season_end(warm)).all()


def test_a_southern_autumn_comes_half_a_year_later() -> None:
    """The same cold counted from 3 March in the south."""
    span = autumn_frost_days(2013, True)
    days = np.full((1, len(span)), 18.0)
    members = Members(span.start, days, days, span.start, span.start)
    (moment,) = cooling_moments(members, COLOUR["acer-palmatum"][0], 2013, True)
    day = date.fromordinal(span.start + int(np.ceil(moment)))
    assert day == date(2014, 3, 3) + timedelta(days=50)


@pytest.mark.parametrize("southern", [False, True])
def test_pine_shoots_end_at_two_fifths_of_the_usual_year(southern: bool) -> None:
    """A year of steady 15 °C has 3,660 °C d: 41 % are counted 151 days after New Year."""
    year = np.full(366, 15.0)
    climate = climate_of((year, year))
    assert annual_temperature_sum(climate) == pytest.approx(3660.0)
    members = season_members(NOTHING, climate, 2013, southern, date(2013, 1, 1))
    found = shoot_extension_end(members, climate, 2013, southern)
    half_year = timedelta(days=182 if southern else 0)
    likely = found[LEVELS.index(50)]
    assert likely is not None
    assert abs((likely - date(2013, 1, 1) - half_year).days - 150) <= 2


def test_without_past_years_pine_shoots_have_no_end() -> None:
    """No mean annual sum, no date."""
    members = season_members(NOTHING, climate_of(), 2013, False, date(2013, 1, 1))
    assert annual_temperature_sum(climate_of()) is None
    assert set(shoot_extension_end(members, climate_of(), 2013, False)) == {None}
