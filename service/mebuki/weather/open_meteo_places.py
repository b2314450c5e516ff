"""Open-Meteo: places by name and heights of places. Total parsers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from mebuki.weather.answers import ProviderError, column, mapping, number, read_json, sequence, text
from mebuki.weather.cells import DATE_LINE

TITLE = "Open-Meteo"
MOST_PLACES = 100
POLE = 90.0
LOWEST, HIGHEST = -430.0, 8850.0
"""Lowest and highest ground [m]."""


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """A place with the name that was looked for; elevation [m] NaN where unknown."""

    name: str
    region: str
    country: str
    latitude: float
    longitude: float
    elevation: float
    time_zone: str


def parse_elevation(content: bytes, count: int = 1) -> tuple[float, ...]:
    """Return heights [m].

    Raises
    ------
    ProviderError
        If there are not as many as asked, or one cannot be.
    """
    found = mapping(read_json(content, TITLE), TITLE, "elevation")
    heights = column(found.get("elevation"), count, TITLE, "elevation")
    if not np.isfinite(heights).all() or heights.min() < LOWEST or heights.max() > HIGHEST:
        msg = f"{TITLE}: no place has such a height"
        raise ProviderError(msg)
    return tuple(heights.tolist())


def parse_places(content: bytes) -> tuple[FoundPlace, ...]:
    """Return the places found, best first; without a hit there are none.

    Raises
    ------
    ProviderError
        If the answer is not a list of places.
    """
    found = mapping(read_json(content, TITLE), TITLE, "places")
    if found.get("error") is True:
        msg = f"{TITLE}: {text(found.get('reason')):.200}"
        raise ProviderError(msg)
    if "results" not in found:
        return ()
    places = []
    for one in sequence(found["results"], TITLE, "results")[:MOST_PLACES]:
        entry = mapping(one, TITLE, "a place")
        latitude, longitude = number(entry.get("latitude")), number(entry.get("longitude"))
        if abs(latitude) <= POLE and abs(longitude) <= DATE_LINE:
            height = number(entry.get("elevation"))
            known = math.isfinite(height) and LOWEST <= height <= HIGHEST
            places.append(
                FoundPlace(
                    name=text(entry.get("name")),
                    region=text(entry.get("admin1")),
                    country=text(entry.get("country")),
                    latitude=latitude,
                    longitude=longitude,
                    elevation=height if known else math.nan,
                    time_zone=_zone(text(entry.get("timezone"))),
                )
            )
    return tuple(places)


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return ""
    return name
