"""Sun at the top of the air and at the ground, and estimates where it was not measured.

Daily sums in MJ m-2 d-1, hourly sums in MJ m-2 h-1, means in W m-2. Longitudes
are degrees east; hours are hour numbers in UTC, each the *end* of its hour, so
that daylight saving time cannot enter.

References
----------
Allen, R. G., Pereira, L. S., Raes, D., Smith, M. (1998): Crop evapotranspiration.
FAO Irrigation and Drainage Paper 56, chapter 3 (eq. 21 to 37) and eq. 50.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.site import Site
from mebuki.domain.weather import Floats, HourlySeries, Ints
from mebuki.season.humidity import refuse_outside
from mebuki.season.local_time import local_clock
from mebuki.season.seasons import days_of_year

Flags = NDArray[np.bool_]

SOLAR_CONSTANT = 0.0820
"""[MJ m-2 min-1] (FAO-56 eq. 21)."""

RANGE_INLAND, RANGE_COAST = 0.16, 0.19
"""Adjustment of eq. 50 [K-0.5]: inland and on a coast (FAO-56 eq. 50)."""

CLOUD_WEIGHT = 0.85
"""Share of the clear-sky long-wave loss that full cloud takes away (from memory)."""

RANGE_HOURS = 20
"""Hours with a temperature that a local day needs for its range to count (default)."""

MEGAJOULES = 3600 / 1e6
"""From a mean of an hour [W m-2] to its sum [MJ m-2]."""


def declination(day: ArrayLike) -> Floats:
    """Return the sun's declination [rad] on a day of the year (FAO-56 eq. 24)."""
    return np.asarray(0.409 * np.sin(2 * np.pi * np.asarray(day) / 365 - 1.39))


def inverse_distance(day: ArrayLike) -> Floats:
    """Return the inverse relative distance Earth to sun (FAO-56 eq. 23)."""
    return np.asarray(1 + 0.033 * np.cos(2 * np.pi * np.asarray(day) / 365))


def sunset_angle(latitude: ArrayLike, day: ArrayLike) -> Floats:
    """Return the sunset hour angle [rad]: π in polar day, 0 in polar night.

    References
    ----------
    FAO-56 eq. 25, its argument held within −1 to 1.
    """
    refuse_outside(latitude, "latitude", -90, 90, "°")
    angle = -np.tan(np.radians(np.asarray(latitude, np.float64))) * np.tan(declination(day))
    return np.asarray(np.arccos(np.clip(angle, -1, 1)))


def daylight_hours(latitude: ArrayLike, day: ArrayLike) -> Floats:
    """Return the longest possible sunshine [h] of a day of the year (FAO-56 eq. 34)."""
    return np.asarray(24 / np.pi * sunset_angle(latitude, day))


def daily_extraterrestrial(latitude: ArrayLike, day: ArrayLike) -> Floats:
    """Return the sun at the top of the air [MJ m-2 d-1] (FAO-56 eq. 21)."""
    sunset, tilt = sunset_angle(latitude, day), declination(day)
    phi = np.radians(np.asarray(latitude, np.float64))
    geometry = sunset * np.sin(phi) * np.sin(tilt) + np.cos(phi) * np.cos(tilt) * np.sin(sunset)
    return np.asarray(1440 / np.pi * SOLAR_CONSTANT * inverse_distance(day) * geometry)


@dataclass(frozen=True, slots=True, eq=False)
class SunHours:
    """The sun of each hour: extraterrestrial sum [MJ m-2 h-1] and angles [rad]."""

    extraterrestrial: Floats
    angle: Floats
    sunset: Floats

    @property
    def up(self) -> Flags:
        """Whether the sun stands above the horizon in some part of the hour."""
        return np.asarray(self.extraterrestrial > 0)

    @property
    def late(self) -> Flags:
        """Whether the middle of the hour lies two to three hours before sunset.

        References
        ----------
        FAO-56, chapter 3, "Net longwave radiation" for hourly periods.
        """
        before = self.sunset - self.angle
        return np.asarray((before >= 0.52) & (before <= 0.79) & self.up)


def sun_hours(hours: Ints, latitude: float, longitude: float) -> SunHours:
    """Return the sun of the hours that end at hour numbers (UTC).

    References
    ----------
    FAO-56 eq. 28 to 33, with solar time from the longitude itself.
    """
    solar = np.asarray(hours, dtype=np.float64) - 0.5 + longitude / 15
    day = days_of_year(np.floor(solar / 24).astype(np.int64) + 719163)
    b = 2 * np.pi * (day - 81) / 364
    correction = 0.1645 * np.sin(2 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)
    angle = (np.pi / 12 * (solar % 24 + correction - 12) + np.pi) % (2 * np.pi) - np.pi
    sunset, tilt, phi = sunset_angle(latitude, day), declination(day), np.radians(latitude)
    first = np.clip(angle - np.pi / 24, -sunset, sunset)
    second = np.clip(angle + np.pi / 24, -sunset, sunset)
    geometry = (second - first) * np.sin(phi) * np.sin(tilt)
    geometry = geometry + np.cos(phi) * np.cos(tilt) * (np.sin(second) - np.sin(first))
    outside = 720 / np.pi * SOLAR_CONSTANT * inverse_distance(day) * geometry
    return SunHours(np.maximum(outside, 0.0), angle, sunset)


