"""Open-Meteo: what its answers say. Total parsers with the units checked.

A column whose unit differs from what was asked (``undefined`` where a model
lacks it) is dropped, and said. A wrong unit of the air temperature, a local
time axis, a jump in the hours or another place refuse the whole answer.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from mebuki.domain.weather import Floats, Ints
from mebuki.weather.answers import (
    FIRST_HOUR,
    LAST_HOUR,
    LONGEST_ANSWER,
    Answer,
    ProviderError,
    column,
    dew_point_from,
    mapping,
    near,
    number,
    read_json,
    sequence,
    series_of,
    sound,
    text,
)
from mebuki.weather.cells import Cell

TITLE = "Open-Meteo"
SECONDS = 3600
WITHIN, ENSEMBLE_WITHIN = 0.5, 0.9
"""Distance [degrees] at which a grid cell of similar height may lie; ensembles are coarser."""

COLDEST, HOTTEST, WIDEST = -80.0, 60.0, 30.0
"""Limits of a member's air temperature [°C] and of a spread [K]."""

WATER_PER_SNOW = 10 / 7
"""Water equivalent [mm] of a centimetre of fresh snow, by the provider's own rule."""


@dataclass(frozen=True, slots=True)
class _Variable:
    """Our column for a variable, its unit as asked, and the factor to ours."""

    column: str
    unit: str
    factor: float = 1.0


FORECAST_COLUMNS: Mapping[str, _Variable] = MappingProxyType(
    {
        "temperature_2m": _Variable("air_temperature", "°C"),
        "dew_point_2m": _Variable("dew_point", "°C"),
        "relative_humidity_2m": _Variable("relative_humidity", "%"),
        "wind_speed_10m": _Variable("wind_speed", "m/s"),
        "precipitation": _Variable("precipitation", "mm"),
        "snowfall": _Variable("snowfall", "cm", WATER_PER_SNOW),
        "shortwave_radiation": _Variable("global_radiation", "W/m²"),
        "cloud_cover": _Variable("cloud_cover", "%", 0.01),
    }
)
"""The hourly variables we ask for."""

_MEMBER = re.compile(r"temperature_2m(_member\d{2,3})?(_[a-z][a-z0-9_]*)?", re.ASCII)


@dataclass(frozen=True, slots=True, eq=False)
class Ensemble:
    """Mean and spread of an ensemble's air temperature.

    ``start`` is the first hour number; ``members`` has a row for each member
    (none where only mean and spread were asked), ``mean`` [°C] and ``spread``
    (standard deviation) [K] a value for each hour, NaN where unknown.
    """

    start: int
    members: Floats
    mean: Floats
    spread: Floats


def parse_hourly(content: bytes, cells: Sequence[Cell]) -> tuple[Answer, ...]:
    """Return the hours for each cell that was asked for, in that order.

    One place comes as an object, several as a list.

    Raises
    ------
    ProviderError
        If any of them is not what was asked, or not believable.
    """
    value = read_json(content, TITLE)
    found = value if isinstance(value, list) else [value]
    if len(found) != len(cells):
        msg = f"{TITLE}: {len(found)} places came for {len(cells)} asked"
        raise ProviderError(msg)
    return tuple(
        _one(mapping(one, TITLE, "a place"), cell) for one, cell in zip(found, cells, strict=True)
    )


def _one(found: Mapping[str, object], cell: Cell) -> Answer:
    place = _place(found, cell, WITHIN)
    start, hours, units, hourly = _axis(found)
    columns: dict[str, Floats] = {}
    dropped: list[str] = []
    for name, variable in FORECAST_COLUMNS.items():
        if name not in hourly:
            continue
        unit = text(units.get(name))
        if unit == variable.unit:
            values = column(hourly[name], len(hours), TITLE, name)
            columns[variable.column] = values * variable.factor
        else:
            dropped.append(f"{TITLE} gave {name} in {unit or 'no unit'}; it is left out.")
    if "air_temperature" not in columns:
        msg = f"{TITLE}: no air temperature in °C"
        raise ProviderError(msg)
    humidity = columns.pop("relative_humidity", np.full(len(hours), np.nan))
    remarks = [*dropped, *_with_dew_point(columns, humidity)]
    answer = Answer(
        TITLE, series_of(start, columns), *place, elevation=number(found.get("elevation")),
        remarks=tuple(remarks),
    )  # fmt: skip
    return sound(answer)


