"""Live weather: providers in order, the last good answer when they fail, and always its age.

Silence is never taken for calm: a provider that fails is named, an old answer
is used with its age, a warning service that cannot be read is said to be so.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from mebuki.clock import Clock
from mebuki.domain.site import Site
from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import (
    FRESH_HOURS,
    DailySeries,
    HourlySeries,
    WeatherPicture,
    hour_number,
)
from mebuki.errors import InputError
from mebuki.weather.answers import ProviderError, at_height
from mebuki.weather.cells import CELL_DEGREES, Cell, cell_of
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.joining import disagreement, forecast_after, measured_until
from mebuki.weather.live_picture import Found, draw
from mebuki.weather.local_days import local_midnights
from mebuki.weather.open_meteo import OpenMeteo
from mebuki.weather.open_meteo_answers import Ensemble
from mebuki.weather.past_years import PastYears
from mebuki.weather.provider import Provider, Reading
from mebuki.weather.season_record import SeasonRecord
from mebuki.weather.snapshots import SnapshotStore

LOOK_BACK_DAYS = 460
"""Days before now that a picture holds at least, where they can be had."""

FURTHEST_BACK, FURTHEST_AHEAD = timedelta(hours=36), timedelta(hours=24)
"""How far a nominal moment may lie from the clock: live weather knows only now."""

COMPARED_HOURS = 72
WORTH_A_WORD = 1.0
"""Difference between two services [K] from which it is said."""

LONGEST_RUN_AGE = timedelta(hours=12)
"""Age of a provider's own run beyond which its first hours are no analysis of now."""


@dataclass(frozen=True, slots=True)
class Parts:
    """Which extras are asked for beside the first provider.

    Parameters
    ----------
    archive
        Where past years and the ensemble come from; none for an install that
        may not use it.
    compare
        Whether a second provider is asked too.
    warnings
        Whether official warnings are read.
    """

    archive: OpenMeteo | None = None
    compare: bool = True
    warnings: bool = True


