"""US National Weather Service: grid points (raw layers) and active alerts. Public domain.

Two steps: a point gives the grid square, the square gives the layers. Equal
neighbours are merged there into one interval; instantaneous layers hold for
each hour of it, amounts are spread over it. The lowest temperature of the
night is a layer of its own, and the official one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import Floats, HourlySeries
from mebuki.weather.answers import (
    Answer,
    ProviderError,
    dew_point_from,
    full_hour,
    mapping,
    moment,
    near,
    number,
    read_json,
    sequence,
    series_of,
    sound,
    text,
)
from mebuki.weather.asking import Request
from mebuki.weather.cells import Cell, plain
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.provider import Reading, in_boxes
from mebuki.weather.warnings import parse_nws, standing

NAME, TITLE = "nws", "US National Weather Service"
URL = "https://api.weather.gov"
KEEP, POINT_KEEP, ALERT_KEEP = timedelta(hours=1), timedelta(hours=20), timedelta(minutes=10)
WITHIN = 0.3
MOST_HOURS = 24 * 15
MOST_INTERVALS = 2000
MOST_BELOW = 8.0
"""Degrees that an official minimum may lie below the hours of its window [K]."""

SNOW_PER_WATER = 10.0
"""Depth of fresh snow over its water equivalent, a usual mean."""

AREA = ((17.0, 50.0, -125.5, -64.0), (51.0, 72.0, -180.0, -129.0), (18.5, 23.0, -161.0, -154.0),
        (13.0, 21.0, 144.0, 147.0))  # fmt: skip
"""The contiguous states with Puerto Rico, Alaska, Hawaii, Guam: (south, north, west, east)."""

_UNITS: Mapping[str, Mapping[str, float]] = {
    "temperature": {"degC": 1},
    "dewpoint": {"degC": 1},
    "relativeHumidity": {"percent": 1},
    "skyCover": {"percent": 0.01},
    "windSpeed": {"km_h-1": 1 / 3.6, "m_s-1": 1},
    "quantitativePrecipitation": {"mm": 1, "kg_m-2": 1},
    "snowfallAmount": {"mm": 1 / SNOW_PER_WATER, "m": 1000 / SNOW_PER_WATER},
    "minTemperature": {"degC": 1},
}
_DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,3})H)?(?:(\d{1,3})M)?)?", re.ASCII)
_SQUARE = re.compile(r"[A-Z]{3}/-?\d{1,4},-?\d{1,4}", re.ASCII)
_Interval = tuple[int, int, float]


def point_request(cell: Cell, url: str = "") -> Request:
    """Return the question for the grid square of a cell."""
    address = f"{url or URL}/points/{plain(cell.latitude)},{plain(cell.longitude)}"
    return Request(NAME, f"grid square of {cell.name}", address, keep=POINT_KEEP)


def grid_request(square: str, url: str = "") -> Request:
    """Return the question for the layers of a grid square such as ``PHI/48,76``."""
    return Request(NAME, f"forecast for {square}", f"{url or URL}/gridpoints/{square}", keep=KEEP)


def alerts_request(cell: Cell, url: str = "") -> Request:
    """Return the question for the warnings in force at a cell."""
    point = (("point", f"{plain(cell.latitude)},{plain(cell.longitude)}"),)
    return Request(NAME, f"warnings for {cell.name}", f"{url or URL}/alerts/active", point,
                   keep=ALERT_KEEP)  # fmt: skip


def parse_point(content: bytes) -> str:
    """Return the grid square of a point.

    Raises
    ------
    ProviderError
        If the answer names none.
    """
    found = mapping(read_json(content, TITLE), TITLE, "the point")
    field = mapping(found.get("properties"), TITLE, "properties")
    # Numbers here, texts in the answer of the square itself: both are read.
    square = f"{field.get('gridId')}/{field.get('gridX')},{field.get('gridY')}"[:20]
    if not _SQUARE.fullmatch(square):
        msg = f"{TITLE}: the answer names no grid square"
        raise ProviderError(msg)
    return square


def parse_grid(content: bytes, cell: Cell) -> Answer:
    """Return the layers of a grid square in hours.

    Raises
    ------
    ProviderError
        If the answer is not what was asked, or not believable.
    """
    found = mapping(read_json(content, TITLE), TITLE, "the grid square")
    place = _middle(found, cell)
    layers = mapping(found.get("properties"), TITLE, "properties")
    remarks: list[str] = []
    intervals = {name: list(_intervals(layers, name, remarks)) for name in _UNITS}
    air = intervals["temperature"]
    if not air:
        msg = f"{TITLE}: no air temperature in degrees Celsius"
        raise ProviderError(msg)
    start, stop = min(one[0] for one in air), max(one[1] for one in air)
    if stop - start > MOST_HOURS:
        msg = f"{TITLE}: the forecast spans {stop - start} h"
        raise ProviderError(msg)
    answer = Answer(
        TITLE,
        _series(intervals, start, stop),
        *place,
        elevation=_height(layers),
        issued=moment(layers.get("updateTime")),
        remarks=tuple(remarks),
    )
    return _with_lows(sound(answer), intervals["minTemperature"])


def _middle(found: Mapping[str, object], cell: Cell) -> tuple[float, float]:
    geometry = mapping(found.get("geometry"), TITLE, "the square's corners")
    rings = sequence(geometry.get("coordinates"), TITLE, "the square's corners")
    corners = sequence(rings[0] if rings else None, TITLE, "the square's corners")[:100]
    points = [
        (number(one[1]), number(one[0]))
        for one in corners
        if isinstance(one, list) and len(one) > 1
    ]
    middle = np.mean(np.array(points), axis=0) if points else np.full(2, np.nan)
    got = float(middle[0]), float(middle[1])
    if not near((cell.latitude, cell.longitude), got, WITHIN):
        msg = f"{TITLE}: the answer is for {got[0]:.2f}, {got[1]:.2f}, asked was {cell.name}"
        raise ProviderError(msg)
    return got


def _height(layers: Mapping[str, object]) -> float:
    height = layers.get("elevation")
    if not isinstance(height, dict) or text(height.get("unitCode")).rpartition(":")[2] != "m":
        return np.nan
    return number(height.get("value"))


def _intervals(layers: Mapping[str, object], name: str, remarks: list[str]) -> Iterator[_Interval]:
    """Yield (first hour, hour after the last, value in our unit) of a layer."""
    layer = layers.get(name)
    if not isinstance(layer, dict):
        return
    unit = text(layer.get("uom")).rpartition(":")[2]
    factor = _UNITS[name].get(unit)
    if factor is None:
        remarks.append(f"{TITLE} gave {name} in {unit[:20] or 'no unit'}; it is left out.")
        return
    for one in sequence(layer.get("values"), TITLE, name)[:MOST_INTERVALS]:
        entry = mapping(one, TITLE, name)
        value = number(entry.get("value"))
        if np.isfinite(value):
            yield (*_span(text(entry.get("validTime"))), value * factor)


def _span(valid: str) -> tuple[int, int]:
    """Return the hours of an interval written as start/duration or start/end."""
    begin, _, rest = valid.partition("/")
    first = full_hour(begin, TITLE)
    found = _DURATION.fullmatch(rest)
    if found is None:
        last = full_hour(rest, TITLE)
    else:
        days, hours, minutes = (int(part or 0) for part in found.groups())
        last = first + days * 24 + hours + (minutes > 0)
    if not first < last <= first + MOST_HOURS:
        msg = f"{TITLE}: {valid!r:.60} is no interval that runs forward"
        raise ProviderError(msg)
    return first, last


def _series(intervals: Mapping[str, list[_Interval]], start: int, stop: int) -> HourlySeries:
    held = {
        name: _held(intervals[name], start, stop)
        for name in ("temperature", "dewpoint", "relativeHumidity", "skyCover", "windSpeed")
    }
    air = held["temperature"]
    dew = np.minimum(held["dewpoint"], air)
    made = dew_point_from(air, held["relativeHumidity"])
    rain = _spread(intervals["quantitativePrecipitation"], start, stop)
    snow = _spread(intervals["snowfallAmount"], start, stop)
    columns = {
        "air_temperature": air,
        "dew_point": np.where(np.isnan(dew), made, dew),
        "wind_speed": held["windSpeed"],
        "precipitation": rain,
        "snowfall": np.where(np.isnan(rain), snow, np.minimum(snow, rain)),
        "cloud_cover": held["skyCover"],
    }
    return series_of(start, columns)


def _held(intervals: list[_Interval], start: int, stop: int) -> Floats:
    values = np.full(stop - start, np.nan)
    for first, last, value in intervals:
        values[max(first - start, 0) : max(last - start, 0)] = value
    return values


def _spread(intervals: list[_Interval], start: int, stop: int) -> Floats:
    """Spread amounts over their intervals, each hour's counted where the hour ends."""
    values = np.full(stop - start, np.nan)
    for first, last, value in intervals:
        values[max(first + 1 - start, 0) : max(last + 1 - start, 0)] = value / (last - first)
    return values


