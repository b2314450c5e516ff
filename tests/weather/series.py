"""Hourly series for the tests of the weather station."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.weather import COLUMNS, Floats, HourlySeries, Origin, hour_number

ROOT = Path(__file__).parents[2]
JFK = ROOT / "config" / "demo" / "nyc_jfk_hourly_2013.csv"
NEW_YORK_DAYS = ROOT / "config" / "demo" / "noaa_seattle_newyork_daily_2012_2015.csv"
EWR = ROOT / "tests" / "data" / "published" / "nyc_ewr_hourly_2013.csv"
LGA = ROOT / "tests" / "data" / "published" / "nyc_lga_hourly_2013.csv"

NEW_YORK = Site(
    name="New York", latitude=40.64, longitude=-73.78, elevation=4, time_zone="America/New_York"
)


def utc(*parts: int) -> datetime:
    """Return a moment in UTC from year, month, day and hour."""
    year, month, day, hour = (*parts, 0)[:4]
    return datetime(year, month, day, hour, tzinfo=UTC)


def an_hour(*parts: int) -> int:
    """Return the hour number of a moment in UTC."""
    return hour_number(utc(*parts))


def hours_of(temperature: Floats, start: int = 0, **columns: Floats) -> HourlySeries:
    """Return a measured series of a temperature; columns not given are NaN."""
    values = {name: np.full(len(temperature), np.nan) for name in COLUMNS}
    values |= {"air_temperature": np.asarray(temperature, dtype=np.float64)} | columns
    there = np.isfinite(values["air_temperature"])
    origin = np.where(there, Origin.MEASURED, Origin.MISSING).astype(np.int8)
    return HourlySeries(start=start, origin=origin, **values)


def calm_hours(count: int) -> Floats:
    """Return a temperature with a daily course and no hour like the one before."""
    hours = np.arange(count)
    return np.asarray(10 + 6 * np.sin(2 * np.pi * (hours - 9) / 24) + 0.01 * (hours % 7))
