"""A picture with its forecast corrected by what past forecasts have taught."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from mebuki.domain.lessons import ForecastLessons
from mebuki.domain.weather import DailySeries, HourlySeries, Origin, WeatherPicture
from mebuki.season.local_time import local_clock

WARMEST_HOUR = 14
"""Local hour at which nothing is corrected, and one night gives way to the next (default)."""

FADES = 6
"""Hours from that hour in which the correction grows to its whole (default)."""


def corrected(picture: WeatherPicture, on: date) -> WeatherPicture:
    """Return a picture whose forecast nights are moved by the bias that was learned.

    What is measured stays. From 20 h to 8 h the whole bias of the night's lead is
    taken off; towards 14 h it fades to nothing, since only nights taught it: the
    errors of maxima are others, often of the other sign. The dew point stays at
    or below the air. Of the coming days the minimum moves with its night.

    Parameters
    ----------
    picture
        As looked at; one without lessons, or corrected before, is returned as it is.
    on
        The local day.

    References
    ----------
    Wilks (2011), from memory, for taking off the mean error by lead. Lopes et
    al. (2024) found minima forecast too warm and maxima too cold. The fading is
    a design default.
    """
    lessons = picture.lessons
    if lessons is None or lessons.applied:
        return picture
    marked = replace(lessons, applied=True)
    if not any(lessons.bias):
        return replace(picture, lessons=marked)
    return replace(
        picture,
        hourly=_hours(picture, lessons, on),
        daily=_days(picture.daily, lessons, on),
        lessons=marked,
    )


def _hours(picture: WeatherPicture, lessons: ForecastLessons, on: date) -> HourlySeries:
    hourly = picture.hourly
    ahead = np.flatnonzero(hourly.origin == Origin.FORECAST)
    days, hours = local_clock(hourly.hours[ahead], picture.site.zone)
    evenings = days - (hours < WARMEST_HOUR)
    share = np.minimum(np.abs((hours - WARMEST_HOUR + 12) % 24 - 12) / FADES, 1.0)
    leads = np.clip(evenings - on.toordinal(), 0, len(lessons.bias) - 1)
    air = hourly.air_temperature.copy()
    air[ahead] -= share * np.array(lessons.bias)[leads]
    dew = hourly.dew_point.copy()
    dew[ahead] = np.minimum(dew[ahead], air[ahead])
    return replace(hourly, air_temperature=air, dew_point=dew)


def _days(daily: DailySeries, lessons: ForecastLessons, on: date) -> DailySeries:
    ahead = (daily.origin == Origin.FORECAST) & (daily.days > on.toordinal())
    leads = np.clip(daily.days - 1 - on.toordinal(), 0, len(lessons.bias) - 1)
    lower = np.where(ahead, daily.minimum - np.array(lessons.bias)[leads], daily.minimum)
    higher = np.where(ahead, np.maximum(daily.maximum, lower), daily.maximum)
    return replace(daily, minimum=lower, maximum=higher)