def _with_lows(answer: Answer, lows: list[_Interval]) -> Answer:
    """Lower the coldest hour of each window to the official minimum, and its neighbours half.

    A minimum more than `MOST_BELOW` under the hours is no minimum of theirs.
    """
    series = answer.series
    air = series.air_temperature.copy()
    for first, last, low in lows:
        window = slice(max(first - series.start, 0), max(last - series.start, 0))
        part = series.air_temperature[window]
        if not np.isfinite(part).any():
            continue
        coldest = window.start + int(np.nanargmin(part))
        missing = series.air_temperature[coldest] - low
        if 0 < missing <= MOST_BELOW:
            air[coldest] = low
            for beside in (coldest - 1, coldest + 1):
                if window.start <= beside < min(window.stop, len(air)):
                    air[beside] = min(air[beside], series.air_temperature[beside] - missing / 2)
    dew = np.minimum(series.dew_point, air)
    return replace(answer, series=replace(series, air_temperature=air, dew_point=dew))


class Nws:
    """The provider."""

    name, title = NAME, TITLE

    def __init__(self, url: str = "") -> None:
        self._url = url

    def serves(self, cell: Cell) -> bool:
        """Return whether a place may lie in the United States."""
        return in_boxes(cell, AREA)

    def requests(self, cell: Cell, at: datetime) -> tuple[Request, ...]:
        """Return the question for the square and for warnings; the layers' follows the first."""
        return point_request(cell, self._url), alerts_request(cell, self._url)

    def current(self, client: WeatherClient, cell: Cell, at: datetime) -> Reading:
        """Return the forecast of the square."""
        where = point_request(cell, self._url)
        square = client.get(where, parse_point).value
        try:
            got = client.get(grid_request(square, self._url), lambda body: parse_grid(body, cell))
        except ProviderError as error:
            moved = error.elsewhere and client.get(replace(where, stored=False), parse_point).value
            if not moved or moved == square:
                raise
            # The service redraws its grid now and then; the old square is gone.
            got = client.get(grid_request(moved, self._url), lambda body: parse_grid(body, cell))
        return Reading(got.value, got.snapshot.fetched, got.snapshot.checked, got.problem)

    def past(self, client: WeatherClient, cell: Cell, first: int, stop: int) -> tuple[Answer, ...]:
        """Return nothing: it has no past."""
        return ()

    def warnings(
        self, client: WeatherClient, cell: Cell, at: datetime
    ) -> tuple[OfficialWarning, ...] | None:
        """Return what stands of the active alerts."""
        got = client.get(alerts_request(cell, self._url), parse_nws)
        if got.problem and at - got.snapshot.checked > timedelta(hours=1):
            raise ProviderError(got.problem)
        return standing(got.value, at)
