"""The season to date of a cell: what was kept, what is new, and what must be fetched."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

import numpy as np

from mebuki.domain.weather import HourlySeries, hour_moment, hour_number
from mebuki.weather.answers import Answer, ProviderError, at_height
from mebuki.weather.cells import Cell
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.joining import (
    FROZEN_AFTER,
    measured_until,
    missing_stretches,
    offset,
    shifted,
)
from mebuki.weather.provider import Provider
from mebuki.weather.record import Hours, load_hours, no_hours, save_hours
from mebuki.weather.snapshots import Snapshot, SnapshotStore, keep

LEAST_HOLE = 6
"""Missing hours in a row that are worth a question."""

TOLERATED = 48
"""Missing hours at the beginning of a season that are not worth a word."""

MOST_HOLES = 4
ASK_AGAIN = timedelta(hours=20)
"""Time after which holes that a provider could not fill are asked for again."""


class SeasonRecord:
    """Keeps the hours of each cell; asks the providers, in order, for what is missing."""

    def __init__(self, store: SnapshotStore, providers: Iterable[Provider]) -> None:
        self._store = store
        self._providers = tuple(providers)

    def kept(self, cell: Cell, begin: int) -> Hours:
        """Return the hours kept of a cell from ``begin`` (an hour number) on."""
        found = load_hours(self._store, _key(cell))
        return no_hours(begin) if found is None else found.between(begin, found.series.end)

    def update(
        self, client: WeatherClient, cell: Cell, recent: tuple[HourlySeries, str],
        begin: int, at: datetime,
    ) -> tuple[Hours, tuple[str, ...]]:  # fmt: skip
        """Return the season to date with the newest measured hours, and keep it.

        Hours older than two days stay as they were first kept.

        Parameters
        ----------
        recent
            Measured hours at the cell's height, and the name of their source.
        begin
            First hour number that is wanted.
        """
        before = self.kept(cell, begin)
        series, source = recent
        known = before.laid_over(series, source, hour_number(at) - FROZEN_AFTER)
        known = known.between(begin, known.series.end)
        known, remarks = self._filled(client, cell, known, begin, at)
        # Past answers come in whole days and may begin before.
        known = known.between(begin, known.series.end)
        remarks += _unknown_before(known, begin)
        if not _same(before.series, known.series):
            remarks += tuple(filter(None, [save_hours(self._store, _key(cell), known, at)]))
        return known, remarks

    def _filled(
        self, client: WeatherClient, cell: Cell, known: Hours, begin: int, at: datetime
    ) -> tuple[Hours, tuple[str, ...]]:
        end = known.series.end if len(known.sources) else hour_number(at) + 1
        holes = missing_stretches(known.series, begin, end, LEAST_HOLE)[-MOST_HOLES:]
        mark = self._store.load(_asked(cell))
        if not holes or (mark is not None and at - mark.checked < ASK_AGAIN):
            return known, ()
        remarks: list[str] = []
        try:
            for first, stop in reversed(holes):
                for answer in reversed(self._past(client, cell, first, stop)):
                    known, said = _laid_under(known, answer, cell, stop)
                    remarks += said
        except ProviderError as error:
            return known, (*remarks, f"The season to date is incomplete: {error}.")
        keep(self._store, Snapshot(_asked(cell), b"{}", at, at, at, validated=True))
        return known, tuple(remarks)

    def _past(self, client: WeatherClient, cell: Cell, first: int, stop: int) -> tuple[Answer, ...]:
        """Return past hours from the first provider that has any; raise the last failure."""
        failure: ProviderError | None = None
        for provider in self._providers:
            if not provider.serves(cell):
                continue
            try:
                answers = provider.past(client, cell, first, stop)
            except ProviderError as error:
                failure = error
                continue
            if answers:
                return answers
        if failure is not None:
            raise failure
        return ()


def _laid_under(
    known: Hours, answer: Answer, cell: Cell, stop: int
) -> tuple[Hours, tuple[str, ...]]:
    """Lay past hours under those known, moved by the difference of the two models."""
    series = at_height(answer.series, answer.elevation, cell.elevation)
    below = measured_until(series, stop - 1)
    by = offset(known.series, series)
    remarks = answer.remarks
    if by is not None and by:
        below = shifted(below, by)
        until = hour_moment(below.end - 1)
        moved = f"{by:+.1f} °C".replace("-", "−")
        remarks = (
            *remarks,
            f"Hours of {answer.provider} before {until:%Y-%m-%d} were moved by {moved} "
            "to fit those after.",
        )
    return known.laid_under(below, answer.provider), remarks


def _unknown_before(known: Hours, begin: int) -> tuple[str, ...]:
    """Say from when on the season is known, if not from its beginning."""
    there = np.flatnonzero(np.isfinite(known.series.air_temperature))
    first = known.series.start + int(there[0]) if len(there) else None
    if first is None or first - begin <= TOLERATED:
        return ()
    return (
        f"The season before {hour_moment(first):%Y-%m-%d} is not known: no service that is set "
        "and answers has it.",
    )


def _same(one: HourlySeries, other: HourlySeries) -> bool:
    return (
        one.start == other.start
        and len(one.origin) == len(other.origin)
        and np.array_equal(one.air_temperature, other.air_temperature, equal_nan=True)
    )


def _key(cell: Cell) -> str:
    return f"season:{cell.name}"


def _asked(cell: Cell) -> str:
    return f"season-asked:{cell.name}"
