"""The picture from what was found: hours, local days, climate, and where all is from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import (
    CALENDAR_DAYS,
    Climate,
    DailySeries,
    Floats,
    HourlySeries,
    Origin,
    Provenance,
    WeatherPicture,
    hour_moment,
)
from mebuki.weather.answers import LAPSE_RATE, at_height
from mebuki.weather.cells import Cell
from mebuki.weather.gaps import bridge
from mebuki.weather.joining import daily_offsets, lay_over
from mebuki.weather.local_days import climate_from_days, daily_from_hourly, from_day, missing_days
from mebuki.weather.open_meteo_answers import Ensemble
from mebuki.weather.past_years import moved
from mebuki.weather.provider import Reading
from mebuki.weather.record import Hours
from mebuki.weather.terms import credit_of

ENOUGH_YEARS = 20
WORTH_A_WORD = 0.05
"""Offset [K] under which past years are left as they are."""

_ESTIMATED = {
    "global_radiation": "radiation: it is estimated from cloud and the height of the sun",
    "dew_point": "dew point: dry air is assumed",
    "cloud_cover": "cloud: it is estimated",
}


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a look brought together, all at the height of the cell.

    ``known`` is the hour number of the newest hour that tells what is.
    """

    reading: Reading
    season: Hours
    ahead: HourlySeries
    known: int
    cell: Cell
    past_days: DailySeries | None = None
    ensemble: Ensemble | None = None
    disagreement: float | None = None
    warnings: tuple[OfficialWarning, ...] = ()
    remarks: tuple[str, ...] = ()


def draw(found: Found, site: Site, at: datetime, begin: int) -> WeatherPicture:
    """Return the picture of a site at a moment, from local day ``begin`` (an ordinal) on."""
    measured, gaps = bridge(found.season.series.between(found.season.series.start, found.known + 1))
    hourly = lay_over(found.ahead, measured, keep_before=found.known + 1)
    hourly = at_height(hourly, found.cell.elevation, site.elevation)
    daily = from_day(daily_from_hourly(hourly, site.zone), begin)
    climate, on_climate = _climate(found, site, daily)
    answer = found.reading.answer
    there = np.flatnonzero(measured.origin == Origin.MEASURED)
    newest = hour_moment(measured.start + int(there[-1])) if len(there) else None
    if answer.series.start == found.known + 1:
        # A forecast from the coming hour on: the provider looked at the hour that runs.
        newest = hour_moment(found.known)
    furthest = hour_moment(found.ahead.end - 1) if len(found.ahead.origin) else None
    return WeatherPicture(
        site=site,
        at=at,
        hourly=hourly,
        daily=daily,
        climate=climate,
        measured_until=newest,
        forecast_until=furthest,
        provenance=_provenance(found),
        rejected=answer.rejected,
        remarks=(
            *found.remarks,
            *answer.remarks,
            *_estimated(found.ahead),
            *on_climate,
            *gaps,
            *missing_days(daily),
        ),
        warnings=found.warnings,
        disagreement=found.disagreement,
        ensemble_spread=_spread(found.ensemble, hourly),
    )


def _estimated(ahead: HourlySeries) -> list[str]:
    return [
        f"The forecast has no {words}."
        for name, words in _ESTIMATED.items()
        if len(ahead.origin) and not np.isfinite(getattr(ahead, name)).any()
    ]


def _climate(found: Found, site: Site, daily: DailySeries) -> tuple[Climate, tuple[str, ...]]:
    """Return past years, moved to fit this season's models where both have the same days."""
    if found.past_days is None:
        years = np.empty((0, CALENDAR_DAYS))
        none = Climate(
            years=(), minimum=years, maximum=years, precipitation=years, wind_speed=years
        )
        return none, ("There are no past years: nothing is known beyond the forecast.",)
    warmer = (found.cell.elevation - site.elevation) * LAPSE_RATE
    days = moved(found.past_days, (warmer, warmer))
    recent = replace(
        daily, minimum=np.where(daily.origin == Origin.MEASURED, daily.minimum, np.nan)
    )
    by = daily_offsets(recent, days)
    remarks: list[str] = []
    if by is None:
        remarks.append("Past years could not be compared with this season's weather.")
    elif max(map(abs, by)) >= WORTH_A_WORD:
        days = moved(days, by)
        night, day = (f"{one:+.1f} °C".replace("-", "−") for one in by)
        remarks.append(
            f"Past years were moved by {night} at night and {day} by day to fit this "
            "season's weather."
        )
    climate = climate_from_days(days)
    if len(climate.years) < ENOUGH_YEARS:
        remarks.append(f"Only {len(climate.years)} past years: the spread is a rough one.")
    return climate, tuple(remarks)


def _spread(ensemble: Ensemble | None, hourly: HourlySeries) -> Floats | None:
    if ensemble is None:
        return None
    spread = np.full(len(hourly.origin), np.nan)
    first = ensemble.start - hourly.start
    low, high = max(first, 0), min(first + len(ensemble.spread), len(spread))
    if high > low:
        spread[low:high] = ensemble.spread[low - first : high - first]
    return spread


def _provenance(found: Found) -> tuple[Provenance, ...]:
    reading = found.reading
    sources = [
        Provenance(name, "season to date", hour_moment(first), hour_moment(stop - 1),
                   credit=credit_of(name))
        for name, first, stop in found.season.runs()
    ]  # fmt: skip
    if len(found.ahead.origin):
        name = reading.answer.provider
        sources.append(
            Provenance(
                name, "forecast", hour_moment(found.ahead.start), hour_moment(found.ahead.end - 1),
                run=reading.answer.issued, fetched=reading.fetched, credit=credit_of(name),
            )
        )  # fmt: skip
    if found.past_days is not None:
        first, last = (
            datetime.combine(date.fromordinal(day), time(), UTC)
            for day in (found.past_days.start, found.past_days.end - 1)
        )
        name = "ERA5 by Open-Meteo"
        sources.append(Provenance(name, "past years", first, last, credit=credit_of(name)))
    return tuple(sources)
