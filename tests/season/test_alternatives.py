"""Published clocks of bud break that a taxon file may name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from mebuki.domain.taxon import AlternativeClock, ClockModel
from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.alternatives import Setting, alternative_dates, bud_break_margin
from mebuki.season.crossing import event_days
from mebuki.season.members import Members
from mebuki.season.seasons import season_days, season_start
from mebuki.season.sun import day_length
from tests.season.clock_tables import noaa_extremes, phenology, thermal
from tests.season.test_accuracy_harvard import observations, springs

FAGUS = {"chill_below": 9.0, "base": 6.0, "a": 1922.0, "b": -348.0}
VACCINIUM = {
    "start_day": 1.0,
    "chill_below": 5.0,
    "base": 5.0,
    "a": 59.2,
    "b": 5000.0,
    "r": -0.0366,
}
BEECH_HEAT = {"start_day": 98.4, "base": 0.0, "requirement": 201.9}
LIGHT = {"start_day": 32.0, "base": 2.0, "exponent": 1.5, "requirement": 200.0}

MODELS: list[tuple[ClockModel, Mapping[str, float]]] = [
    ("menzel", FAGUS),
    ("alternating", VACCINIUM),
    ("thermal-time", BEECH_HEAT),
    ("photothermal", LIGHT),
]
EACH = pytest.mark.parametrize(("model", "parameters"), MODELS)


def clock(model: ClockModel, parameters: Mapping[str, float]) -> AlternativeClock:
    """Return a clock as a taxon file would name it."""
    return AlternativeClock(model=model, parameters=dict(parameters), source="a publication")


def break_position(found: AlternativeClock, mean: Floats, where: Setting) -> int:
    """Return the first day at whose end the margin is zero or more."""
    return int(event_days(bud_break_margin(found, mean, where), [0.0])[0])


def test_beech_by_hand_after_menzel() -> None:
    """164 days of chill need 1922 − 348 ln 164 = 147.2 °C d: 37 days of 4 °C d after them."""
    start = season_start(2014, False)
    mean = np.r_[np.zeros(164), np.full(100, 10.0)]
    found = break_position(clock("menzel", FAGUS), mean, Setting(start, 2014, 50.0))
    assert found == 164 + math.ceil((1922 - 348 * math.log(164)) / 4) - 1 == 200


def test_alternating_on_blueberry_is_as_good_as_an_independent_fit() -> None:
    """RMSE at Harvard Forest stays near the 2.98 d of the fit, far below plain thermal time.

    The constants were fitted independently to Vaccinium corymbosum, 1990-2001
    (48 bud breaks); the 36 of 1990-1998 are predicted here. Plain thermal time
    with base 0 from 1 January had 5.7 d.
    """
    errors = []
    for seen in observations():
        if seen.species == "Vaccinium corymbosum":
            spring = springs()[seen.year]
            where = Setting(spring.start, seen.year, spring.latitude)
            mean = spring.members.mean[0]
            errors.append(
                break_position(clock("alternating", VACCINIUM), mean, where) - seen.position
            )
    assert len(errors) == 36
    assert float(np.sqrt(np.mean(np.square(errors)))) <= 3.5


def _walk(model: ClockModel, given_: Mapping[str, float], mean: list[float], first: date) -> int:
    """Find the day by a plain walk through the days, formula by formula."""
    new_year = date(first.year + 1, 1, 1).toordinal()
    heat, cold = 0.0, 0
    for at, temperature in enumerate(mean):
        day = first.toordinal() + at - new_year + 1
        cold += temperature <= given_.get("chill_below", -99.0)
        if day < round(given_.get("start_day", 32.0)):
            continue
        warmth = max(temperature - given_["base"], 0.0)
        year_day = date.fromordinal(first.toordinal() + at).timetuple().tm_yday
        if model == "photothermal":
            warmth *= (float(day_length(45.0, year_day)) / 10) ** given_["exponent"]
        heat += warmth
        need = given_.get("requirement", 0.0)
        if model == "menzel":
            need = given_["a"] + (given_["b"] * math.log(cold) if cold else 0.0)
        elif model == "alternating":
            need = given_["a"] + given_["b"] * math.exp(given_["r"] * cold)
        if heat >= need:
            return at
    return -1


@EACH
def test_every_model_finds_the_day_of_a_plain_walk(
    model: ClockModel, parameters: Mapping[str, float]
) -> None:
    """On measured weather (NOAA, 6 season and place pairs) the day is that of a plain loop."""
    for location in ("New York", "Seattle"):
        start, extremes = noaa_extremes(location)
        for season in (2013, 2014, 2015):
            days = season_days(season, False)
            mean = extremes.mean(axis=0)[days.start - start : days.stop - start]
            where = Setting(days.start, season, 45.0)
            expected = _walk(model, parameters, mean.tolist(), date.fromordinal(days.start))
            assert break_position(clock(model, parameters), mean, where) == expected
            assert expected > 0


@EACH
@given(values=st.lists(st.floats(-20, 30), min_size=73, max_size=73))
def test_margins_never_fall(
    model: ClockModel, parameters: Mapping[str, float], values: list[float]
) -> None:
    """More days never take a margin away."""
    where = Setting(season_start(2014, False), 2014, 45.0)
    margin = bud_break_margin(clock(model, parameters), np.repeat(values, 5), where)
    counted = margin[np.isfinite(margin)]
    assert (np.diff(counted) >= -1e-6).all()


@EACH
def test_the_south_is_half_a_year_away(model: ClockModel, parameters: Mapping[str, float]) -> None:
    """New York's weather moved half a year breaks buds half a year later in the south."""
    start, extremes = noaa_extremes("New York")
    mean = extremes.mean(axis=0)
    found = clock(model, parameters)
    north = break_position(found, mean, Setting(start, 2014, 40.0)) + start
    south = break_position(found, mean, Setting(start + 182, 2014, -40.0)) + start + 182
    assert abs(south - north - 182) <= 3


