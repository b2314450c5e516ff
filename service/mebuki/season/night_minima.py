"""The lowest temperature of single nights: as it was, and as it is forecast."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from mebuki.domain.lessons import LEADS, NightForecast
from mebuki.domain.weather import Freshness, Origin, WeatherPicture, hour_number
from mebuki.season.frost import NIGHT_BEGINS, NIGHT_ENDS
from mebuki.season.local_time import local_hour


def analysed_minima(picture: WeatherPicture, on: date, days: int) -> dict[date, float]:
    """Return the minimum [°C] of each night before a day, by its evening.

    Only nights of which every hour from 16 h to 10 h was measured or analysed
    are there: a value that was rejected or bridged, or that is a forecast still,
    leaves the night unknown.

    Parameters
    ----------
    picture
        The weather of the site, in the open.
    on
        The local day.
    days
        How many nights back.

    References
    ----------
    Own design.
    """
    evenings = (on - timedelta(days=back) for back in range(days, 0, -1))
    lows = ((evening, night_low(picture, evening, Origin.MEASURED)) for evening in evenings)
    return {evening: low for evening, low in lows if np.isfinite(low)}


def night_low(picture: WeatherPicture, evening: date, known: Origin | None = None) -> float:
    """Return the lowest temperature [°C] of a night in the open; NaN where hours are unknown.

    Parameters
    ----------
    picture
        The weather of the site.
    evening
        The local day on which the night begins, at 16 h; it ends at 10 h.
    known
        How every hour must be known for the night to count; none for any way.

    References
    ----------
    Own design.
    """
    zone = picture.site.zone
    first = local_hour(evening, NIGHT_BEGINS, zone)
    last = local_hour(evening + timedelta(days=1), NIGHT_ENDS, zone)
    hourly = picture.hourly
    if first < hourly.start or last >= hourly.end:
        return float("nan")
    night = slice(first - hourly.start, last + 1 - hourly.start)
    if known is not None and (hourly.origin[night] != known).any():
        return float("nan")
    return float(hourly.air_temperature[night].min())


def night_forecasts(picture: WeatherPicture) -> tuple[NightForecast, ...]:
    """Return what a picture forecasts of the coming nights, for later comparison.

    Nights that begin after the moment of the picture and of which every hour is
    forecast. A picture whose weather is not fresh forecasts nothing: its leads
    would be longer than they look.

    Parameters
    ----------
    picture
        As the provider gave it, not yet corrected.

    Raises
    ------
    ValueError
        If the picture was corrected: it would teach our own correction.

    References
    ----------
    Own design.
    """
    if picture.lessons is not None and picture.lessons.applied:
        msg = "the forecasts of a corrected picture teach nothing of the provider"
        raise ValueError(msg)
    if picture.freshness is not Freshness.FRESH:
        return ()
    zone = picture.site.zone
    today = picture.at.astimezone(zone).date()
    begun = local_hour(today, NIGHT_BEGINS, zone) <= hour_number(picture.at)
    found = []
    for lead in range(1 if begun else 0, LEADS):
        evening = today + timedelta(days=lead)
        low = night_low(picture, evening, Origin.FORECAST)
        if np.isfinite(low):
            found.append(NightForecast(evening, lead, low, picture.at))
    return tuple(found)
