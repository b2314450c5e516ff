"""Local days of 23, 24 or 25 hours from hours in UTC, and a climate from such days."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from mebuki.domain.weather import (
    CALENDAR_DAYS,
    Climate,
    DailySeries,
    Floats,
    HourlySeries,
    Ints,
    Origin,
    calendar_slot,
    hour_moment,
    hour_number,
)

ENOUGH_HOURS = 20
"""Hours with a value that a day needs before its extremes are believed."""

MOST_DAYS_MISSING = 10
"""Days that a year may lack and still count as a past year."""

LEAP_SLOT = 59
MOST_NAMED = 5

_COLUMNS = ("minimum", "maximum", "precipitation", "wind_speed")


def local_day(hour: int, zone: ZoneInfo) -> int:
    """Return the ordinal of the local day in which an hour (number since 1970, UTC) lies."""
    return hour_moment(hour).astimezone(zone).date().toordinal()


def local_midnights(first: int, stop: int, zone: ZoneInfo) -> Ints:
    """Return the hour numbers at which the local days first..stop begin, both included.

    In zones off the full hour the first full hour of the day counts. The
    difference of neighbours is the length of a day: 23, 24 or 25 hours.
    """
    begins = (
        datetime.combine(date.fromordinal(day), time(), zone) for day in range(first, stop + 1)
    )
    moments = [begin.astimezone(UTC) for begin in begins]
    past_the_hour = [bool(moment.minute or moment.second) for moment in moments]
    numbers = [
        hour_number(moment) + late for moment, late in zip(moments, past_the_hour, strict=True)
    ]
    return np.array(numbers, dtype=np.int64)


def daily_from_hourly(series: HourlySeries, zone: ZoneInfo) -> DailySeries:
    """Gather hours into local days.

    Minimum, maximum [°C] and mean wind [m s-1] are taken of the full hours of
    the day, precipitation [mm] of the hours that end within it (the next
    midnight included). Each needs at least `ENOUGH_HOURS` values, bridged
    ones counted, else it is NaN. The origin of a day is the least certain
    origin of its hours.
    """
    if not len(series.origin):
        return _no_days()
    first = local_day(series.start, zone)
    stop = local_day(series.end - 1, zone) + 1
    midnights = local_midnights(first, stop, zone) - series.start
    bounds = np.clip(midnights, 0, len(series.origin))
    ends = np.clip(midnights + 1, 0, len(series.origin))
    minimum = _extreme(series.air_temperature, bounds, np.minimum, np.inf)
    maximum = _extreme(series.air_temperature, bounds, np.maximum, -np.inf)
    rain, rain_hours = _sums(series.precipitation, ends)
    wind, wind_hours = _sums(series.wind_speed, bounds)
    known = np.append(series.origin, Origin.MISSING).astype(np.int64)
    origin = np.maximum.reduceat(known, bounds[:-1])
    with np.errstate(invalid="ignore", divide="ignore"):
        wind = np.where(wind_hours >= ENOUGH_HOURS, wind / wind_hours, np.nan)
    return DailySeries(
        start=first,
        minimum=minimum,
        maximum=maximum,
        precipitation=np.where(rain_hours >= ENOUGH_HOURS, rain, np.nan),
        wind_speed=wind,
        origin=np.where(np.isnan(minimum), Origin.MISSING, origin).astype(np.int8),
    )


def lay_over(days: DailySeries, base: DailySeries | None, today: int) -> DailySeries:
    """Lay days made from hours over days from a daily record.

    Only base days before ``today`` (an ordinal) are looked at. There, a day
    measured hour by hour comes first, then the base, then the rest.
    """
    if base is None:
        return days
    past = min(base.end, today)
    start = min(base.start, days.start) if base.start < past else days.start
    length = max(days.end, past) - start
    columns = {name: np.full(length, np.nan) for name in (*_COLUMNS, "origin")}
    columns["origin"][:] = Origin.MISSING
    here = slice(days.start - start, days.end - start)
    for name, column in columns.items():
        column[here] = getattr(days, name)
    kept = slice(base.start - start, max(past - start, base.start - start))
    measured = columns["origin"][kept] == Origin.MEASURED
    for name in (*_COLUMNS, "origin"):
        below = getattr(base, name)[: kept.stop - kept.start].astype(np.float64)
        above = columns[name][kept]
        take = ~(measured & np.isfinite(above)) & np.isfinite(below)
        if name == "origin":
            take &= below != Origin.MISSING
        columns[name][kept] = np.where(take, below, above)
    origin = columns.pop("origin").astype(np.int8)
    return DailySeries(start=start, origin=origin, **columns)


def from_day(days: DailySeries, first: int) -> DailySeries:
    """Return the days from an ordinal on, without days at the end that hold no temperature."""
    there = np.flatnonzero(np.isfinite(days.minimum))
    stop = int(there[-1]) + 1 if len(there) else 0
    begin = min(max(first - days.start, 0), stop)
    parts = {name: getattr(days, name)[begin:stop] for name in _COLUMNS}
    return DailySeries(start=days.start + begin, origin=days.origin[begin:stop], **parts)


def missing_days(days: DailySeries) -> tuple[str, ...]:
    """Return a remark that names the days without believable extremes, if there are any."""
    lost = [date.fromordinal(int(day)) for day in days.days[np.isnan(days.minimum)]]
    if not lost:
        return ()
    named = ", ".join(f"{day:%Y-%m-%d}" for day in lost[-MOST_NAMED:])
    more = f" and {len(lost) - MOST_NAMED} earlier ones" if len(lost) > MOST_NAMED else ""
    return (
        f"Days with fewer than {ENOUGH_HOURS} hours have no minimum or maximum: {named}{more}.",
    )


def climate_from_days(days: DailySeries, leave_out: Collection[int] = ()) -> Climate:
    """Gather the complete years of a daily record by calendar day.

    A year counts if it is wholly on the axis and at most `MOST_DAYS_MISSING`
    of its days lack a value; those are filled from the days beside them.

    Parameters
    ----------
    leave_out
        Calendar years that must not be used.
    """
    first, last = date.fromordinal(days.start), date.fromordinal(max(days.end - 1, days.start))
    years, rows = [], []
    for year in range(first.year, last.year + 1):
        low = date(year, 1, 1).toordinal() - days.start
        high = date(year + 1, 1, 1).toordinal() - days.start
        if year in leave_out or low < 0 or high > len(days.origin):
            continue
        if np.isnan(days.minimum[low:high]).sum() <= MOST_DAYS_MISSING:
            years.append(year)
            rows.append([_slots(getattr(days, name)[low:high]) for name in _COLUMNS])
    shaped = np.array(rows, dtype=np.float64).reshape(len(years), len(_COLUMNS), CALENDAR_DAYS)
    parts = {name: shaped[:, index] for index, name in enumerate(_COLUMNS)}
    return Climate(years=tuple(years), **parts)


def _slots(year: Floats) -> Floats:
    there = np.flatnonzero(np.isfinite(year))
    filled = np.interp(np.arange(len(year)), there, year[there]) if len(there) else year
    if len(filled) == CALENDAR_DAYS:
        return filled
    between = (filled[LEAP_SLOT - 1] + filled[LEAP_SLOT]) / 2
    return np.insert(filled, calendar_slot(date(2012, 2, 29)), between)


def _extreme(column: Floats, bounds: Ints, how: np.ufunc, worst: float) -> Floats:
    there = np.isfinite(column)
    _, hours = _sums(column, bounds)
    padded = np.append(np.where(there, column, worst), worst)
    found = np.asarray(how.reduceat(padded, bounds[:-1]), dtype=np.float64)
    return np.where(hours >= ENOUGH_HOURS, found, np.nan)


def _sums(column: Floats, bounds: Ints) -> tuple[Floats, Ints]:
    there = np.isfinite(column)
    totals = np.concatenate(([0.0], np.cumsum(np.where(there, column, 0.0))))
    counts = np.concatenate(([0], np.cumsum(there)))
    sums = np.round(totals[bounds[1:]] - totals[bounds[:-1]], 6)
    return sums, np.asarray(counts[bounds[1:]] - counts[bounds[:-1]], dtype=np.int64)


def _no_days() -> DailySeries:
    none: Floats = np.empty(0)
    origin: NDArray[np.int8] = np.empty(0, dtype=np.int8)
    return DailySeries(1, none, none, none, none, origin)
