"""What a provider's parser gives back, its error, and total readers for foreign JSON.

"Total" means: any bytes at all give a value or a `ProviderError`, never
another exception. Everything a parser takes from an answer goes through here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from mebuki.domain.text import plain
from mebuki.domain.weather import COLUMNS, Floats, HourlySeries, Origin, Rejected, hour_number
from mebuki.errors import WeatherError
from mebuki.season.humidity import dew_point, vapour_pressure
from mebuki.weather.plausibility import check

FIRST_HOUR, LAST_HOUR = -262_968, 1_139_568
"""Hour numbers of 1940-01-01 and 2100-01-01, UTC: nothing else is weather of ours."""

LONGEST_ANSWER = 24 * 366 * 8
"""Hours that one answer may span [h]; an archive pull holds at most five years."""

FEWEST_HOURS = 20
LEAST_SHARE = 0.8
"""Air temperatures an answer needs at least, and their share between its first and last hour."""

MOST_REJECTED = 0.05
"""Share of implausible air temperatures beyond which a whole answer is refused."""

LAPSE_RATE = 0.0065
"""Fall of the air temperature with height [K/m], the standard atmosphere's."""

LARGEST = 1e12
"""No quantity and no time in seconds is larger."""

FULL = 100.0
"""Saturated air [%], and a temperature [°C] beyond any air."""


class ProviderError(WeatherError):
    """A provider gave no usable answer.

    Parameters
    ----------
    again
        Whether the same question may do better within the minute.
    elsewhere
        Whether the provider does not serve the place at all.
    useless
        Whether the question itself is wrong, so that asking again cannot help.
    rest
        How long the provider wants to be left alone, if it says so.
    """

    def __init__(
        self,
        message: str,
        *,
        again: bool = False,
        elsewhere: bool = False,
        useless: bool = False,
        rest: timedelta | None = None,
    ) -> None:
        super().__init__(message)
        self.again = again
        self.elsewhere = elsewhere
        self.useless = useless or elsewhere
        self.rest = rest


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """A valid series from a provider, and what the provider said about it.

    Parameters
    ----------
    series
        Hours as given, checked; origin ``FORECAST`` unless known to be measured.
    latitude, longitude, elevation
        Of the grid cell or station [degrees, m]; elevation NaN where not given.
    issued
        When the provider made it, where it says so.
    rejected
        Implausible values, taken out of the series.
    remarks
        Plain sentences: what was dropped, worked out or estimated.
    """

    provider: str
    series: HourlySeries
    latitude: float
    longitude: float
    elevation: float
    issued: datetime | None = None
    rejected: tuple[Rejected, ...] = ()
    remarks: tuple[str, ...] = ()


def read_json(content: bytes, provider: str) -> object:
    """Return the JSON value in some bytes.

    Raises
    ------
    ProviderError
        If they hold none; worth another try, since a streamed answer may break off.
    """
    try:
        value: object = json.loads(content)
    except (ValueError, RecursionError) as error:
        msg = f"{provider}: the answer breaks off or is no JSON"
        raise ProviderError(msg, again=True) from error
    return value


def mapping(value: object, provider: str, what: str) -> Mapping[str, object]:
    """Return a JSON object, or raise `ProviderError`."""
    if not isinstance(value, dict):
        msg = f"{provider}: {what} is missing from the answer"
        raise ProviderError(msg)
    return value


def sequence(value: object, provider: str, what: str) -> list[object]:
    """Return a JSON array, or raise `ProviderError`."""
    if not isinstance(value, list):
        msg = f"{provider}: {what} is missing from the answer"
        raise ProviderError(msg)
    return value


def text(value: object) -> str:
    """Return a text without control characters and broken pairs, anything else as nothing."""
    return plain(value) if isinstance(value, str) else ""


