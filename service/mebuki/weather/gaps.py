"""Holes in hourly series: short ones are bridged, long ones stay and are said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from mebuki.domain.weather import COLUMNS, Floats, HourlySeries, Ints, hour_moment

LONGEST_BRIDGE = 3
"""Missing hours in a row that a straight line may stand in for [h]."""

MOST_HOLES_NAMED = 4
HOURS_A_DAY = 24

BRIDGED = ("air_temperature", "dew_point", "wind_speed")
"""Columns that change smoothly enough to be bridged; rain is never invented."""


def holes(column: Floats) -> list[tuple[int, int]]:
    """Return (first, stop) index pairs of each run of NaN."""
    missing = np.isnan(column).astype(np.int8)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], missing, [0]))))
    return [(int(first), int(stop)) for first, stop in edges.reshape(-1, 2)]


def bridge(
    series: HourlySeries, longest: int = LONGEST_BRIDGE
) -> tuple[HourlySeries, tuple[str, ...]]:
    """Bridge short holes in temperature, dew point and wind by straight lines.

    A bridged hour holds a value but keeps the origin ``MISSING``: it was never
    measured. Holes at either end, and longer ones, stay NaN.

    Returns
    -------
    tuple
        The series and plain remarks: how many hours were bridged, and which
        longer stretches of air temperature are missing.
    """
    columns = {name: getattr(series, name).copy() for name in BRIDGED}
    bridged = np.zeros(len(series.origin), dtype=bool)
    for column in columns.values():
        for first, stop in holes(column):
            if first > 0 and stop < len(column) and stop - first <= longest:
                steps = np.arange(1, stop - first + 1) / (stop - first + 1)
                column[first:stop] = column[first - 1] + steps * (column[stop] - column[first - 1])
                bridged[first:stop] = True
    remarks = _named(series.start, columns["air_temperature"])
    count = int(bridged.sum())
    if count:
        hours = "1 hour was" if count == 1 else f"{count} hours were"
        remarks.insert(
            0, f"{hours} missing in gaps of up to {longest} h; straight lines fill them."
        )
    return replace(series, **columns), tuple(remarks)


def fill_like_neighbours(column: Floats) -> Floats:
    """Return a column in which every hole is filled from the hours beside it.

    Short holes (up to 6 h) by a straight line, longer ones by the same hours
    of the nearest whole days before and after. A column with no value stays as it is.
    """
    filled = column.copy()
    there = np.flatnonzero(np.isfinite(column))
    if not len(there):
        return filled
    index = np.arange(len(column))
    line = np.interp(index, there, column[there])
    for first, stop in holes(column):
        inside = index[first:stop]
        filled[inside] = line[inside]
        if stop - first > HOURS_A_DAY // 4:
            days = _same_hours(column, inside, first, stop)
            filled[inside] = np.where(np.isfinite(days), days, line[inside])
    return filled


def append_hours(first: HourlySeries, then: HourlySeries) -> HourlySeries:
    """Return two stretches as one; the second must begin where the first ends.

    Raises
    ------
    ValueError
        If there is a hole or an overlap between them.
    """
    if first.end != then.start:
        msg = f"the second stretch begins at hour {then.start}, the first ends at {first.end}"
        raise ValueError(msg)
    parts = {
        name: np.concatenate((getattr(first, name), getattr(then, name)))
        for name in (*COLUMNS, "origin")
    }
    return HourlySeries(start=first.start, **parts)


def _same_hours(column: Floats, inside: Ints, first: int, stop: int) -> Floats:
    back = inside - HOURS_A_DAY * (1 + (inside - first) // HOURS_A_DAY)
    on = inside + HOURS_A_DAY * (1 + (stop - 1 - inside) // HOURS_A_DAY)
    before = np.where(back >= 0, column[np.maximum(back, 0)], np.nan)
    after = np.where(on < len(column), column[np.minimum(on, len(column) - 1)], np.nan)
    before, after = (
        np.where(np.isnan(before), after, before),
        np.where(np.isnan(after), before, after),
    )
    share = (inside - first + 1) / (stop - first + 1)
    return np.asarray((1 - share) * before + share * after)


def _named(start: int, column: Floats) -> list[str]:
    left = [(first, stop) for first, stop in holes(column) if first > 0 and stop < len(column)]
    remarks = []
    more = len(left) - MOST_HOLES_NAMED
    if more > 0:
        remarks.append(f"{more} earlier stretches of hours are missing too.")
    for first, stop in left[-MOST_HOLES_NAMED:]:
        begin, end = hour_moment(start + first), hour_moment(start + stop - 1)
        remarks.append(f"The hours {begin:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M} UTC are missing.")
    return remarks
