"""The record of a cell: hours of the season and days of past years, as bytes in the store.

What a provider said of an hour is kept here once it is two days old, so that
the season to date is asked for once, and past years once.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from mebuki.domain.weather import COLUMNS, DailySeries, HourlySeries
from mebuki.weather.answers import FIRST_HOUR
from mebuki.weather.joining import lay_over_seen, nothing, on_axis
from mebuki.weather.snapshots import Snapshot, SnapshotStore, keep

DAY_COLUMNS = ("minimum", "maximum", "precipitation", "wind_speed")
_Packed = tuple[int, dict[str, NDArray[Any]], tuple[str, ...]]
_DAMAGED = (OSError, ValueError, KeyError, EOFError, BadZipFile, TypeError, IndexError)


@dataclass(frozen=True, slots=True, eq=False)
class Hours:
    """Hours with the name of the source of each: ``names[sources[i]]``."""

    series: HourlySeries
    sources: NDArray[np.int8]
    names: tuple[str, ...]

    def runs(self) -> list[tuple[str, int, int]]:
        """Return (source, first hour, hour after the last) of each stretch from one source."""
        edges = np.flatnonzero(np.diff(self.sources)) + 1
        bounds = [0, *edges.tolist(), len(self.sources)]
        return [
            (self.names[self.sources[low]], self.series.start + low, self.series.start + high)
            for low, high in pairwise(bounds)
            if high > low and np.isfinite(self.series.air_temperature[low:high]).any()
        ]

    def laid_over(self, above: HourlySeries, name: str, keep_before: int) -> Hours:
        """Return the hours with others laid over them; see `joining.lay_over_seen`."""
        series, taken = lay_over_seen(self.series, above, keep_before)
        return self._with(series, taken, name)

    def laid_under(self, below: HourlySeries, name: str) -> Hours:
        """Return the hours with others where there were none."""
        gone = np.isnan(on_axis(self.series, below.start, below.end).air_temperature)
        air = np.where(gone, below.air_temperature, np.nan)
        return self.laid_over(replace(below, air_temperature=air), name, FIRST_HOUR)

    def _with(self, series: HourlySeries, taken: NDArray[np.bool_], name: str) -> Hours:
        names = self.names if name in self.names else (*self.names, name)
        sources = np.zeros(len(series.origin), dtype=np.int8)
        first = self.series.start - series.start
        if len(self.sources):
            sources[first : first + len(self.sources)] = self.sources
        sources[taken] = names.index(name)
        return Hours(series, sources, names)

    def between(self, first: int, stop: int) -> Hours:
        """Return the hours first <= hour < stop, clipped to what is there."""
        part = self.series.between(first, stop)
        low = part.start - self.series.start
        return Hours(part, self.sources[low : low + len(part.origin)], self.names)


def no_hours(start: int) -> Hours:
    """Return a record without hours."""
    return Hours(nothing(start), np.empty(0, dtype=np.int8), ("",))


def load_hours(store: SnapshotStore, key: str) -> Hours | None:
    """Return stored hours, or none if there are none or they are damaged."""
    found = _load(store, key, (*COLUMNS, "origin", "sources"))
    if found is None:
        return None
    start, columns, names = found
    sources = columns.pop("sources")
    if len(sources) and not 0 <= sources.min() <= sources.max() < len(names):
        return None
    return Hours(HourlySeries(start=start, **columns), sources, names)


def save_hours(store: SnapshotStore, key: str, hours: Hours, at: datetime) -> str:
    """Store hours; return what went wrong, if anything did."""
    columns = {name: getattr(hours.series, name) for name in (*COLUMNS, "origin")}
    columns["sources"] = hours.sources
    return _save(store, key, (hours.series.start, columns, hours.names), at)


def load_days(store: SnapshotStore, key: str) -> DailySeries | None:
    """Return stored days, or none if there are none or they are damaged."""
    found = _load(store, key, (*DAY_COLUMNS, "origin"))
    return None if found is None else DailySeries(start=found[0], **found[1])


def save_days(store: SnapshotStore, key: str, days: DailySeries, at: datetime) -> str:
    """Store days; return what went wrong, if anything did."""
    columns = {name: getattr(days, name) for name in (*DAY_COLUMNS, "origin")}
    return _save(store, key, (days.start, columns, ()), at)


def _save(store: SnapshotStore, key: str, what: _Packed, at: datetime) -> str:
    start, columns, names = what
    file = io.BytesIO()
    packed: dict[str, Any] = {**columns, "start": np.array(start), "names": np.array(names, "U60")}
    np.savez_compressed(file, **packed)
    return keep(store, Snapshot(key, file.getvalue(), at, at, at, validated=True))


def _load(store: SnapshotStore, key: str, columns: tuple[str, ...]) -> _Packed | None:
    snapshot = store.load(key)
    if snapshot is None:
        return None
    try:
        with np.load(io.BytesIO(snapshot.content), allow_pickle=False) as found:
            values = {name: found[name] for name in columns}
            start, names = int(found["start"]), tuple(str(one) for one in found["names"])
    except _DAMAGED:
        return None
    return (start, values, names) if len({one.shape for one in values.values()}) == 1 else None
