"""Past years of a cell from the reanalysis: asked for once, five years at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from mebuki.domain.weather import DailySeries, Origin
from mebuki.weather.answers import ProviderError
from mebuki.weather.cells import Cell
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.local_days import daily_from_hourly
from mebuki.weather.open_meteo import OpenMeteo
from mebuki.weather.record import DAY_COLUMNS, load_days, save_days
from mebuki.weather.snapshots import SnapshotStore

YEARS = 25
YEARS_AT_ONCE = 5
LAG_DAYS = 10
"""Days after which the reanalysis of a year's end is there."""


def wanted_years(today: date) -> tuple[int, ...]:
    """Return the past years to have, whole and settled in the reanalysis."""
    last = (today - timedelta(days=LAG_DAYS)).year - 1
    return tuple(range(last - YEARS + 1, last + 1))


class PastYears:
    """The days of past years for a cell and a time zone, fetched where they are missing."""

    def __init__(self, archive: OpenMeteo, store: SnapshotStore) -> None:
        self._archive = archive
        self._store = store
        self._known: dict[str, DailySeries] = {}

    def days(
        self, client: WeatherClient, cell: Cell, zone: ZoneInfo, at: datetime
    ) -> tuple[DailySeries | None, tuple[str, ...]]:
        """Return the days known of past years, and remarks on those that could not be had.

        A part that fails is asked for again at the next look; the others stay.
        """
        key = f"years:{cell.name}:{zone.key}"
        known = self._known.get(key) or load_days(self._store, key)
        years = wanted_years(at.date())
        lacking = [year for year in years if not _has(known, year)]
        remarks: list[str] = []
        while lacking:
            part = [year for year in lacking if year < lacking[0] + YEARS_AT_ONCE]
            lacking = lacking[len(part) :]
            try:
                days = self._fetch(client, cell, zone, part[0], part[-1])
            except ProviderError as error:
                remarks.append(f"Past years are incomplete: {error}.")
                break
            known = days if known is None else joined(known, days)
            remarks += filter(None, [save_days(self._store, key, known, at)])
        if known is not None:
            self._known[key] = known
        return known, tuple(remarks)

    def _fetch(
        self, client: WeatherClient, cell: Cell, zone: ZoneInfo, first: int, last: int
    ) -> DailySeries:
        begin, end = date(first, 1, 1), date(last, 12, 31)
        day = timedelta(days=1)
        answer = self._archive.archive(client, cell, begin - day, end + day)
        days = daily_from_hourly(answer.series, zone)
        low, high = begin.toordinal() - days.start, end.toordinal() + 1 - days.start
        if low < 0 or high > len(days.origin):
            msg = f"{self._archive.title}: the archive ends before {end}"
            raise ProviderError(msg)
        parts = {name: getattr(days, name)[low:high] for name in DAY_COLUMNS}
        origin = np.full(high - low, Origin.CLIMATE, dtype=np.int8)
        return DailySeries(start=begin.toordinal(), origin=origin, **parts)


def joined(one: DailySeries, other: DailySeries) -> DailySeries:
    """Return two stretches of days on one axis, the second over the first, gaps as NaN."""
    start, end = min(one.start, other.start), max(one.end, other.end)
    columns = {name: np.full(end - start, np.nan) for name in DAY_COLUMNS}
    origin = np.full(end - start, Origin.MISSING, dtype=np.int8)
    for days in (one, other):
        here = slice(days.start - start, days.end - start)
        for name, values in columns.items():
            values[here] = getattr(days, name)
        origin[here] = days.origin
    return DailySeries(start=start, origin=origin, **columns)


def moved(days: DailySeries, by: tuple[float, float]) -> DailySeries:
    """Return days with minima and maxima moved by some degrees [K], never crossing."""
    minimum, maximum = days.minimum + by[0], days.maximum + by[1]
    return replace(days, minimum=np.minimum(minimum, maximum), maximum=np.maximum(minimum, maximum))


def _has(days: DailySeries | None, year: int) -> bool:
    if days is None:
        return False
    low = date(year, 1, 1).toordinal() - days.start
    high = date(year, 12, 31).toordinal() - days.start
    if low < 0 or high >= len(days.origin):
        return False
    return bool((days.origin[low : high + 1] != Origin.MISSING).all())
