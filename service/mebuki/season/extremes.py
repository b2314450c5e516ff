"""Daily lowest and highest temperatures as people hand them in, checked and closed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError, TableError

BRIDGED_DAYS = 3
"""Days in a row without values that are filled on a straight line (default)."""

COLDEST, WARMEST = -90.0, 57.0
"""Air temperatures on record [°C]: −89.2 (Vostok 1983), 56.7 (Death Valley 1913)."""

_WARMEST_CLIMATE = 38.0
_FAULTS_SHOWN = 8


@dataclass(frozen=True, slots=True, eq=False)
class DailyExtremes:
    """Unbroken local days with their extremes [°C], and what was done to get them.

    Parameters
    ----------
    start
        Ordinal of the first day.
    minimum, maximum
        [°C], without NaN.
    remarks
        Plain sentences: which days were filled or left out.
    """

    start: int
    minimum: Floats
    maximum: Floats
    remarks: tuple[str, ...] = ()

    @property
    def days(self) -> Ints:
        """Ordinals, one for each day."""
        return np.arange(self.start, self.start + len(self.minimum), dtype=np.int64)


def check_extremes(days: Sequence[date], minimum: ArrayLike, maximum: ArrayLike) -> DailyExtremes:
    """Return unbroken days, or say which rows break which rule.

    Parameters
    ----------
    days
        Local days in ascending order.
    minimum, maximum
        Daily extremes [°C]; NaN where a value is missing. A day that lacks one
        of the two counts as missing.

    Raises
    ------
    TableError
        Naming rows (the first is row 1) and rules: columns of unequal length,
        no usable row, days that repeat or go back, a minimum above its maximum,
        values no thermometer has shown, values that look like Fahrenheit, more
        than three days in a row missing.

    Notes
    -----
    Up to three missing days are filled on a straight line between their
    neighbours. Missing days at either end are left out.

    References
    ----------
    The bridged length is a default. World Meteorological Organization, World
    Weather and Climate Extremes Archive (2024), for the records.
    """
    low, high = np.asarray(minimum, np.float64), np.asarray(maximum, np.float64)
    if not len(days) == len(low) == len(high):
        msg = f"columns of unequal length: {len(days)} dates, {len(low)} tmin, {len(high)} tmax"
        raise TableError(msg)
    ordinals = np.array([day.toordinal() for day in days], np.int64)
    faults = [*_order_faults(days, ordinals), *_value_faults(days, low, high)]
    if faults:
        raise TableError(listed(faults))
    known = ~(np.isnan(low) | np.isnan(high))
    if not known.any():
        msg = "no row has both tmin and tmax"
        raise TableError(msg)
    refuse_fahrenheit((low[known] + high[known]) / 2)
    return _closed(ordinals, low, high, known)


def check_latitude(latitude: float) -> float:
    """Return the latitude [°]; `RangeError` if it lies outside −90..90."""
    if not -90 <= latitude <= 90:
        msg = f"latitude {latitude:g}: must lie between −90 and 90 degrees, south negative"
        raise RangeError(msg)
    return latitude


def _order_faults(days: Sequence[date], ordinals: Ints) -> Iterator[str]:
    steps = np.diff(ordinals)
    for index in (np.flatnonzero(steps <= 0) + 1).tolist():
        word = "repeats" if steps[index - 1] == 0 else "comes before"
        yield f"row {index + 1}: {days[index]} {word} the day above; days must ascend"


def _value_faults(days: Sequence[date], low: Floats, high: Floats) -> Iterator[str]:
    for index in np.flatnonzero(low > high).tolist():
        yield (
            f"row {index + 1} ({days[index]}): tmin {low[index]:g} lies above "
            f"tmax {high[index]:g}; are the columns swapped"
        )
    for name, column in (("tmin", low), ("tmax", high)):
        for index in np.flatnonzero(~np.isnan(column) & ~possible(column)).tolist():
            hint = "is it Fahrenheit" if column[index] > 0 else "leave missing values empty"
            yield (
                f"row {index + 1} ({days[index]}): {name} {column[index]:g} °C has never been "
                f"measured (allowed {COLDEST:g} to {WARMEST:g}); {hint}"
            )


def possible(values: Floats) -> NDArray[np.bool_]:
    """Return whether air temperatures [°C] lie within the records (False for NaN)."""
    return (values >= COLDEST) & (values <= WARMEST)


def listed(faults: Sequence[str]) -> str:
    """Return the first faults, one a line, and how many more there are."""
    shown = list(faults[:_FAULTS_SHOWN])
    if len(faults) > len(shown):
        shown.append(f"and {len(faults) - len(shown)} more")
    return "\n".join(shown)


def refuse_fahrenheit(mean: Floats) -> None:
    """Raise `TableError` where typical temperatures [°C] are those of no place."""
    typical = float(np.median(mean))
    if typical > _WARMEST_CLIMATE:
        msg = (
            f"half of the rows have a mean above {typical:.0f} °C, which no place has; "
            "the columns look like Fahrenheit: convert with (F − 32) / 1.8"
        )
        raise TableError(msg)


def _closed(ordinals: Ints, low: Floats, high: Floats, known: NDArray[np.bool_]) -> DailyExtremes:
    have = ordinals[known]
    rows = np.flatnonzero(known)
    steps = np.diff(have)
    for index in np.flatnonzero(steps > BRIDGED_DAYS + 1):
        before, after = date.fromordinal(int(have[index])), date.fromordinal(int(have[index + 1]))
        msg = (
            f"row {rows[index] + 1} ({before}): {steps[index] - 1} days without values follow, "
            f"until {after}; at most {BRIDGED_DAYS} in a row are filled"
        )
        raise TableError(msg)
    axis = np.arange(have[0], have[-1] + 1, dtype=np.int64)
    return DailyExtremes(
        start=int(have[0]),
        minimum=np.interp(axis, have, low[known]),
        maximum=np.interp(axis, have, high[known]),
        remarks=(*_filled(have, steps), *_left_out(ordinals, have)),
    )


def _filled(have: Ints, steps: Ints) -> Iterator[str]:
    for index in np.flatnonzero(steps > 1):
        first = date.fromordinal(int(have[index]) + 1)
        last = date.fromordinal(int(have[index + 1]) - 1)
        span = f"{first}" if first == last else f"{first} to {last}"
        yield f"{span}: missing, filled on a straight line between the neighbours"


def _left_out(ordinals: Ints, have: Ints) -> Iterator[str]:
    count = int(np.sum(ordinals < have[0]) + np.sum(ordinals > have[-1]))
    if count:
        yield f"{count} row{'s' if count != 1 else ''} without values at the ends left out"