def clear_sky_share(elevation: float) -> float:
    """Return the share of the extraterrestrial sun that a clear sky lets through.

    References
    ----------
    FAO-56 eq. 37.
    """
    return 0.75 + 2e-5 * elevation


def from_sunshine(extraterrestrial: ArrayLike, sunshine: ArrayLike, daylight: ArrayLike) -> Floats:
    """Return global radiation from hours of sunshine (FAO-56 eq. 35, a 0.25, b 0.50).

    Parameters
    ----------
    extraterrestrial
        [MJ m-2 d-1].
    sunshine, daylight
        Hours of bright sun, and the longest possible.
    """
    longest = np.asarray(daylight, np.float64)
    share = np.asarray(sunshine, np.float64) / np.where(longest > 0, longest, np.nan)
    share = np.where(longest > 0, np.clip(share, 0, 1), 0.0)
    return np.asarray((0.25 + 0.50 * share) * np.asarray(extraterrestrial))


def from_temperature_range(
    extraterrestrial: ArrayLike,
    minimum: ArrayLike,
    maximum: ArrayLike,
    adjustment: float = RANGE_INLAND,
) -> Floats:
    """Return global radiation estimated from the day's temperature range.

    Parameters
    ----------
    extraterrestrial
        [MJ m-2 d-1].
    minimum, maximum
        Air temperature of the day [°C].
    adjustment
        0.16 inland, 0.19 on a coast.

    References
    ----------
    FAO-56 eq. 50 (Hargreaves' radiation formula).
    """
    span = np.maximum(np.asarray(maximum, np.float64) - np.asarray(minimum, np.float64), 0)
    return np.asarray(adjustment * np.sqrt(span) * np.asarray(extraterrestrial))


@dataclass(frozen=True, slots=True, eq=False)
class FilledSky:
    """A series whose missing radiation and cloud were estimated, and where they were."""

    series: HourlySeries
    radiation_estimated: Flags
    cloud_estimated: Flags


def with_sky(hourly: HourlySeries, site: Site, adjustment: float = RANGE_INLAND) -> FilledSky:
    """Return the series with missing radiation and cloud estimated from the daily range.

    The range of a local day gives the share of the sun that came through (eq. 50,
    at most that of a clear sky); each hour gets that share of its own sun at the
    top of the air. Cloud follows from the same share through the cloud term of
    the net long-wave radiation (eq. 39), which is 1 under a clear sky. A day
    with too few temperatures takes the share of its neighbours; where no day has
    a range, nothing is filled.

    Notes
    -----
    To be used on the site's open air, before a place changes the temperatures.

    References
    ----------
    FAO-56 eq. 39 and 50.
    """
    share = _clearness(hourly, site, adjustment)
    sun = sun_hours(hourly.hours, site.latitude, site.longitude)
    no_radiation = np.isnan(hourly.global_radiation)
    no_cloud = np.isnan(hourly.cloud_cover)
    radiation = share * sun.extraterrestrial / MEGAJOULES
    loss = 1.35 * share / clear_sky_share(site.elevation) - 0.35
    cloud = np.clip((1 - loss) / CLOUD_WEIGHT, 0, 1)
    series = replace(
        hourly,
        global_radiation=np.where(no_radiation, radiation, hourly.global_radiation),
        cloud_cover=np.where(no_cloud, cloud, hourly.cloud_cover),
    )
    return FilledSky(
        series,
        radiation_estimated=no_radiation & np.isfinite(series.global_radiation),
        cloud_estimated=no_cloud & np.isfinite(series.cloud_cover),
    )


def _clearness(hourly: HourlySeries, site: Site, adjustment: float) -> Floats:
    if not len(hourly.origin):
        return np.empty(0)
    days, _ = local_clock(hourly.hours, site.zone)
    slot = days - days[0]
    known = np.isfinite(hourly.air_temperature)
    size = int(slot[-1]) + 1
    low, high = np.full(size, np.inf), np.full(size, -np.inf)
    np.minimum.at(low, slot[known], hourly.air_temperature[known])
    np.maximum.at(high, slot[known], hourly.air_temperature[known])
    enough = np.bincount(slot[known], minlength=size) >= RANGE_HOURS
    if not enough.any():
        return np.full(len(slot), np.nan)
    span = np.sqrt(high[enough] - low[enough])
    share = np.minimum(adjustment * span, clear_sky_share(site.elevation))
    return np.asarray(np.interp(slot, np.flatnonzero(enough), share))
