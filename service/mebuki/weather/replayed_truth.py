"""The truth behind a replay: recorded hours without holes, continued by recorded days."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from mebuki.domain.weather import (
    COLUMNS,
    Climate,
    DailySeries,
    Floats,
    HourlySeries,
    Origin,
    calendar_slot,
)
from mebuki.weather.day_curve import hours_from_days
from mebuki.weather.gaps import append_hours, fill_like_neighbours
from mebuki.weather.local_days import climate_from_days, daily_from_hourly, from_day, local_day
from mebuki.weather.plausibility import check
from mebuki.weather.replayed_forecast import Errors, draw_errors

SMOOTHED_DAYS = 31
"""Width of the running mean that makes a climate mean of a few years [days]."""

SEAM_FADES = 12
"""Hours in which the step where the hours end and the daily extremes begin dies away [h]."""

_RAIN_AND_SNOW = ("precipitation", "snowfall")


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """What is worked out once for a time zone.

    Parameters
    ----------
    truth
        Hours without holes, as far as the files reach. Only `replayed_forecast` may see them.
    climate_mean
        Air temperature of the past years [°C] on the axis of the truth, or none.
    first_day, last_day
        Ordinals of the local days for which a picture can be had.
    """

    truth: HourlySeries
    climate_mean: Floats | None
    climate: Climate
    errors: Errors
    first_day: int
    last_day: int


def set_stage(series: HourlySeries, days: DailySeries | None, zone: ZoneInfo, seed: int) -> Stage:
    """Work out truth, climate and errors from recorded hours and, if there are any, days.

    Years of which the hours hold any day are left out of the climate.
    """
    checked, _ = check(series, doubt_newest=False)
    own = daily_from_hourly(checked, zone)
    years = {date.fromordinal(int(d)).year for d in own.days[own.origin != Origin.MISSING]}
    climate = climate_from_days(days or own, leave_out=years)
    truth = _filled(checked)
    if days is not None:
        truth = _continued(truth, days, zone)
    return Stage(
        truth=truth,
        climate_mean=_climate_mean(climate, truth, zone) if climate.years else None,
        climate=climate,
        errors=draw_errors(seed, truth.start, len(truth.origin)),
        first_day=local_day(series.start, zone),
        last_day=local_day(series.end - 1, zone) + 1,
    )


def _filled(series: HourlySeries) -> HourlySeries:
    columns: dict[str, Floats] = {}
    for name in COLUMNS:
        column: Floats = getattr(series, name)
        if name not in _RAIN_AND_SNOW:
            columns[name] = fill_like_neighbours(column)
        else:
            columns[name] = np.nan_to_num(column) if np.isfinite(column).any() else column
    return HourlySeries(start=series.start, origin=series.origin, **columns)


def _continued(truth: HourlySeries, days: DailySeries, zone: ZoneInfo) -> HourlySeries:
    """Append hours drawn from the days after the hours end, shifted to meet them."""
    last = local_day(truth.end - 1, zone)
    drawn = hours_from_days(from_day(days, last - 1), zone, Origin.MEASURED)
    beyond = drawn.between(truth.end, drawn.end)
    if last >= days.end or not len(beyond.origin) or beyond.start != truth.end:
        return truth
    seam = truth.air_temperature[-1] - drawn.air_temperature[truth.end - 1 - drawn.start]
    shift = seam * np.exp(-np.arange(1, len(beyond.origin) + 1) / SEAM_FADES)
    temperature = beyond.air_temperature + shift
    dew_point = np.minimum(beyond.dew_point, temperature)
    return append_hours(truth, replace(beyond, air_temperature=temperature, dew_point=dew_point))


def _climate_mean(climate: Climate, truth: HourlySeries, zone: ZoneInfo) -> Floats:
    """Mean air temperature [°C] of the past years for each hour of a series."""
    first, stop = local_day(truth.start, zone), local_day(truth.end - 1, zone) + 2
    days = [date.fromordinal(day) for day in range(first - 1, stop)]
    slots = [calendar_slot(day) for day in days]
    low, high = (_smoothed(part.mean(axis=0))[slots] for part in (climate.minimum, climate.maximum))
    nothing = np.full(len(days), np.nan)
    origin = np.full(len(days), Origin.CLIMATE, dtype=np.int8)
    drawn = hours_from_days(
        DailySeries(first - 1, low, high, nothing, nothing, origin), zone, Origin.CLIMATE
    )
    return drawn.between(truth.start, truth.end).air_temperature


def _smoothed(year: Floats) -> Floats:
    half = SMOOTHED_DAYS // 2
    ring = np.concatenate((year[-half:], year, year[:half]))
    return np.convolve(ring, np.full(SMOOTHED_DAYS, 1 / SMOOTHED_DAYS), mode="valid")
