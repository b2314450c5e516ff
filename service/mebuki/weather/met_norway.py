"""MET Norway, Locationforecast 2.0 complete: global, nine days, commercial use allowed.

Its manners are strict and kept by the client: an own User-Agent, at most four
decimals, nothing before ``Expires``, ``If-Modified-Since`` as it came, no
second try after 403 or 429. It has no radiation and no past.

After about two and a half days its steps are six hours long. The hours
between are drawn: temperatures through the lowest and highest of the step,
since a straight line would miss the dawn; rain in equal parts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import Floats, Ints
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
)
from mebuki.weather.asking import Request
from mebuki.weather.cells import Cell, plain
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.provider import Reading

NAME, TITLE = "met-norway", "MET Norway"
URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete"
KEEP = timedelta(minutes=30)
WITHIN = 0.2
LONGEST_STEP, MOST_STEPS = 12, 500
"""Hours between two entries, and entries in an answer, at most."""

LONG_STEP = 3
"""Hours from which a step is led through its lowest or highest temperature."""

_UNITS = {
    "air_temperature": "celsius",
    "dew_point_temperature": "celsius",
    "relative_humidity": "%",
    "wind_speed": "m/s",
    "cloud_area_fraction": "%",
    "precipitation_amount": "mm",
}
_INSTANT = ("air_temperature", "dew_point_temperature", "relative_humidity", "wind_speed",
            "cloud_area_fraction")  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Step:
    """One entry: its hour, values at that hour, and what the step after it brings."""

    hour: int
    values: tuple[float, ...]
    rain: Mapping[int, float]
    lowest: float
    highest: float


def request(cell: Cell, url: str = "") -> Request:
    """Return the question for a cell."""
    parameters = (
        ("lat", plain(cell.latitude)),
        ("lon", plain(cell.longitude)),
        ("altitude", f"{cell.elevation:.0f}"),
    )
    return Request(
        NAME, f"forecast for {cell.name}", url or URL, parameters, keep=KEEP, may_wait=False
    )


def parse(content: bytes, cell: Cell) -> Answer:
    """Return the forecast in hours.

    Raises
    ------
    ProviderError
        If the answer is not what was asked, or not believable.
    """
    found = mapping(read_json(content, TITLE), TITLE, "the forecast")
    geometry = mapping(found.get("geometry"), TITLE, "the place")
    point = [number(one) for one in sequence(geometry.get("coordinates"), TITLE, "the place")]
    point += [np.nan] * 3
    if not near((cell.latitude, cell.longitude), (point[1], point[0]), WITHIN):
        msg = f"{TITLE}: the answer is for {point[1]:.2f}, {point[0]:.2f}, asked was {cell.name}"
        raise ProviderError(msg)
    properties = mapping(found.get("properties"), TITLE, "properties")
    meta = mapping(properties.get("meta"), TITLE, "meta")
    usable, remarks = _usable(mapping(meta.get("units"), TITLE, "units"))
    raw = sequence(properties.get("timeseries"), TITLE, "timeseries")
    steps = [_step(one, usable) for one in raw[:MOST_STEPS]]
    hours = np.array([step.hour for step in steps], dtype=np.int64)
    gaps = np.diff(hours)
    if not len(gaps) or gaps.min() < 1 or gaps.max() > LONGEST_STEP:
        msg = f"{TITLE}: the times do not run forward in steps of 1 to {LONGEST_STEP} h"
        raise ProviderError(msg)
    answer = Answer(
        TITLE, series_of(int(hours[0]), _columns(steps, hours)), point[1], point[0], point[2],
        issued=moment(meta.get("updated_at")),
        remarks=tuple(remarks),
    )  # fmt: skip
    return sound(answer)


def _usable(units: Mapping[str, object]) -> tuple[frozenset[str], list[str]]:
    """Return the quantities that come in the unit we read, and a remark for the others."""
    if units.get("air_temperature") != "celsius":
        msg = f"{TITLE}: no air temperature in degrees Celsius"
        raise ProviderError(msg)
    good = {name for name, unit in _UNITS.items() if units.get(name) == unit}
    wrong = [name for name in _UNITS if name in units and name not in good]
    return frozenset(good), [
        f"{TITLE} gave {n} in {units[n]!r:.20}; it is left out." for n in wrong
    ]


def _step(value: object, usable: frozenset[str]) -> _Step:
    entry = mapping(value, TITLE, "an entry")
    data = mapping(entry.get("data"), TITLE, "the data of an entry")
    instant = mapping(data.get("instant"), TITLE, "instant")
    details = mapping(instant.get("details"), TITLE, "details")
    values = tuple(number(details.get(name)) if name in usable else np.nan for name in _INSTANT)
    rain = {}
    for length in (1, 6, 12):
        amount = number(_next(data, length).get("precipitation_amount"))
        if "precipitation_amount" in usable and np.isfinite(amount):
            rain[length] = amount
    six = _next(data, 6)
    lowest, highest = number(six.get("air_temperature_min")), number(six.get("air_temperature_max"))
    return _Step(full_hour(entry.get("time"), TITLE), values, rain, lowest, highest)


def _next(data: Mapping[str, object], hours: int) -> Mapping[str, object]:
    part = data.get(f"next_{hours}_hours")
    details = part.get("details") if isinstance(part, dict) else None
    return details if isinstance(details, dict) else {}


def _columns(steps: list[_Step], hours: Ints) -> dict[str, Floats]:
    axis = np.arange(hours[0], hours[-1] + 1)
    given = np.array([step.values for step in steps])
    drawn = {name: _drawn(axis, hours, given[:, index]) for index, name in enumerate(_INSTANT)}
    air = _with_extremes(drawn["air_temperature"], steps)
    dew = np.minimum(drawn["dew_point_temperature"], air)
    made = dew_point_from(air, drawn["relative_humidity"])
    return {
        "air_temperature": air,
        "dew_point": np.where(np.isnan(dew), made, dew),
        "wind_speed": drawn["wind_speed"],
        "cloud_cover": drawn["cloud_area_fraction"] / 100,
        "precipitation": _rain(steps, len(axis)),
    }


def _drawn(axis: Ints, hours: Ints, given: Floats) -> Floats:
    """Draw a quantity through the hours given; nothing before the first and after the last."""
    there = np.isfinite(given)
    if not there.any():
        return np.full(len(axis), np.nan)
    return np.interp(axis, hours[there], given[there], left=np.nan, right=np.nan)


def _pairs(steps: list[_Step]) -> Iterator[tuple[_Step, int]]:
    """Yield each step with its length [h]; the last has none."""
    for step, following in pairwise(steps):
        yield step, following.hour - step.hour


def _with_extremes(air: Floats, steps: list[_Step]) -> Floats:
    """Lead the hours within long steps through the lowest or highest temperature of the step."""
    led = air.copy()
    for step, length in _pairs(steps):
        first = step.hour - steps[0].hour
        ends = air[first], air[first + length]
        if length < LONG_STEP or not np.isfinite(ends).all():
            continue
        middle = first + length // 2
        for peak, beyond in ((step.lowest, step.lowest < min(ends)),
                             (step.highest, step.highest > max(ends))):  # fmt: skip
            if beyond and np.isfinite(peak):
                inside = np.arange(first, first + length + 1)
                knots = [first, middle, first + length]
                led[inside] = np.interp(inside, knots, [ends[0], peak, ends[1]])
    return led


def _rain(steps: list[_Step], length: int) -> Floats:
    """Spread what a step brings over its hours, each counted at the hour it ends."""
    rain = np.full(length, np.nan)
    for step, hours in _pairs(steps):
        first = step.hour - steps[0].hour
        period = next((one for one in (1, 6, 12) if one >= hours and one in step.rain), None)
        if period is not None:
            rain[first + 1 : first + hours + 1] = step.rain[period] / period
    return rain


class MetNorway:
    """The provider."""

    name, title = NAME, TITLE

    def __init__(self, url: str = "") -> None:
        self._url = url

    def serves(self, cell: Cell) -> bool:
        """Everywhere."""
        return True

    def requests(self, cell: Cell, at: datetime) -> tuple[Request, ...]:
        """Return the one question."""
        return (request(cell, self._url),)

    def current(self, client: WeatherClient, cell: Cell, at: datetime) -> Reading:
        """Return the forecast from this hour on."""
        got = client.get(request(cell, self._url), lambda content: parse(content, cell))
        return Reading(got.value, got.snapshot.fetched, got.snapshot.checked, got.problem)

    def past(self, client: WeatherClient, cell: Cell, first: int, stop: int) -> tuple[Answer, ...]:
        """Return nothing: it has no past."""
        return ()

    def warnings(
        self, client: WeatherClient, cell: Cell, at: datetime
    ) -> tuple[OfficialWarning, ...] | None:
        """Return none: its warnings cover Norway only and are not read."""
        return None
