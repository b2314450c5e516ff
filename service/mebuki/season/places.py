"""What a place in the garden does to the weather of the open site."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from mebuki.domain.site import Place
from mebuki.domain.weather import DailySeries, Floats, HourlySeries
from mebuki.season.local_time import bridged
from mebuki.season.members import FeltHere


def at_place(hourly: HourlySeries, place: Place) -> HourlySeries:
    """Return the hourly weather that a tree at a place has.

    The air takes the place's offset, then follows the outside with a first-order
    lag, and is held at the place's minimum. Wind, rain, snow and sun reach the
    tree by their shares. The dew point stays that of the open air but never
    exceeds the air temperature. Missing hours stay missing; under a lag the air
    inside starts anew with the outside air after a long gap.

    Parameters
    ----------
    hourly
        The site's weather in the open.
    place
        Where the tree stands.

    Notes
    -----
    The lag model has one time constant and no sun: a closed glass house on a
    sunny day is warmer than this says.

    References
    ----------
    First-order lag: the lumped-capacity solution of any heat-transfer text. The
    shares and offsets are the keeper's; their defaults are our own design.
    """
    outside = hourly.air_temperature + place.temperature_offset
    air = lagged(bridged(outside), place.lag_hours)
    air = np.where(np.isnan(outside), np.nan, air)
    if place.minimum_held is not None:
        air = np.maximum(air, place.minimum_held)
    return replace(
        hourly,
        air_temperature=air,
        dew_point=np.minimum(hourly.dew_point, air),
        wind_speed=hourly.wind_speed * place.wind_share,
        precipitation=hourly.precipitation * place.rain_share,
        snowfall=hourly.snowfall * place.rain_share,
        global_radiation=hourly.global_radiation * place.sun_share,
    )


def daily_at_place(daily: DailySeries, place: Place) -> DailySeries:
    """Return the daily weather that a tree at a place has.

    A lag shrinks the day's range by the amplitude of a first-order system under
    a daily wave, 1/√(1 + (ωτ)²); the mean of the day stays.

    References
    ----------
    Response of a first-order system to a sine: any heat-transfer text.
    """
    minimum, maximum = FeltHere.at(place).of(daily.minimum, daily.maximum)
    return replace(
        daily,
        minimum=minimum,
        maximum=maximum,
        precipitation=daily.precipitation * place.rain_share,
        wind_speed=daily.wind_speed * place.wind_share,
    )


def lagged(outside: Floats, hours: float) -> Floats:
    """Return the air [°C] behind a first-order lag of a time constant [h].

    The outside air is taken as linear between full hours, for which the step is
    exact. NaN stays NaN; the hour after it starts with the outside air.
    """
    if hours <= 0:
        return np.array(outside, dtype=np.float64)
    decay = float(np.exp(-1 / hours))
    inside = np.empty(len(outside))
    before, earlier = np.nan, np.nan
    for hour, now in enumerate(outside.tolist()):
        if np.isnan(before) or np.isnan(now):
            before = now
        else:
            slope = now - earlier
            before = now - slope * hours + (before - earlier + slope * hours) * decay
        inside[hour], earlier = before, now
    return inside
