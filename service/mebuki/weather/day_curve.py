"""Hours drawn from daily extremes, for days of which no hours are known.

A stand-in for replays: half a cosine from the morning minimum to the
afternoon maximum and back, at fixed local hours. The season's own models
draw their hours from the length of the day instead.
"""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np

from mebuki.domain.weather import DailySeries, Floats, HourlySeries, Origin
from mebuki.weather.local_days import local_midnights

COLDEST_AT, WARMEST_AT = 6, 15
"""Local hours of the minimum and the maximum."""

DEW_POINT_BELOW_MINIMUM = 2.0
"""Dew point below the night's minimum, a mean of fair and wet nights [K]."""

HOURS_A_DAY = timedelta(days=1) // timedelta(hours=1)


def hours_from_days(days: DailySeries, zone: ZoneInfo, origin: Origin) -> HourlySeries:
    """Return hours from the first local midnight to the last, drawn from daily extremes.

    Temperature as in the module's description, dew point from the minimum,
    wind as the day's mean, precipitation spread evenly; snow, sun and cloud are NaN.
    """
    midnights = local_midnights(days.start, days.end, zone)
    hours = np.arange(midnights[0], midnights[-1], dtype=np.int64)
    day = np.searchsorted(midnights, hours, side="right") - 1
    day_of_rain = np.maximum(np.searchsorted(midnights, hours, side="left") - 1, 0)
    at = np.stack((midnights[:-1] + COLDEST_AT, midnights[:-1] + WARMEST_AT), axis=1).ravel()
    extremes = np.stack((days.minimum, days.maximum), axis=1).ravel()
    temperature = _half_cosines(hours, at, extremes)
    nothing = np.full(len(hours), np.nan)
    return HourlySeries(
        start=int(midnights[0]),
        air_temperature=temperature,
        dew_point=np.minimum(days.minimum[day] - DEW_POINT_BELOW_MINIMUM, temperature),
        wind_speed=days.wind_speed[day],
        precipitation=days.precipitation[day_of_rain] / HOURS_A_DAY,
        snowfall=nothing,
        global_radiation=nothing,
        cloud_cover=nothing,
        origin=np.where(np.isfinite(temperature), origin, Origin.MISSING).astype(np.int8),
    )


def _half_cosines(hours: np.ndarray, at: np.ndarray, values: Floats) -> Floats:
    right = np.clip(np.searchsorted(at, hours, side="right"), 1, len(at) - 1)
    left = right - 1
    share = np.clip((hours - at[left]) / (at[right] - at[left]), 0, 1)
    weight = (1 - np.cos(np.pi * share)) / 2
    return np.asarray(values[left] + weight * (values[right] - values[left]))
