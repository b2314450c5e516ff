"""Local days and hours of hour numbers, and short gaps in a series closed."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import numpy as np

from mebuki.domain.weather import Floats, Ints, hour_number

_EPOCH_ORDINAL = 719163
_DAY_SECONDS = 86400

SHORT_GAP = 3
"""Missing hours in a row that may be bridged by a straight line (default)."""


def local_clock(hours: Ints, zone: ZoneInfo) -> tuple[Ints, Ints]:
    """Return the local day (proleptic ordinal) and local hour (0 to 23) of hour numbers.

    A local day has 23 or 25 hours when the clocks change.
    """
    moments = [datetime.fromtimestamp(int(hour) * 3600, UTC).astimezone(zone) for hour in hours]
    shifts = [moment.utcoffset() for moment in moments]
    offsets = np.array([shift.total_seconds() if shift else 0.0 for shift in shifts])
    seconds = np.asarray(hours, dtype=np.int64) * 3600 + offsets.astype(np.int64)
    return seconds // _DAY_SECONDS + _EPOCH_ORDINAL, seconds % _DAY_SECONDS // 3600


def local_hour(day: date, hour: int, zone: ZoneInfo) -> int:
    """Return the hour number of a local clock hour (0 to 23) on a local day."""
    return hour_number(datetime.combine(day, time(hour), tzinfo=zone))


def bridged(values: Floats, longest: int = SHORT_GAP) -> Floats:
    """Return a series in which gaps of at most ``longest`` hours are bridged linearly.

    Longer gaps, and gaps at either end, stay NaN: unknown is never made up.
    """
    known = np.isfinite(values)
    if known.all() or not known.any():
        return np.array(values, dtype=np.float64)
    where = np.arange(len(values))
    line = np.interp(where, where[known], values[known], left=np.nan, right=np.nan)
    before = np.maximum.accumulate(np.where(known, where, -1))
    after = np.minimum.accumulate(np.where(known, where, len(values))[::-1])[::-1]
    short = (after - before - 1) <= longest
    return np.asarray(np.where(known | short, line, np.nan))
