"""Tables beside the tests of the season, and small phenologies, for the clocks of the year."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import numpy as np

from mebuki.domain.figure import Figure, Phrase
from mebuki.domain.taxon import Phenology, ThermalClock
from mebuki.domain.weather import Climate, DailySeries, Floats, Origin

ROOT = Path(__file__).parents[2]
PUBLISHED = ROOT / "tests/data/published"
NOAA = ROOT / "config/demo/noaa_seattle_newyork_daily_2012_2015.csv"

LATITUDES = {"New York": 40.78, "Seattle": 47.45}
"""Latitudes of the NOAA check series."""


def rows_of(path: Path) -> list[dict[str, str]]:
    """Return the rows of a table, its ``#`` header left out."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def noaa_extremes(location: str) -> tuple[int, Floats]:
    """Return the first ordinal and minimum and maximum [°C] of the NOAA daily series."""
    rows = [row for row in rows_of(NOAA) if row["location"] == location]
    extremes = [[float(row[name]) for row in rows] for name in ("temp_min_c", "temp_max_c")]
    return date.fromisoformat(rows[0]["date"]).toordinal(), np.array(extremes)


def daily_series(
    start: int, minimum: Floats, maximum: Floats, forecast_days: int = 0
) -> DailySeries:
    """Return a daily series whose last days are a forecast."""
    origin = np.full(len(minimum), Origin.MEASURED, np.int8)
    if forecast_days:
        origin[-forecast_days:] = Origin.FORECAST
    still = np.zeros(len(minimum))
    return DailySeries(start, np.array(minimum), np.array(maximum), still, still, origin)


def climate_of(*years: tuple[Floats, Floats]) -> Climate:
    """Return a climate of years given as minimum and maximum over 366 slots."""
    shape = (len(years), 366)
    minimum = np.array([year[0] for year in years]).reshape(shape)
    maximum = np.array([year[1] for year in years]).reshape(shape)
    still = np.zeros(shape)
    return Climate(tuple(range(1990, 1990 + len(years))), minimum, maximum, still, still)


def noaa_climate(location: str, years: tuple[int, ...]) -> Climate:
    """Return past years of the NOAA series as a climate."""
    start, extremes = noaa_extremes(location)
    found = []
    for year in years:
        first = date(year, 1, 1).toordinal() - start
        values = extremes[:, first : date(year + 1, 1, 1).toordinal() - start]
        if values.shape[1] == 365:
            values = np.insert(values, 59, values[:, 58:60].mean(axis=1), axis=1)
        found.append((values[0], values[1]))
    return climate_of(*found)


def figure(value: float) -> Figure:
    """Return a number of a test."""
    return Figure(value=value, source="default")


def thermal(cwtt: float, sd_ln: float = 0.2, sigdl: float | None = None) -> ThermalClock:
    """Return the heat a stage needs."""
    second = None if sigdl is None else figure(sigdl)
    return ThermalClock(cwtt=figure(cwtt), sigdl=second, sd_ln=figure(sd_ln))


def phenology(bud_break: ThermalClock, **changes: object) -> Phenology:
    """Return the clocks of a taxon."""
    chill = Phrase(value="medium", source="default")
    start = {"bud_break": bud_break, "chill_class": chill, "base_temperature": figure(5)}
    return Phenology.model_validate(start | changes)