def test_the_median_days_of_all_named_clocks_are_told_beside_the_default() -> None:
    """Each clock a taxon names has its median day; one that is never reached has none."""
    start, extremes = noaa_extremes("New York")
    days = season_days(2014, False)
    low, high = extremes[:, days.start - start : days.stop - start]
    members = Members(days.start, low[np.newaxis], high[np.newaxis], days.stop, days.stop)
    named = [clock(model, parameters) for model, parameters in MODELS]
    never = clock("thermal-time", {"start_day": 1.0, "base": 0.0, "requirement": 1e6})
    taxon = phenology(thermal(415, 0.12), alternatives=(*named, never))
    found = alternative_dates(taxon, members, 2014, 40.78)
    assert [name for name, _ in found] == [*(model for model, _ in MODELS), "thermal-time"]
    assert found[-1][1] is None
    assert all(day is not None and day.year == 2014 for _, day in found[:-1])


@pytest.mark.parametrize(
    ("model", "parameters"),
    [
        ("menzel", {"a": 1.0}),
        ("thermal-time", {**BEECH_HEAT, "extra": 1.0}),
        ("forest", BEECH_HEAT),
    ],
)
def test_a_clock_with_wrong_parameters_is_refused(
    model: str, parameters: Mapping[str, float]
) -> None:
    """Missing, further or unknown names are a fault of the taxon file."""
    with pytest.raises(ValidationError):
        AlternativeClock.model_validate(
            {"model": model, "parameters": parameters, "source": "a publication"}
        )


def test_a_series_that_lacks_its_chill_is_refused() -> None:
    """Counting chill from the middle of a winter raises instead of guessing."""
    where = Setting(season_start(2014, False) + 30, 2014, 45.0)
    with pytest.raises(RangeError, match="30 days after the chill"):
        bud_break_margin(clock("menzel", FAGUS), np.zeros(200), where)
