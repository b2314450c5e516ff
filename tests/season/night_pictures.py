"""A picture with smooth nights, for the tests of what nights were, are and will be."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.weather import (
    CALENDAR_DAYS,
    COLUMNS,
    Climate,
    HourlySeries,
    Origin,
    WeatherPicture,
    hour_moment,
    hour_number,
)
from mebuki.weather.local_days import daily_from_hourly


def a_picture_of_nights(
    site: Site, on: date, *, hour: int = 12, behind: int = 70, ahead: int = 16
) -> WeatherPicture:
    """Return a picture at a local hour of a day, with a daily wave of 10 ± 5 °C.

    Hours up to the moment are measured, later ones forecast.
    """
    at = datetime(on.year, on.month, on.day, hour, tzinfo=site.zone).astimezone(UTC)
    now = hour_number(at)
    hours = np.arange(now - 24 * behind, now + 24 * ahead + 24)
    local = hours + round(site.longitude / 15)
    air = 10 - 5 * np.cos(2 * np.pi * (local - 5) / 24)
    columns = {name: np.zeros(len(hours)) for name in COLUMNS}
    columns |= {"air_temperature": air, "dew_point": air - 1}
    origin = np.where(hours <= now, Origin.MEASURED, Origin.FORECAST).astype(np.int8)
    hourly = HourlySeries(int(hours[0]), **columns, origin=origin)
    years = np.empty((0, CALENDAR_DAYS))
    return WeatherPicture(
        site=site,
        at=at,
        hourly=hourly,
        daily=daily_from_hourly(hourly, site.zone),
        climate=Climate((), years, years, years, years),
        measured_until=hour_moment(now),
        forecast_until=at + timedelta(days=ahead),
    )
