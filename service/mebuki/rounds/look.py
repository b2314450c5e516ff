"""Look: what is known of the weather; a failed look gives an empty picture that says so."""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.weather import (
    CALENDAR_DAYS,
    COLUMNS,
    Climate,
    DailySeries,
    HourlySeries,
    WeatherPicture,
    hour_number,
)
from mebuki.errors import WeatherError
from mebuki.rounds.ports import PastForecasts, WeatherSource
from mebuki.season.forecast_lessons import MEMORY_DAYS, learned

log = logging.getLogger(__name__)


def look(
    source: WeatherSource,
    site: Site,
    at: datetime,
    past: PastForecasts | None = None,
    garden: str = "",
) -> WeatherPicture:
    """Return what the source knows, or a picture that says that nothing is known.

    A provider that fails must not silence the round: the keeper is told that
    the coming nights cannot be seen.

    Parameters
    ----------
    past
        What was forecast for ``garden`` before: the picture then carries what it
        teaches. Its forecast is still the provider's own.
    """
    try:
        picture = source.look(site, at)
    except WeatherError as error:
        log.warning("no weather for %s at %s: %s", site.name, at, error)
        return unseen(site, at, str(error))
    return picture if past is None else taught(picture, past, garden)


def taught(picture: WeatherPicture, past: PastForecasts, garden: str) -> WeatherPicture:
    """Return the picture with what past forecasts of a garden teach beside it."""
    on = picture.at.astimezone(picture.site.zone).date()
    forecasts = past.recall(garden, on - timedelta(days=MEMORY_DAYS))
    return replace(picture, lessons=learned(picture, forecasts, on))


def unseen(site: Site, at: datetime, reason: str) -> WeatherPicture:
    """Return a picture without any weather, with the reason as its remark."""
    nothing = np.empty(0)
    none = np.empty(0, dtype=np.int8)
    hourly = HourlySeries(start=hour_number(at), **dict.fromkeys(COLUMNS, nothing), origin=none)
    daily = DailySeries(
        start=at.astimezone(site.zone).date().toordinal(),
        minimum=nothing,
        maximum=nothing,
        precipitation=nothing,
        wind_speed=nothing,
        origin=none,
    )
    years = np.empty((0, CALENDAR_DAYS))
    return WeatherPicture(
        site=site,
        at=at,
        hourly=hourly,
        daily=daily,
        climate=Climate(
            years=(), minimum=years, maximum=years, precipitation=years, wind_speed=years
        ),
        measured_until=None,
        forecast_until=None,
        remarks=(f"No weather could be had: {reason}",),
    )
