"""Reference evaporation of a weather series: the day's total, spread over its hours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.weather import DailySeries, Floats, HourlySeries, Ints
from mebuki.season.evaporation import (
    LEAST_WIND,
    UNKNOWN_WIND,
    DayWeather,
    HourWeather,
    daily_reference_evaporation,
    daily_vapour_pressure,
    hourly_reference_evaporation,
    sky_ratio,
    wind_at_two_metres,
)
from mebuki.season.humidity import saturation_vapour_pressure
from mebuki.season.local_time import bridged, local_clock
from mebuki.season.radiation import (
    MEGAJOULES,
    daily_extraterrestrial,
    from_temperature_range,
    sun_hours,
)
from mebuki.season.seasons import days_of_year

WHOLE_DAY = 23
"""Hours a local day must have for its daily total to be computed."""


@dataclass(frozen=True, slots=True, eq=False)
class EvaporationHours:
    """Reference evaporation of each hour [mm]; NaN where the air is unknown.

    ``days`` are the local days (ordinals) of the series, ``totals`` their sums of
    the hours there are [mm]: NaN for a day with an unknown hour.
    """

    start: int
    hours: Floats
    days: Ints
    totals: Floats

    def total(self, day: int) -> float:
        """Return the total [mm] of a local day (ordinal), NaN outside the series."""
        found = np.flatnonzero(self.days == day)
        return float(self.totals[found[0]]) if found.size else float("nan")


def reference_evaporation_hours(here: HourlySeries, site: Site) -> EvaporationHours:
    """Return the reference evaporation at a place, hour by hour.

    Each whole local day gets the total of the daily form (eq. 6), spread over its
    hours in proportion to the hourly form (eq. 53), that is by radiation, dryness
    of the air and wind. Days that the series cuts off, or with an unknown hour,
    keep the hourly form itself. Gaps of up to three hours are bridged; unknown
    wind is 2 m s-1, unknown dew point the minimum of the local day.

    Parameters
    ----------
    here
        Weather at the place, with radiation (see `radiation.with_sky`).
    site
        For latitude, elevation and local days.

    References
    ----------
    Allen et al. (1998), FAO-56 eq. 6, 48 and 53.
    """
    if not len(here.origin):
        nothing = np.empty(0)
        return EvaporationHours(here.start, nothing, np.empty(0, np.int64), nothing)
    days, _ = local_clock(here.hours, site.zone)
    slot = days - days[0]
    weather = _hour_weather(here, slot)
    sun = sun_hours(here.hours, site.latitude, site.longitude)
    ratio = sky_ratio(weather.radiation, sun, site.elevation)
    shape = hourly_reference_evaporation(weather, sun.up, ratio, site.elevation)
    shape = np.maximum(shape, 0)
    hours = _spread(shape, _day_totals(weather, slot, int(days[0]), site), slot)
    axis = np.arange(days[0], days[-1] + 1)
    totals = np.asarray(np.bincount(slot, weights=hours), dtype=np.float64)
    return EvaporationHours(here.start, hours, axis, totals)


def reference_evaporation_days(daily: DailySeries, site: Site) -> Floats:
    """Return the reference evaporation [mm d-1] of daily extremes, rain and wind alone.

    Radiation comes from the temperature range (eq. 50) and vapour pressure from
    the minimum (eq. 48), as FAO-56 example 20 does.
    """
    day = days_of_year(daily.days)
    outside = daily_extraterrestrial(site.latitude, day)
    wind = np.where(np.isnan(daily.wind_speed), np.nan, daily.wind_speed)
    wind = np.where(np.isnan(wind), UNKNOWN_WIND, wind_at_two_metres(wind))
    weather = DayWeather(
        minimum=daily.minimum,
        maximum=daily.maximum,
        vapour_pressure=daily_vapour_pressure(daily.minimum, daily.maximum),
        radiation=from_temperature_range(outside, daily.minimum, daily.maximum),
        wind=np.maximum(wind, LEAST_WIND),
    )
    found = daily_reference_evaporation(weather, day, site.latitude, site.elevation)
    return np.asarray(np.maximum(found, 0))


def _hour_weather(here: HourlySeries, slot: Ints) -> HourWeather:
    air = bridged(here.air_temperature)
    known = np.isfinite(air)
    lowest = np.full(int(slot[-1]) + 1, np.inf)
    np.minimum.at(lowest, slot[known], air[known])
    dew = bridged(here.dew_point)
    dew = np.where(np.isnan(dew), lowest[slot], dew)
    wind = bridged(here.wind_speed)
    wind = np.where(np.isnan(wind), UNKNOWN_WIND, wind_at_two_metres(wind))
    radiation = bridged(here.global_radiation) * MEGAJOULES
    return HourWeather(
        temperature=air,
        vapour_pressure=saturation_vapour_pressure(np.minimum(dew, air)),
        radiation=np.maximum(radiation, 0),
        wind=np.maximum(wind, LEAST_WIND),
    )


def _day_totals(weather: HourWeather, slot: Ints, first: int, site: Site) -> Floats:
    size = int(slot[-1]) + 1
    count = np.bincount(slot, minlength=size)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(slot, weights=values, minlength=size) / count)

    air = np.asarray(weather.temperature)
    known = np.isfinite(air)
    low, high = np.full(size, np.inf), np.full(size, -np.inf)
    np.minimum.at(low, slot[known], air[known])
    np.maximum.at(high, slot[known], air[known])
    day = DayWeather(
        minimum=np.where(np.isfinite(low), low, np.nan),
        maximum=np.where(np.isfinite(high), high, np.nan),
        vapour_pressure=mean(np.asarray(weather.vapour_pressure)),
        radiation=mean(np.asarray(weather.radiation)) * count,
        wind=mean(np.asarray(weather.wind)),
    )
    number = days_of_year(np.arange(first, first + size))
    total = daily_reference_evaporation(day, number, site.latitude, site.elevation)
    return np.asarray(np.where(count >= WHOLE_DAY, np.maximum(total, 0), np.nan))


def _spread(shape: Floats, totals: Floats, slot: Ints) -> Floats:
    sums = np.bincount(slot, weights=shape)
    count = np.bincount(slot)
    factor = totals / np.where(sums > 0, sums, np.nan)
    even = np.where((sums <= 0) & np.isfinite(totals), totals / np.maximum(count, 1), np.nan)
    spread = np.where(np.isfinite(factor[slot]), shape * factor[slot], shape)
    return np.asarray(np.where(np.isfinite(even[slot]), even[slot], spread))
