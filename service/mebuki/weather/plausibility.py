"""Plausibility of hourly values: physical limits, spikes, impossible clusters, stuck sensors.

A rejected value becomes NaN and is handed back as `Rejected`, to be shown and
never used. The thresholds stand above what real weather does at one place:
in the three hourly years of 2013 at New York's airports the sharpest real
change is 7.6 °C in an hour (a front; it stays on the new level) and the
sharpest single hour that comes back is 3.3 °C (a shower); the dew point fell
by more than 12 °C in an hour when dry air came in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from mebuki.domain.weather import Floats, HourlySeries, Origin, Rejected, hour_moment

LIMITS: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "air_temperature": (-60.0, 55.0, "°C"),
        "dew_point": (-80.0, 35.0, "°C"),
        "wind_speed": (0.0, 75.0, "m/s"),
        "precipitation": (0.0, 200.0, "mm in an hour"),
        "snowfall": (0.0, 200.0, "mm in an hour"),
        "global_radiation": (-10.0, 1500.0, "W/m²"),
        "cloud_cover": (0.0, 1.0, ""),
    }
)
"""Lowest and highest value that can be, with the unit."""

DEW_POINT_ABOVE_AIR = 0.6
"""Dew point above air temperature that rounding and two instruments explain [°C]."""

LONGEST_CLUSTER = 6
"""Hours that a run of false values may last and still be known as such."""

LONGEST_HOLE = 3
"""Missing hours across which neighbours are still compared [h]."""

SIDES_AGREE = 2 / 3
"""Share of the limit within which both sides of a spike must agree; the day's course fits in."""

STUCK_HOURS = 24
"""Hours of one and the same temperature that no real air has [h]."""

_Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Jump:
    """How far a value may stand out from both sides: one hour alone, or several in a row."""

    alone: float
    cluster: float
    unit: str


_JUMPS = {
    "air_temperature": _Jump(8.0, 15.0, "°C"),
    "dew_point": _Jump(15.0, 20.0, "°C"),
    "wind_speed": _Jump(25.0, 30.0, "m/s"),
}


def check(
    series: HourlySeries, *, doubt_newest: bool = True
) -> tuple[HourlySeries, tuple[Rejected, ...]]:
    """Take implausible values out of a series.

    Parameters
    ----------
    doubt_newest
        Also hold back a sharp jump at the very end, where no later hour can
        confirm it yet: one hour if it is of the size of a spike, up to
        `LONGEST_CLUSTER` hours if it is beyond any front. Right for measured
        hours; a forecast is checked without.

    Returns
    -------
    tuple
        The series with rejected values as NaN (origin ``MISSING`` where the
        air temperature went), and what was rejected, in order of time. The
        dew point of a rejected air temperature is rejected with it.
    """
    values = {name: getattr(series, name).copy() for name in LIMITS}
    rejected: list[Rejected] = []

    def drop(name: str, flags: _Flags, rule: str) -> None:
        flags = flags & np.isfinite(values[name])
        for index in np.flatnonzero(flags):
            moment = hour_moment(series.start + int(index))
            rejected.append(Rejected(moment, name, float(values[name][index]), rule))
        values[name][flags] = np.nan

    for name, (low, high, unit) in LIMITS.items():
        with np.errstate(invalid="ignore"):
            outside = (values[name] < low) | (values[name] > high)
        drop(name, outside, f"outside {low:g} to {high:g} {unit}".rstrip())
    for name, jump in _JUMPS.items():
        for flags, rule in _standing_out(values[name], jump, doubt_newest=doubt_newest):
            drop(name, flags, rule)
    drop("air_temperature", _stuck(values["air_temperature"]), f"the same for {STUCK_HOURS} h")
    gone = np.isfinite(series.air_temperature) & np.isnan(values["air_temperature"])
    drop("dew_point", gone, "measured beside a rejected air temperature")
    with np.errstate(invalid="ignore"):
        wet = values["dew_point"] > values["air_temperature"] + DEW_POINT_ABOVE_AIR
    drop("dew_point", wet, "above the air temperature")
    origin = np.where(gone, Origin.MISSING, series.origin).astype(np.int8)
    rejected.sort(key=lambda one: (one.at, list(LIMITS).index(one.quantity)))
    return replace(series, **values, origin=origin), tuple(rejected)


def _standing_out(
    column: Floats, jump: _Jump, *, doubt_newest: bool
) -> Iterator[tuple[_Flags, str]]:
    """Yield the values that stand out from both sides, shortest runs first."""
    column = column.copy()
    for length in range(1, LONGEST_CLUSTER + 1):
        limit = jump.alone if length == 1 else jump.cluster
        flags = _runs(column, length, limit)
        column[flags] = np.nan
        hours = "hours before and after" if length == 1 else f"hours round these {length}"
        yield flags, f"differs by more than {limit:g} {jump.unit} from the {hours}, which agree"
    if doubt_newest:
        flags = _unconfirmed(column, jump)
        yield (
            flags,
            f"a jump of more than {jump.alone:g} {jump.unit} that no later hour confirms yet",
        )


def _runs(column: Floats, length: int, limit: float) -> _Flags:
    """Flag runs of so many values that jump away from and back to one level.

    Both jumps must exceed the limit, every value of the run must lie as far
    off, on one side, and the two sides must agree within `SIDES_AGREE` of it,
    so that a front (which stays) is never taken for a spike (which returns).
    """
    flags = np.zeros(len(column), dtype=bool)
    there = np.flatnonzero(np.isfinite(column))
    if len(there) < length + 2:
        return flags
    values = column[there]
    window = np.lib.stride_tricks.sliding_window_view(values, length)[1:-1]
    before, after = values[: -length - 1], values[length + 1 :]
    above = (window - np.maximum(before, after)[:, None] > limit).all(axis=1)
    below = (np.minimum(before, after)[:, None] - window > limit).all(axis=1)
    near = there[length + 1 :] - there[: -length - 1] <= length + 1 + LONGEST_HOLE
    found = (above | below) & near & (np.abs(before - after) <= limit * SIDES_AGREE)
    for first in np.flatnonzero(found):
        flags[there[first + 1 : first + 1 + length]] = True
    return flags


def _unconfirmed(column: Floats, jump: _Jump) -> _Flags:
    """Flag the newest values after a jump that could still turn out to be false."""
    flags = np.zeros(len(column), dtype=bool)
    there = np.flatnonzero(np.isfinite(column))[-LONGEST_CLUSTER - 1 :]
    values = column[there]
    for newest in range(1, len(there)):
        limit = jump.alone if newest == 1 else jump.cluster
        tail, before = values[-newest:], values[-newest - 1]
        apart = (tail - before > limit).all() or (before - tail > limit).all()
        if apart and there[-newest] - there[-newest - 1] <= 1 + LONGEST_HOLE:
            flags[there[-newest:]] = True
    return flags


def _stuck(column: Floats) -> _Flags:
    """Flag runs of one and the same value of a day or more, but for their first hour."""
    same = np.zeros(len(column), dtype=bool)
    same[1:] = column[1:] == column[:-1]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], same.astype(np.int8), [0]))))
    flags = np.zeros(len(column), dtype=bool)
    for first, stop in edges.reshape(-1, 2):
        if stop - first + 1 >= STUCK_HOURS:
            flags[first:stop] = True
    return flags
