"""One series from several: the season to date without steps between models.

Two models differ at one place by a steady amount, often a degree or more;
joined as they are, a sum of degree days would take the step for weather. So
the older piece is shifted by the mean difference over the hours that both
have. What was measured goes over what was forecast; what is older than two
days is never touched again, so that a date once computed keeps its reasons.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from mebuki.domain.weather import COLUMNS, DailySeries, Floats, HourlySeries, Origin

FROZEN_AFTER = 48
"""Age of an hour [h] from which it is never changed."""

FEWEST_HOURS = 60 * 24
"""Hours in common from which an offset between two models is believed (60 days)."""

FEWEST_DAYS = 60
LARGEST_OFFSET = 6.0
"""Offset [K] beyond which two series are not of one place."""

FEWEST_COMPARED = 12
"""Hours in common from which two forecasts are compared."""

_Flags = NDArray[np.bool_]


def nothing(start: int) -> HourlySeries:
    """Return a series without hours."""
    none: Floats = np.empty(0)
    return HourlySeries(
        start=start, **dict.fromkeys(COLUMNS, none), origin=np.empty(0, dtype=np.int8)
    )


def on_axis(series: HourlySeries, start: int, stop: int) -> HourlySeries:
    """Return a series on the hours start <= hour < stop; hours it lacks are NaN and MISSING."""
    part = series.between(start, stop)
    length = max(stop - start, 0)
    columns = {name: np.full(length, np.nan) for name in COLUMNS}
    origin = np.full(length, Origin.MISSING, dtype=np.int8)
    if len(part.origin):
        here = slice(part.start - start, part.end - start)
        for name, values in columns.items():
            values[here] = getattr(part, name)
        origin[here] = part.origin
    return HourlySeries(start=start, origin=origin, **columns)


def offset(base: HourlySeries, other: HourlySeries, fewest: int = FEWEST_HOURS) -> float | None:
    """Return the mean of base less other [K] over their common hours.

    None if there are fewer than ``fewest`` of them, or the two differ by more
    than `LARGEST_OFFSET`.
    """
    start, stop = max(base.start, other.start), min(base.end, other.end)
    if stop <= start:
        return None
    apart = base.between(start, stop).air_temperature - other.between(start, stop).air_temperature
    there = np.isfinite(apart)
    if there.sum() < fewest:
        return None
    mean = float(apart[there].mean())
    return mean if abs(mean) <= LARGEST_OFFSET else None


def shifted(series: HourlySeries, by: float) -> HourlySeries:
    """Return a series with air temperature and dew point moved by some degrees."""
    return replace(
        series, air_temperature=series.air_temperature + by, dew_point=series.dew_point + by
    )


def lay_over(base: HourlySeries, above: HourlySeries, keep_before: int) -> HourlySeries:
    """Lay one series over another, hour by hour; see `lay_over_seen`."""
    return lay_over_seen(base, above, keep_before)[0]


def lay_over_seen(
    base: HourlySeries, above: HourlySeries, keep_before: int
) -> tuple[HourlySeries, _Flags]:
    """Lay one series over another, and tell which hours were taken from above.

    An hour of ``above`` with an air temperature takes the place of the one
    below, except where the one below is measured and either older than
    ``keep_before`` (an hour number) or laid over by a mere forecast.
    """
    if not len(base.origin):
        return above, np.isfinite(above.air_temperature)
    if not len(above.origin):
        return base, np.zeros(len(base.origin), dtype=bool)
    start, stop = min(base.start, above.start), max(base.end, above.end)
    low, high = on_axis(base, start, stop), on_axis(above, start, stop)
    known = np.isfinite(low.air_temperature) & (low.origin == Origin.MEASURED)
    kept = known & ((low.hours < keep_before) | (high.origin != Origin.MEASURED))
    take = np.isfinite(high.air_temperature) & ~kept
    columns = {name: np.where(take, getattr(high, name), getattr(low, name)) for name in COLUMNS}
    origin = np.where(take, high.origin, low.origin).astype(np.int8)
    return HourlySeries(start=start, origin=origin, **columns), take


def measured_until(series: HourlySeries, until: int) -> HourlySeries:
    """Return the hours up to ``until`` (an hour number, included), marked as measured."""
    part = series.between(series.start, until + 1)
    there = np.isfinite(part.air_temperature)
    origin = np.where(there, Origin.MEASURED, Origin.MISSING).astype(np.int8)
    return replace(part, origin=origin)


def forecast_after(series: HourlySeries, after: int) -> HourlySeries:
    """Return the hours after ``after`` (an hour number), marked as forecast."""
    part = series.between(max(after + 1, series.start), series.end)
    there = np.isfinite(part.air_temperature)
    return replace(part, origin=np.where(there, Origin.FORECAST, Origin.MISSING).astype(np.int8))


def missing_stretches(
    series: HourlySeries, first: int, stop: int, least: int
) -> list[tuple[int, int]]:
    """Return (first hour, hour after) of each stretch of so many hours without a temperature."""
    gone = np.isnan(on_axis(series, first, stop).air_temperature).astype(np.int8)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], gone, [0])))).reshape(-1, 2)
    return [(first + int(low), first + int(high)) for low, high in edges if high - low >= least]


def daily_offsets(recent: DailySeries, past: DailySeries) -> tuple[float, float] | None:
    """Return by how much [K] past minima and maxima must move to fit the recent series.

    The mean differences over at least `FEWEST_DAYS` common days; none without them.
    """
    start, stop = max(recent.start, past.start), min(recent.end, past.end)
    moves = []
    for name in ("minimum", "maximum"):
        apart = (
            getattr(recent, name)[max(start - recent.start, 0) : max(stop - recent.start, 0)]
            - getattr(past, name)[max(start - past.start, 0) : max(stop - past.start, 0)]
        )
        there = np.isfinite(apart)
        if there.sum() < FEWEST_DAYS or abs(apart[there].mean()) > LARGEST_OFFSET:
            return None
        moves.append(float(apart[there].mean()))
    return moves[0], moves[1]


def disagreement(one: HourlySeries, other: HourlySeries, first: int, stop: int) -> float | None:
    """Return the root mean square difference [K] of two air temperatures over some hours.

    None with fewer than 12 hours in common.
    """
    apart = on_axis(one, first, stop).air_temperature - on_axis(other, first, stop).air_temperature
    there = np.isfinite(apart)
    if there.sum() < FEWEST_COMPARED:
        return None
    return float(np.sqrt((apart[there] ** 2).mean()))
