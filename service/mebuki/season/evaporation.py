"""Reference evaporation of short grass, daily and hourly, with the usual fall-backs.

Pressures in kPa, radiation in MJ m-2 d-1 (daily) or MJ m-2 h-1 (hourly), wind in
m s-1 at 2 m, evaporation in mm. The daily form is the one for balances; the
hourly form is only used to spread a day over its hours, since the sum of its 24
values is not the daily value.

References
----------
Allen, R. G., Pereira, L. S., Raes, D., Smith, M. (1998): Crop evapotranspiration.
FAO Irrigation and Drainage Paper 56, chapters 3 and 4.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.season.humidity import (
    atmospheric_pressure,
    psychrometric_constant,
    refuse_outside,
    saturation_slope,
    saturation_vapour_pressure,
)
from mebuki.season.radiation import SunHours, clear_sky_share, daily_extraterrestrial

ALBEDO = 0.23
"""Of the reference grass (FAO-56 eq. 38)."""

STEFAN_BOLTZMANN_DAY, STEFAN_BOLTZMANN_HOUR = 4.903e-9, 2.043e-10
"""[MJ K-4 m-2 d-1] and [MJ K-4 m-2 h-1] (FAO-56 eq. 39 and chapter 4)."""

LEAST_WIND = 0.5
"""Wind [m s-1] below which the air is stirred by its own buoyancy (FAO-56, chapter 3)."""

UNKNOWN_WIND = 2.0
"""Wind [m s-1] where none was measured: a mean over many stations (FAO-56, chapter 3)."""

RATIO_WITHOUT_DAY = 0.8
"""Rs/Rso of a night whose day was not seen, humid climate (FAO-56, chapter 3)."""


@dataclass(frozen=True, slots=True, eq=False)
class DayWeather:
    """What the daily form needs, one value a day or scalars.

    Parameters
    ----------
    minimum, maximum
        Air temperature [°C].
    vapour_pressure
        Actual, of the day [kPa].
    radiation
        Global radiation [MJ m-2 d-1].
    wind
        At 2 m [m s-1].
    """

    minimum: ArrayLike
    maximum: ArrayLike
    vapour_pressure: ArrayLike
    radiation: ArrayLike
    wind: ArrayLike


@dataclass(frozen=True, slots=True, eq=False)
class HourWeather:
    """What the hourly form needs: °C, kPa, MJ m-2 h-1, and m s-1 at 2 m."""

    temperature: ArrayLike
    vapour_pressure: ArrayLike
    radiation: ArrayLike
    wind: ArrayLike


def wind_at_two_metres(wind: ArrayLike, height: float = 10.0) -> Floats:
    """Return the wind at 2 m [m s-1] from that at another height [m] over grass.

    Raises
    ------
    RangeError
        If the height is outside 0.5 to 200 m or the wind outside 0 to 120 m s-1.

    References
    ----------
    FAO-56 eq. 47.
    """
    refuse_outside(height, "wind height", 0.5, 200, "m")
    refuse_outside(wind, "wind", 0, 120, "m/s")
    return np.asarray(np.asarray(wind, np.float64) * 4.87 / np.log(67.8 * height - 5.42))


def daily_vapour_pressure(
    minimum: ArrayLike,
    maximum: ArrayLike,
    dew_point: ArrayLike = np.nan,
    humidity_maximum: ArrayLike = np.nan,
    humidity_minimum: ArrayLike = np.nan,
    humidity_mean: ArrayLike = np.nan,
) -> Floats:
    """Return the day's actual vapour pressure [kPa] from the best that is known.

    In order: dew point (eq. 14), highest and lowest humidity (17), highest
    humidity alone (18), mean humidity (19), and last the minimum temperature as
    dew point (48). NaN means unknown, value by value.

    Raises
    ------
    RangeError
        If a humidity lies outside 0 to 100 %.

    References
    ----------
    FAO-56 eq. 14, 17, 18, 19, 48.
    """
    high, low, mean = (
        np.asarray(v, np.float64) for v in (humidity_maximum, humidity_minimum, humidity_mean)
    )
    for humidity in (high, low, mean):
        refuse_outside(humidity, "relative humidity", 0, 100, "%")
    cold, warm = saturation_vapour_pressure(minimum), saturation_vapour_pressure(maximum)
    best_first = (
        saturation_vapour_pressure(dew_point),
        (cold * high + warm * low) / 200,
        cold * high / 100,
        mean / 100 * (cold + warm) / 2,
        cold,
    )
    found = np.full(np.broadcast_shapes(*(v.shape for v in best_first)), np.nan)
    for candidate in best_first:
        found = np.where(np.isnan(found), candidate, found)
    return np.asarray(found)


def daily_net_radiation(
    weather: DayWeather, extraterrestrial: ArrayLike, elevation: float
) -> Floats:
    """Return the net radiation of the reference grass [MJ m-2 d-1].

    Raises
    ------
    RangeError
        If a radiation is negative or above 60 MJ m-2 d-1.

    References
    ----------
    FAO-56 eq. 37 to 40; Rs/Rso is held at or below 1, and is 1 in polar night.
    """
    refuse_outside(weather.radiation, "radiation", 0, 60, "MJ/m²/d")
    short = np.asarray(weather.radiation, np.float64)
    clear = clear_sky_share(elevation) * np.asarray(extraterrestrial, np.float64)
    ratio = np.where(clear > 0, short / np.where(clear > 0, clear, 1), 1.0)
    kelvins = [np.asarray(t, np.float64) + 273.16 for t in (weather.maximum, weather.minimum)]
    black = STEFAN_BOLTZMANN_DAY * (kelvins[0] ** 4 + kelvins[1] ** 4) / 2
    damp = 0.34 - 0.14 * np.sqrt(np.asarray(weather.vapour_pressure, np.float64))
    loss = black * damp * (1.35 * np.minimum(ratio, 1) - 0.35)
    return np.asarray((1 - ALBEDO) * short - loss)


def daily_reference_evaporation(
    weather: DayWeather,
    day: ArrayLike,
    latitude: float,
    elevation: float,
    soil_heat: ArrayLike = 0.0,
) -> Floats:
    """Return the reference evaporation of days [mm d-1].

    Parameters
    ----------
    weather
        See `DayWeather`.
    day
        Day of the year, 1 to 366.
    latitude
        Degrees, north positive.
    elevation
        [m].
    soil_heat
        Heat into the soil [MJ m-2 d-1]: 0 for a day, `monthly_soil_heat` for
        monthly means.

    Raises
    ------
    RangeError
        If latitude, radiation or wind is impossible.

    References
    ----------
    FAO-56 eq. 6.
    """
    refuse_outside(weather.wind, "wind", 0, 120, "m/s")
    low, high = np.asarray(weather.minimum, np.float64), np.asarray(weather.maximum, np.float64)
    mean, wind = (low + high) / 2, np.asarray(weather.wind, np.float64)
    slope = saturation_slope(mean)
    gamma = psychrometric_constant(atmospheric_pressure(elevation))
    saturated = (saturation_vapour_pressure(low) + saturation_vapour_pressure(high)) / 2
    net = daily_net_radiation(weather, daily_extraterrestrial(latitude, day), elevation)
    energy = 0.408 * slope * (net - np.asarray(soil_heat, np.float64))
    deficit = saturated - np.asarray(weather.vapour_pressure, np.float64)
    drying = gamma * 900 / (mean + 273) * wind * deficit
    return np.asarray((energy + drying) / (slope + gamma * (1 + 0.34 * wind)))


def monthly_soil_heat(before: ArrayLike, now: ArrayLike) -> Floats:
    """Return the soil heat of a month from two monthly mean temperatures (FAO-56 eq. 44)."""
    return np.asarray(0.14 * (np.asarray(now, np.float64) - np.asarray(before, np.float64)))


def hargreaves(minimum: ArrayLike, maximum: ArrayLike, extraterrestrial: ArrayLike) -> Floats:
    """Return the reference evaporation [mm d-1] from temperatures alone.

    Parameters
    ----------
    minimum, maximum
        Air temperature [°C].
    extraterrestrial
        [MJ m-2 d-1].

    Notes
    -----
    Made for weekly means; a single day may be off by 1 mm and more.

    References
    ----------
    FAO-56 eq. 52 (Hargreaves and Samani 1985).
    """
    low, high = np.asarray(minimum, np.float64), np.asarray(maximum, np.float64)
    span = np.sqrt(np.maximum(high - low, 0))
    millimetres = 0.408 * np.asarray(extraterrestrial, np.float64)
    return np.asarray(np.maximum(0.0023 * ((low + high) / 2 + 17.8) * span * millimetres, 0))


def sky_ratio(radiation: ArrayLike, sun: SunHours, elevation: float) -> Floats:
    """Return Rs/Rso of each hour, within 0.3 to 1.

    Nights, and hours whose radiation is unknown, take the newest ratio seen two
    to three hours before a sunset; before any was seen, 0.8.

    References
    ----------
    FAO-56, chapter 3, "Net longwave radiation" for hourly periods.
    """
    short = np.broadcast_to(np.asarray(radiation, np.float64), sun.angle.shape)
    clear = clear_sky_share(elevation) * sun.extraterrestrial
    ratio = np.clip(np.where(sun.up, short / np.where(sun.up, clear, 1), np.nan), 0.3, 1)
    late = sun.late & np.isfinite(ratio)
    newest = np.maximum.accumulate(np.where(late, np.arange(len(late)), -1))
    carried = np.where(newest >= 0, ratio[newest], RATIO_WITHOUT_DAY)
    return np.asarray(np.where(np.isfinite(ratio), ratio, carried))


def hourly_reference_evaporation(
    weather: HourWeather, daylight: ArrayLike, ratio: ArrayLike, elevation: float
) -> Floats:
    """Return the reference evaporation of hours [mm h-1]; small negatives mean dew.

    Parameters
    ----------
    weather
        See `HourWeather`.
    daylight
        Whether the sun is up: soil heat is 0.1 of the net radiation by day and
        0.5 by night (eq. 45, 46).
    ratio
        Rs/Rso from `sky_ratio`.
    elevation
        [m].

    Raises
    ------
    RangeError
        If radiation is negative or above 6 MJ m-2 h-1, or wind impossible.

    References
    ----------
    FAO-56 eq. 53, with the 1998 coefficient 0.34 by day and night.
    """
    refuse_outside(weather.radiation, "radiation", 0, 6, "MJ/m²/h")
    refuse_outside(weather.wind, "wind", 0, 120, "m/s")
    degrees, wind = np.asarray(weather.temperature, np.float64), np.asarray(weather.wind)
    actual = np.asarray(weather.vapour_pressure, np.float64)
    slope = saturation_slope(degrees)
    gamma = psychrometric_constant(atmospheric_pressure(elevation))
    loss = STEFAN_BOLTZMANN_HOUR * (degrees + 273.16) ** 4 * (0.34 - 0.14 * np.sqrt(actual))
    loss = loss * (1.35 * np.asarray(ratio) - 0.35)
    net = (1 - ALBEDO) * np.asarray(weather.radiation, np.float64) - loss
    energy = 0.408 * slope * net * np.where(daylight, 0.9, 0.5)
    deficit = np.maximum(saturation_vapour_pressure(degrees) - actual, 0)
    drying = gamma * 37 / (degrees + 273) * wind * deficit
    return np.asarray((energy + drying) / (slope + gamma * (1 + 0.34 * wind)))
