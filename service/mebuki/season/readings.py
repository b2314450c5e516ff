"""Hourly temperatures as people hand them in, checked and closed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import TableError
from mebuki.season.extremes import COLDEST, WARMEST, listed, possible, refuse_fahrenheit

BRIDGED_HOURS = 3
"""Hours in a row without values that are filled on a straight line (default)."""

_HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True, eq=False)
class HourlyReadings:
    """Unbroken hours with their temperature, and what was done to get them.

    Parameters
    ----------
    moments
        One an hour, as given; filled hours follow the moment before them.
    temperature
        [°C], without NaN unless gaps were left open.
    rows
        The row each hour came from, counted from 0; −1 for a filled hour.
    remarks
        Plain sentences: which hours were filled or left out.
    """

    moments: tuple[datetime, ...]
    temperature: Floats
    rows: Ints
    remarks: tuple[str, ...] = ()


def check_readings(
    moments: Sequence[datetime], temperature: ArrayLike, *, fill: bool = True
) -> HourlyReadings:
    """Return unbroken hours, or say which rows break which rule.

    Parameters
    ----------
    moments
        Ascending moments whole hours apart, all with or all without an offset.
    temperature
        Air temperature [°C]; NaN where it is missing.
    fill
        Whether short gaps are filled and long ones refused. Else missing hours stay
        NaN, however many, for functions that carry the unknown through.

    Raises
    ------
    TableError
        Naming rows (the first is row 1) and rules: columns of unequal length,
        no usable row, moments that repeat, go back or are not whole hours
        apart, values no thermometer has shown, values that look like
        Fahrenheit, more than three hours in a row missing.

    Notes
    -----
    Up to three missing hours are filled on a straight line between their
    neighbours. Missing hours at either end are left out.

    References
    ----------
    The bridged length is a default.
    """
    values = np.asarray(temperature, np.float64)
    if len(moments) != len(values):
        msg = f"columns of unequal length: {len(moments)} times, {len(values)} temperatures"
        raise TableError(msg)
    if len({moment.utcoffset() is None for moment in moments}) > 1:
        msg = "some times have an offset from UTC and some have none"
        raise TableError(msg)
    seconds = np.array([(moment - moments[0]).total_seconds() for moment in moments])
    faults = [*_time_faults(moments, seconds), *_value_faults(moments, values)]
    if faults:
        raise TableError(listed(faults))
    if np.isnan(values).all():
        msg = "no row has a temperature"
        raise TableError(msg)
    refuse_fahrenheit(values[~np.isnan(values)])
    hours = np.rint(seconds / 3600).astype(np.int64)
    return _closed(moments, hours, values) if fill else _open(moments, hours, values)


def _open(moments: Sequence[datetime], hours: Ints, values: Floats) -> HourlyReadings:
    origin = np.full(int(hours[-1]) + 1, -1, dtype=np.int64)
    origin[hours] = np.arange(len(hours))
    return HourlyReadings(
        moments=_moments(moments, origin),
        temperature=np.where(origin >= 0, values[origin], np.nan),
        rows=origin,
    )


def _moments(moments: Sequence[datetime], origin: Ints) -> tuple[datetime, ...]:
    full: list[datetime] = []
    for row in origin.tolist():
        full.append(moments[row] if row >= 0 else full[-1] + _HOUR)
    return tuple(full)


def _time_faults(moments: Sequence[datetime], seconds: Floats) -> Iterator[str]:
    steps = np.diff(seconds)
    for index in np.flatnonzero((steps <= 0) | (steps % 3600 != 0)).tolist():
        step, moment = steps[index], moments[index + 1].isoformat()
        if step > 0:
            yield f"row {index + 2}: {moment} is not whole hours after the row above"
            continue
        word = "repeats" if step == 0 else "comes before"
        hint = "; where clocks change, give times in UTC" if moments[0].tzinfo is None else ""
        yield f"row {index + 2}: {moment} {word} the row above; times must ascend{hint}"


def _value_faults(moments: Sequence[datetime], values: Floats) -> Iterator[str]:
    for index in np.flatnonzero(~np.isnan(values) & ~possible(values)).tolist():
        hint = "is it Fahrenheit" if values[index] > 0 else "leave missing values empty"
        yield (
            f"row {index + 1} ({moments[index].isoformat()}): temperature {values[index]:g} °C has "
            f"never been measured (allowed {COLDEST:g} to {WARMEST:g}); {hint}"
        )


def _closed(moments: Sequence[datetime], hours: Ints, values: Floats) -> HourlyReadings:
    rows = np.flatnonzero(~np.isnan(values))
    have = hours[rows]
    steps = np.diff(have)
    for index in np.flatnonzero(steps > BRIDGED_HOURS + 1).tolist():
        before, after = moments[rows[index]], moments[rows[index + 1]]
        msg = (
            f"row {rows[index] + 1} ({before.isoformat()}): {steps[index] - 1} hours without "
            f"values follow, until {after.isoformat()}; at most {BRIDGED_HOURS} in a row are filled"
        )
        raise TableError(msg)
    axis = np.arange(have[0], have[-1] + 1, dtype=np.int64)
    origin = np.full(len(axis), -1, dtype=np.int64)
    origin[have - have[0]] = rows
    full = _moments(moments, origin)
    return HourlyReadings(
        moments=full,
        temperature=np.interp(axis, have, values[rows]),
        rows=origin,
        remarks=tuple(_remarks(full, origin, len(moments) - 1 - int(rows[-1]) + int(rows[0]))),
    )


def _remarks(full: Sequence[datetime], origin: Ints, left_out: int) -> Iterator[str]:
    filled = np.flatnonzero(origin < 0).tolist()
    if filled:
        shown = ", ".join(full[index].isoformat(timespec="minutes") for index in filled[:6])
        more = f" and {len(filled) - 6} more" if len(filled) > 6 else ""
        yield f"missing, filled on a straight line between the neighbours: {shown}{more}"
    if left_out:
        yield f"{left_out} row{'s' if left_out != 1 else ''} without values at the ends left out"