class LiveSource:
    """A `WeatherSource` over live providers.

    Parameters
    ----------
    providers
        In the order in which they are tried.
    cell_degrees
        Width of the cells to which coordinates are rounded before they leave.
    """

    def __init__(
        self, providers: Sequence[Provider], client: WeatherClient, snapshots: SnapshotStore,
        clock: Clock, parts: Parts | None = None, cell_degrees: float = CELL_DEGREES,
    ) -> None:  # fmt: skip
        self.providers = tuple(providers)
        self._client = client
        self._clock = clock
        self._parts = parts or Parts()
        self._degrees = cell_degrees
        self._season = SeasonRecord(snapshots, self.providers)
        archive = self._parts.archive
        self._years = PastYears(archive, snapshots) if archive else None
        self._lock = threading.Lock()
        self._cells: dict[str, threading.Lock] = {}

    def look(self, site: Site, at: datetime) -> WeatherPicture:
        """Return what is known now; see `mebuki.rounds.ports.WeatherSource`.

        Raises
        ------
        mebuki.errors.InputError
            If the moment is not about now.
        mebuki.errors.WeatherError
            If no provider gave anything and nothing is kept.
        """
        self._refuse_other_times(at)
        cell = cell_of(site, self._degrees)
        with self._lock:
            one_at_a_time = self._cells.setdefault(cell.name, threading.Lock())
        with one_at_a_time:
            return self._look(site, cell, at)

    def _refuse_other_times(self, at: datetime) -> None:
        now = self._clock.now()
        if not now - FURTHEST_BACK <= at <= now + FURTHEST_AHEAD:
            msg = (
                f"live weather knows only now ({now:%Y-%m-%d %H:%M} UTC), not {at:%Y-%m-%d %H:%M}; "
                "name a file of measured hours for other days"
            )
            raise InputError(msg)

    def _look(self, site: Site, cell: Cell, at: datetime) -> WeatherPicture:
        provider, reading, remarks = self._choose(cell, at)
        known = hour_number(_known_until(reading, at))
        series = at_height(reading.answer.series, reading.answer.elevation, cell.elevation)
        begin = _begin(site, at)
        measured = measured_until(series, known)
        opens = int(local_midnights(begin, begin, site.zone)[0])
        season, said = self._season.update(
            self._client, cell, (measured, reading.answer.provider), opens, at
        )
        remarks += said
        apart = self._compare(provider, series, (cell, known), at, remarks)
        days, spread = self._past_days(site, cell, at, remarks), self._ensemble(cell, remarks)
        found = Found(
            reading=reading,
            season=season,
            ahead=forecast_after(series, known),
            known=known,
            cell=cell,
            past_days=days,
            ensemble=spread,
            disagreement=apart,
            warnings=self._warnings(cell, at, remarks),
            remarks=tuple(remarks),
        )
        return draw(found, site, at, begin)

    def _choose(self, cell: Cell, at: datetime) -> tuple[Provider, Reading, list[str]]:
        """Return the first provider with a fresh answer, else the least old answer."""
        failures: list[str] = []
        old: list[tuple[Provider, Reading]] = []
        for provider in self.providers:
            if not provider.serves(cell):
                continue
            try:
                reading = provider.current(self._client, cell, at)
            except ProviderError as error:
                failures.append(str(error))
                continue
            age = at - _known_until(reading, at)
            if age < timedelta(hours=FRESH_HOURS):
                return provider, reading, _instead(failures, old, provider)
            old.append((provider, reading))
        if not old:
            msg = "; ".join(failures) or "no provider in the settings serves this place"
            raise ProviderError(msg)
        provider, reading = max(old, key=lambda one: _known_until(one[1], at))
        why = reading.problem or "it gave nothing newer"
        stamp = f"{_known_until(reading, at):%Y-%m-%d %H:%M}"
        remarks = [f"The newest weather is of {stamp} UTC ({why})."]
        return provider, reading, remarks + [f"{failure}." for failure in failures]

    def _compare(
        self, first: Provider, series: HourlySeries, where: tuple[Cell, int], at: datetime,
        remarks: list[str],
    ) -> float | None:  # fmt: skip
        """Return how far the next provider's air temperatures differ, and say it."""
        cell, known = where
        others = [one for one in self.providers if one is not first and one.serves(cell)]
        if not self._parts.compare or not others:
            return None
        second = others[0]
        try:
            reading = second.current(self._client, cell, at)
        except ProviderError:
            return None
        if at - _known_until(reading, at) >= timedelta(hours=FRESH_HOURS):
            return None
        other = at_height(reading.answer.series, reading.answer.elevation, cell.elevation)
        apart = disagreement(series, other, known + 1, known + 1 + COMPARED_HOURS)
        if apart is not None and apart >= WORTH_A_WORD:
            remarks.append(
                f"{first.title} and {second.title} differ by {apart:.1f} °C over the next "
                f"{COMPARED_HOURS // 24} days."
            )
        return apart

    def _past_days(
        self, site: Site, cell: Cell, at: datetime, remarks: list[str]
    ) -> DailySeries | None:
        if self._years is None:
            return None
        days, said = self._years.days(self._client, cell, site.zone, at)
        remarks += said
        return days

    def _ensemble(self, cell: Cell, remarks: list[str]) -> Ensemble | None:
        if self._parts.archive is None:
            return None
        try:
            return self._parts.archive.ensemble(self._client, cell)
        except ProviderError as error:
            remarks.append(f"No ensemble: {error}.")
            return None

    def _warnings(
        self, cell: Cell, at: datetime, remarks: list[str]
    ) -> tuple[OfficialWarning, ...]:
        if not self._parts.warnings:
            return ()
        found: list[OfficialWarning] = []
        for provider in self.providers:
            if not provider.serves(cell):
                continue
            try:
                found += provider.warnings(self._client, cell, at) or ()
            except ProviderError as error:
                remarks.append(f"Official warnings could not be read: {error}.")
        return tuple(found)


def _known_until(reading: Reading, at: datetime) -> datetime:
    """Return the moment up to which a reading tells what is, not what will be."""
    known = min(at, reading.checked)
    if reading.answer.issued is not None:
        known = min(known, reading.answer.issued + LONGEST_RUN_AGE)
    return known


def _instead(
    failures: Sequence[str], old: Sequence[tuple[Provider, Reading]], used: Provider
) -> list[str]:
    why = [*failures, *(f"{one.title}: {reading.problem or 'too old'}" for one, reading in old)]
    return [f"{reason}; {used.title} is used instead." for reason in why]


def _begin(site: Site, at: datetime) -> int:
    """Return the ordinal of the first local day that a picture holds."""
    today = at.astimezone(site.zone).date()
    return min(date(today.year - 1, 1, 1).toordinal(), today.toordinal() - LOOK_BACK_DAYS)
