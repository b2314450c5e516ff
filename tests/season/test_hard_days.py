"""Heat at the wall, dry air, gusts and wind on frozen roots, day by day at one place."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from mebuki.domain.exposure import HardDay
from mebuki.domain.weather import HourlySeries, Origin, hour_moment
from mebuki.season.hard_days import HARD_DAYS, Leafed, hard_days
from mebuki.season.local_time import local_hour
from mebuki.season.root_temperature import RootBallTemperatures
from tests.builders import ON, a_moment, a_site, a_water_day

SITE = a_site()
START = local_hour(ON, 0, SITE.zone)
HOURS = 24 * HARD_DAYS


def series(**columns: float) -> HourlySeries:
    """Return steady hours of four days from local midnight."""
    steady: dict[str, Any] = {
        name: np.full(HOURS, columns.get(name, usual))
        for name, usual in (
            ("air_temperature", 20.0), ("dew_point", 12.0), ("wind_speed", 2.0),
            ("precipitation", 0.0), ("snowfall", 0.0), ("global_radiation", 0.0),
            ("cloud_cover", 0.0),
        )
    }  # fmt: skip
    return HourlySeries(START, **steady, origin=np.full(HOURS, Origin.FORECAST, np.int8))


def balls(wall: float = 20, frozen: float = 0) -> RootBallTemperatures:
    """Return one pot of a steady wall temperature and frozen share."""
    rows = np.full((1, HOURS), float(wall))
    return RootBallTemperatures(START, rows, rows, np.full((1, HOURS), float(frozen)))


def today(here: HourlySeries, pots: RootBallTemperatures, **leaves: Any) -> HardDay:
    """Return the first day of the only pot."""
    given: dict[str, Any] = {"unfolded": (None,), "water": ((),), "deciduous": (False,)}
    (days,) = hard_days(here, SITE, pots, Leafed(**(given | leaves)), ON)
    return days[0]


def test_a_mild_calm_day_is_not_hard() -> None:
    """20 °C, 2 m/s: no heat, no scorch, gusts between 1.4 and 2 times the mean."""
    day = today(series(), balls())
    assert (day.heat, day.scorches, day.drying_hours, day.lead_days) == (0, False, 0, 0)
    assert (day.gust_least, day.gust_most) == pytest.approx((2.8, 4.0))


def test_four_days_are_told_in_order() -> None:
    """Today and the next three, each with its lead."""
    (days,) = hard_days(series(), SITE, balls(), Leafed((None,), ((),), (False,)), ON)
    assert [day.lead_days for day in days] == [0, 1, 2, 3]
    assert [day.day for day in days] == [ON + timedelta(days=lead) for lead in range(4)]


@pytest.mark.parametrize(("wall", "heat"), [(29.9, 0), (30, 1), (33, 2), (37, 3)])
def test_the_sunny_side_adds_five_degrees_in_full_sun(wall: float, heat: int) -> None:
    """The limits of 35, 38 and 42 °C hold for the side that the sun warms, upper estimate."""
    day = today(series(global_radiation=800), balls(wall))
    assert day.wall_warmest == pytest.approx(wall + 5)
    assert day.wall_least == pytest.approx(wall + 3)
    assert day.heat == heat


def test_the_worst_hour_of_a_day_is_told() -> None:
    """The wind is strongest at hour 11, the sunny wall warmest at hour 15 of the local day."""
    here, wall = series(), np.full((1, HOURS), 20.0)
    wind = here.wind_speed.copy()
    wind[11], wall[0, 15] = 12.0, 30.0
    pots = RootBallTemperatures(START, wall, wall, np.zeros((1, HOURS)))
    day = today(replace(here, wind_speed=wind), pots)
    assert day.gust_at == hour_moment(START + 11)
    assert day.hottest_at == hour_moment(START + 15)


def test_leaves_scorch_in_dry_wind_and_young_ones_sooner() -> None:
    """At 35 °C and 21 °C dew point the deficit is 3.1 kPa; with 7 m/s at 10 m it is windy."""
    dry = series(air_temperature=35, dew_point=21, wind_speed=7)
    assert today(dry, balls()).scorches
    assert not today(series(air_temperature=35, dew_point=21, wind_speed=1), balls()).scorches
    milder = series(air_temperature=32, dew_point=20, wind_speed=7)
    assert not today(milder, balls()).scorches
    assert today(milder, balls(), unfolded=(ON - timedelta(days=10),)).scorches


def test_a_pot_that_is_dry_by_noon_scorches_without_wind() -> None:
    """Out of easy water at noon, dry air for the rest of the day."""
    dry = series(air_temperature=35, dew_point=21, wind_speed=1)
    water = (a_water_day(ON, 0, dry_at=a_moment(ON, 16)),)
    assert today(dry, balls(), water=(water,)).scorches


def test_a_bare_tree_has_no_leaves_to_scorch() -> None:
    """A deciduous tree before its leaves unfold."""
    dry = series(air_temperature=35, dew_point=21, wind_speed=7)
    ahead = (ON + timedelta(days=10),)
    assert not today(dry, balls(), unfolded=ahead, deciduous=(True,)).scorches
    assert today(dry, balls(), unfolded=ahead, deciduous=(False,)).scorches


def test_wind_on_a_frozen_ball_counts_hours_above_freezing() -> None:
    """All 24 hours of a windy day at 3 °C, none at −1 °C, none of a ball that is half frozen."""
    windy = series(air_temperature=3, dew_point=-3, wind_speed=8)
    assert today(windy, balls(0, frozen=1)).drying_hours == 24
    assert today(windy, balls(0, frozen=0.5)).drying_hours == 0
    cold = series(air_temperature=-1, dew_point=-3, wind_speed=8)
    assert today(cold, balls(0, frozen=1)).drying_hours == 0


def test_a_day_of_unknown_air_is_left_out() -> None:
    """With five hours unknown the first day is not judged, the others are."""
    here = series()
    air = here.air_temperature.copy()
    air[:5] = np.nan
    gap = replace(here, air_temperature=air)
    (days,) = hard_days(gap, SITE, balls(), Leafed((None,), ((),), (False,)), ON)
    assert [day.lead_days for day in days] == [1, 2, 3]
