"""Bright Sky: the German weather service's station observations, forecast and warnings.

Observations are measured, so this is also a judge of the other providers'
past hours. Values come in the service's usual units, here km/h, percent and
kWh per square metre and hour.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

import numpy as np

from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import Floats, Origin, hour_moment
from mebuki.weather.answers import (
    LONGEST_ANSWER,
    Answer,
    ProviderError,
    column,
    dew_point_from,
    full_hour,
    mapping,
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
from mebuki.weather.warnings import parse_bright_sky, standing

NAME, TITLE = "bright-sky", "Deutscher Wetterdienst (Bright Sky)"
URL = "https://api.brightsky.dev"
WARNING_PAGE = "https://www.dwd.de/warnungen"
KEEP, ALERT_KEEP = timedelta(minutes=50), timedelta(minutes=10)
PAST_DAYS, FORECAST_DAYS = 3, 10
PAST_CHUNK = timedelta(days=200)
WITHIN = 0.7
"""Distance [degrees] of the station: the service looks within 50 km."""

LONGEST_GAP = 12
AREA = ((47.0, 55.2, 5.5, 15.3),)
"""Germany: (south, north, west, east)."""

_COLUMNS = {
    "temperature": ("air_temperature", 1.0),
    "dew_point": ("dew_point", 1.0),
    "relative_humidity": ("relative_humidity", 1.0),
    "wind_speed": ("wind_speed", 1 / 3.6),
    "precipitation": ("precipitation", 1.0),
    "solar": ("global_radiation", 1000.0),
    "cloud_cover": ("cloud_cover", 0.01),
}
_MEASURED = {"historical", "current", "synop", "recent"}


def weather_request(cell: Cell, first: datetime, last: datetime, url: str = "") -> Request:
    """Return the question for hours from one moment to another."""
    parameters = (
        ("lat", plain(cell.latitude)), ("lon", plain(cell.longitude)),
        ("date", f"{first:%Y-%m-%dT%H:%MZ}"), ("last_date", f"{last:%Y-%m-%dT%H:%MZ}"),
        ("tz", "Etc/UTC"), ("units", "dwd"),
    )  # fmt: skip
    address = f"{url or URL}/weather"
    return Request(NAME, f"weather for {cell.name}", address, parameters, keep=KEEP,
                   kept_as=f"{address}?{cell.name}")  # fmt: skip


def alerts_request(cell: Cell, url: str = "") -> Request:
    """Return the question for the warnings in force at a cell."""
    place = (("lat", plain(cell.latitude)), ("lon", plain(cell.longitude)))
    return Request(NAME, f"warnings for {cell.name}", f"{url or URL}/alerts", place,
                   keep=ALERT_KEEP)  # fmt: skip


def parse(content: bytes, cell: Cell) -> Answer:
    """Return observed and forecast hours; observed ones have the origin ``MEASURED``.

    Raises
    ------
    ProviderError
        If the answer is not what was asked, or not believable.
    """
    found = mapping(read_json(content, TITLE), TITLE, "the weather")
    rows = [
        mapping(one, TITLE, "an hour") for one in sequence(found.get("weather"), TITLE, "weather")
    ]
    hours = np.array([full_hour(row.get("timestamp"), TITLE) for row in rows], dtype=np.int64)
    gaps = np.diff(hours)
    if not len(gaps) or gaps.min() < 1 or gaps.max() > LONGEST_GAP:
        msg = f"{TITLE}: the times do not run forward hour by hour"
        raise ProviderError(msg)
    if hours[-1] - hours[0] >= LONGEST_ANSWER:
        msg = f"{TITLE}: the answer spans too many hours"
        raise ProviderError(msg)
    sources = _sources(found)
    place = _place([row.get("source_id") for row in rows], sources, cell)
    at = hours - hours[0]
    columns: dict[str, Floats] = {}
    for name, (ours, factor) in _COLUMNS.items():
        values = np.full(int(at[-1]) + 1, np.nan)
        values[at] = column([row.get(name) for row in rows], len(rows), TITLE, name) * factor
        columns[ours] = values
    made = dew_point_from(columns["air_temperature"], columns.pop("relative_humidity"))
    columns["dew_point"] = np.where(np.isnan(columns["dew_point"]), made, columns["dew_point"])
    series = series_of(int(hours[0]), columns)
    measured = np.array([_kind(row, sources) in _MEASURED for row in rows])
    known = at[measured & np.isfinite(series.air_temperature[at])]
    series.origin[known] = Origin.MEASURED
    return sound(Answer(TITLE, series, *place))


def _sources(found: Mapping[str, object]) -> Mapping[int, Mapping[str, object]]:
    listed = [
        mapping(one, TITLE, "a station") for one in sequence(found.get("sources"), TITLE, "sources")
    ]
    return {key: one for one in listed if isinstance(key := one.get("id"), int)}


def _kind(row: Mapping[str, object], sources: Mapping[int, Mapping[str, object]]) -> str:
    number_ = row.get("source_id")
    source = sources.get(number_, {}) if isinstance(number_, int) else {}
    return text(source.get("observation_type"))


def _place(
    used: list[object], sources: Mapping[int, Mapping[str, object]], cell: Cell
) -> tuple[float, float, float]:
    """Return latitude, longitude and height of the first station used; all must be near."""
    stations = [sources[one] for one in dict.fromkeys(
        each for each in used if isinstance(each, int)) if one in sources]  # fmt: skip
    places = [
        (number(one.get("lat")), number(one.get("lon")), number(one.get("height")))
        for one in stations
    ]
    far = [one for one in places if not near((cell.latitude, cell.longitude), one[:2], WITHIN)]
    if not places or far:
        msg = f"{TITLE}: the stations of the answer are not those near {cell.name}"
        raise ProviderError(msg)
    return places[0]


class BrightSky:
    """The provider."""

    name, title = NAME, TITLE

    def __init__(self, url: str = "") -> None:
        self._url = url

    def serves(self, cell: Cell) -> bool:
        """Return whether a place may lie in Germany."""
        return in_boxes(cell, AREA)

    def requests(self, cell: Cell, at: datetime) -> tuple[Request, ...]:
        """Return the questions for weather and warnings."""
        return self._current(cell, at), alerts_request(cell, self._url)

    def _current(self, cell: Cell, at: datetime) -> Request:
        today = at.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
        first, last = today - timedelta(days=PAST_DAYS), today + timedelta(days=FORECAST_DAYS)
        return weather_request(cell, first, last, self._url)

    def current(self, client: WeatherClient, cell: Cell, at: datetime) -> Reading:
        """Return the last three days and the forecast."""
        got = client.get(self._current(cell, at), lambda content: parse(content, cell))
        return Reading(got.value, got.snapshot.fetched, got.snapshot.checked, got.problem)

    def past(self, client: WeatherClient, cell: Cell, first: int, stop: int) -> tuple[Answer, ...]:
        """Return observed hours."""
        begin, end = hour_moment(first), hour_moment(stop)
        answers = []
        while begin < end:
            until = min(begin + PAST_CHUNK, end)
            request = weather_request(cell, begin, until, self._url)
            asked = Request(NAME, request.what, request.url, request.parameters, stored=False)
            answers.append(client.get(asked, lambda content: parse(content, cell)).value)
            begin = until
        return tuple(answers)

    def warnings(
        self, client: WeatherClient, cell: Cell, at: datetime
    ) -> tuple[OfficialWarning, ...] | None:
        """Return the warnings in force, linked to the official page.

        The service asks that its name be taken from warnings that are not
        handed on complete and at once; the link leads to those that are.
        """
        request = alerts_request(cell, self._url)
        got = client.get(request, lambda content: parse_bright_sky(content, WARNING_PAGE))
        if got.problem and at - got.snapshot.checked > timedelta(hours=1):
            raise ProviderError(got.problem)
        return standing(got.value, at)
