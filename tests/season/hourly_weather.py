"""Small hourly series for the tests of frost, roots and water."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import COLUMNS, Floats, HourlySeries, Origin, hour_number


def hour_of(text: str) -> int:
    """Return the hour number of a UTC moment such as ``2013-04-01T12``."""
    return hour_number(datetime.fromisoformat(text).replace(tzinfo=UTC))


def some_hours(
    start: str, air: ArrayLike, origin: Origin = Origin.MEASURED, **columns: ArrayLike
) -> HourlySeries:
    """Return a series from its air temperatures; columns not named are calm, dry and unknown.

    Wind is 2 m s-1, precipitation and snow 0, dew point 3 K below the air, radiation
    and cloud unknown.
    """
    temperature = np.asarray(air, dtype=np.float64)
    size = len(temperature)
    values: dict[str, Floats] = {
        "air_temperature": temperature,
        "dew_point": temperature - 3,
        "wind_speed": np.full(size, 2.0),
        "precipitation": np.zeros(size),
        "snowfall": np.zeros(size),
        "global_radiation": np.full(size, np.nan),
        "cloud_cover": np.full(size, np.nan),
    }
    for name, column in columns.items():
        assert name in COLUMNS
        values[name] = np.broadcast_to(np.asarray(column, dtype=np.float64), (size,)).copy()
    known = np.isfinite(temperature)
    codes = np.where(known, int(origin), int(Origin.MISSING)).astype(np.int8)
    return HourlySeries(start=hour_of(start), **values, origin=codes)


def a_daily_wave(days: int, mean: float, swing: float) -> Floats:
    """Return hourly air temperatures [°C] of a sine with its minimum at 5 h, maximum at 17 h."""
    hours = np.arange(24 * days)
    return np.asarray(mean - swing * np.cos(2 * np.pi * (hours - 5) / 24))