def number(value: object) -> float:
    """Return a number, NaN for null and anything that is no number or beyond `LARGEST`."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    try:
        found = float(value)
    except OverflowError:
        return math.nan
    return found if abs(found) <= LARGEST else math.nan


def column(value: object, length: int, provider: str, what: str) -> Floats:
    """Return an array of numbers and nulls of a given length.

    Raises
    ------
    ProviderError
        If it is none, or anything in it is neither a number nor null.
    """
    found = sequence(value, provider, what)
    if len(found) != length:
        msg = f"{provider}: {what} has {len(found)} values for {length} hours"
        raise ProviderError(msg)
    values = np.array([number(one) for one in found], dtype=np.float64)
    wrong = sum(one is not None for one in found) - int(np.isfinite(values).sum())
    if wrong:
        msg = f"{provider}: {what} holds {wrong} values that are no numbers"
        raise ProviderError(msg)
    return values


def moment(value: object) -> datetime | None:
    """Return a moment with an offset as UTC, none for anything else."""
    if not isinstance(value, str):
        return None
    try:
        found = datetime.fromisoformat(value)
        if found.tzinfo is None:
            return None
        return found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def full_hour(value: object, provider: str) -> int:
    """Return the hour number of a moment text.

    Raises
    ------
    ProviderError
        If it is no full hour with an offset between 1940 and 2100.
    """
    found = moment(value)
    if found is None or found.minute or found.second or found.microsecond:
        msg = f"{provider}: {value!r:.40} is not a full hour in UTC"
        raise ProviderError(msg)
    hour = hour_number(found)
    if not FIRST_HOUR <= hour < LAST_HOUR:
        msg = f"{provider}: {value!r:.40} lies outside the years 1940 to 2100"
        raise ProviderError(msg)
    return hour


def dew_point_from(air: Floats, humidity: Floats) -> Floats:
    """Return the dew point [°C] of air [°C] with a relative humidity [%], at most the air's own.

    NaN where the humidity is not within 1 to 100 %. After Allen et al. 1998, FAO-56 eq. 3-11.
    """
    there = (humidity >= 1) & (humidity <= FULL) & (np.abs(air) < FULL)
    found = np.full(len(air), np.nan)
    found[there] = dew_point(vapour_pressure(air[there], humidity[there]))
    return np.asarray(np.minimum(found, air))


def series_of(start: int, columns: Mapping[str, Floats]) -> HourlySeries:
    """Return forecast hours; columns not given are NaN."""
    length = len(columns["air_temperature"])
    values = {name: columns.get(name, np.full(length, np.nan)) for name in COLUMNS}
    there = np.isfinite(values["air_temperature"])
    origin = np.where(there, Origin.FORECAST, Origin.MISSING).astype(np.int8)
    return HourlySeries(start=start, origin=origin, **values)


def sound(answer: Answer) -> Answer:
    """Cut the null tail, take implausible values out, and refuse what is not believable.

    Raises
    ------
    ProviderError
        If there are too few air temperatures, or too many that cannot be.
    """
    series = answer.series
    there = np.flatnonzero(np.isfinite(series.air_temperature))
    if len(there) < FEWEST_HOURS:
        msg = f"{answer.provider}: only {len(there)} hours have an air temperature"
        raise ProviderError(msg)
    first, stop = int(there[0]), int(there[-1]) + 1
    if len(there) < LEAST_SHARE * (stop - first):
        share = len(there) / (stop - first)
        msg = f"{answer.provider}: only {share:.0%} of the hours have an air temperature"
        raise ProviderError(msg)
    cut = series.between(series.start + first, series.start + stop)
    checked, rejected = check(cut, doubt_newest=False)
    lost = sum(one.quantity == "air_temperature" for one in rejected)
    if lost > MOST_REJECTED * len(there):
        rule = next(one.rule for one in rejected if one.quantity == "air_temperature")
        msg = f"{answer.provider}: {lost} air temperatures cannot be ({rule})"
        raise ProviderError(msg)
    return replace(answer, series=checked, rejected=(*answer.rejected, *rejected))


def near(asked: tuple[float, float], got: tuple[float, float], within: float) -> bool:
    """Whether a returned place lies within some degrees of the one asked for.

    East and west count by the length of a degree there, and round the date line.
    """
    if not all(math.isfinite(value) for value in got):
        return False
    east = abs((got[1] - asked[1] + 180) % 360 - 180)
    narrow = max(math.cos(math.radians(asked[0])), 0.05)
    return abs(got[0] - asked[0]) <= within and east * narrow <= within


def at_height(series: HourlySeries, given: float, wanted: float) -> HourlySeries:
    """Return a series brought from one height [m] to another by the standard lapse rate."""
    if not math.isfinite(given) or abs(given - wanted) < 1:
        return series
    warmer = (given - wanted) * LAPSE_RATE
    air = series.air_temperature + warmer
    return replace(
        series, air_temperature=air, dew_point=np.minimum(series.dew_point + warmer, air)
    )