def _with_dew_point(columns: dict[str, Floats], humidity: Floats) -> list[str]:
    """Fill a missing dew point from the humidity, and say so if all of it was missing."""
    given = columns.get("dew_point", np.full(len(humidity), np.nan))
    made = dew_point_from(columns["air_temperature"], humidity)
    columns["dew_point"] = np.where(np.isnan(given), made, given)
    if np.isfinite(given).any() or not np.isfinite(made).any():
        return []
    return ["The dew point was worked out from the relative humidity."]


def _place(found: Mapping[str, object], cell: Cell, within: float) -> tuple[float, float]:
    if found.get("error") is True:
        msg = f"{TITLE}: {text(found.get('reason')):.200}"
        raise ProviderError(msg)
    got = number(found.get("latitude")), number(found.get("longitude"))
    if not near((cell.latitude, cell.longitude), got, within):
        msg = f"{TITLE}: the answer is for {got[0]:.2f}, {got[1]:.2f}, asked was {cell.name}"
        raise ProviderError(msg)
    return got


def _axis(
    found: Mapping[str, object],
) -> tuple[int, Ints, Mapping[str, object], Mapping[str, object]]:
    """Return the first hour number, all hours, units and columns; refuse any but UTC hours."""
    units = mapping(found.get("hourly_units"), TITLE, "hourly_units")
    hourly = mapping(found.get("hourly"), TITLE, "hourly")
    if units.get("time") != "unixtime" or number(found.get("utc_offset_seconds")) != 0:
        msg = f"{TITLE}: the times are local, UTC as unix time was asked"
        raise ProviderError(msg)
    raw = column(
        hourly.get("time"), len(sequence(hourly.get("time"), TITLE, "time")), TITLE, "time"
    )
    if not 0 < len(raw) <= LONGEST_ANSWER:
        msg = f"{TITLE}: {len(raw)} hours came"
        raise ProviderError(msg)
    inside = (raw >= FIRST_HOUR * SECONDS) & (raw < LAST_HOUR * SECONDS) & (raw % SECONDS == 0)
    if not inside.all() or (np.diff(raw) != SECONDS).any():
        msg = f"{TITLE}: the times are not one full hour after the other"
        raise ProviderError(msg)
    hours = (raw / SECONDS).astype(np.int64)
    return int(hours[0]), hours, units, hourly


def parse_ensemble(content: bytes, cell: Cell) -> Ensemble:
    """Return members, or mean and spread, of the air temperature.

    Raises
    ------
    ProviderError
        If the answer is not what was asked, or not believable.
    """
    found = mapping(read_json(content, TITLE), TITLE, "a place")
    _place(found, cell, ENSEMBLE_WITHIN)
    start, hours, units, hourly = _axis(found)
    spread = None
    if "temperature_2m_spread" in hourly and text(units.get("temperature_2m_spread")) in {
        "K",
        "°C",
    }:
        spread = column(hourly["temperature_2m_spread"], len(hours), TITLE, "the spread")
    rows = [
        column(values, len(hours), TITLE, name)
        for name, values in sorted(hourly.items())
        if _MEMBER.fullmatch(name) and "_spread" not in name and units.get(name) == "°C"
    ]
    if not rows:
        msg = f"{TITLE}: no member's air temperature in °C"
        raise ProviderError(msg)
    members = np.array(rows)
    mean, own_spread = _mean_and_spread(members)
    if spread is None:
        spread = own_spread
    _believable(mean, members, spread)
    return Ensemble(start, members if len(rows) > 1 else members[:0], mean, spread)


def _mean_and_spread(members: Floats) -> tuple[Floats, Floats]:
    there = np.isfinite(members)
    count = there.sum(axis=0)
    values = np.where(there, members, 0.0)
    with np.errstate(all="ignore"):
        mean = np.where(count > 0, values.sum(axis=0) / count, np.nan)
        off = np.where(there, members - mean, 0.0)
        spread = np.where(count > 1, np.sqrt((off**2).sum(axis=0) / (count - 1)), np.nan)
    return mean, spread


def _believable(mean: Floats, members: Floats, spread: Floats) -> None:
    air, wide = members[np.isfinite(members)], spread[np.isfinite(spread)]
    if not np.isfinite(mean).any() or not len(wide):
        msg = f"{TITLE}: the ensemble holds no spread"
        raise ProviderError(msg)
    if air.min() < COLDEST or air.max() > HOTTEST or wide.min() < 0 or wide.max() > WIDEST:
        msg = f"{TITLE}: the ensemble holds values that cannot be"
        raise ProviderError(msg)
