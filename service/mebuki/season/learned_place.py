"""A place as its minimum thermometer has shown it to be."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from mebuki.domain.site import Place
from mebuki.domain.tree import Tree
from mebuki.domain.weather import HourlySeries, Origin, WeatherPicture
from mebuki.season.frost import NIGHT_BEGINS, NIGHT_ENDS
from mebuki.season.local_time import local_hour
from mebuki.season.site_learning import PastForecast, learn_offset, minimum_readings, paired

LEAST_OFFSET, MOST_OFFSET = -10.0, 15.0
"""Bounds of a place's offset [K], those of the garden file."""


def learned_place(place: Place, trees: Sequence[Tree], picture: WeatherPicture, on: date) -> Place:
    """Return the place with the offset of its nights learned from its minimum thermometer.

    Each reading is held against the lowest temperature that was measured for
    the open site in the same night; with few readings the keeper's own offset
    stands (see `site_learning.learn_offset`). The offset is taken at the lowest
    temperature of the coming night.

    Parameters
    ----------
    place
        As the garden file describes it.
    trees
        The trees that stand there; their records ``minimum-read`` count.
    picture
        The weather of the site.
    on
        The local day.

    References
    ----------
    Own design (default); see `site_learning` for the shrinkage.
    """
    readings = minimum_readings(trees)
    if not readings:
        return place
    lows = {evening: _low(picture, evening) for evening in readings}
    known = [PastForecast(evening, 0, low) for evening, low in lows.items() if np.isfinite(low)]
    offset = learn_offset(paired(known, readings), on, place.temperature_offset)
    coming = _low(picture, on, measured=False)
    if not offset.nights or not np.isfinite(coming):
        return place
    shift = float(np.clip(offset.at(coming) - coming, LEAST_OFFSET, MOST_OFFSET))
    return place.model_copy(update={"temperature_offset": shift})


def _low(picture: WeatherPicture, evening: date, measured: bool = True) -> float:
    """Return the lowest temperature [°C] of a night in the open; NaN where hours are unknown."""
    zone = picture.site.zone
    first = local_hour(evening, NIGHT_BEGINS, zone)
    last = local_hour(evening + timedelta(days=1), NIGHT_ENDS, zone)
    night: HourlySeries = picture.hourly.between(first, last + 1)
    air = night.air_temperature
    if len(air) < last + 1 - first or np.isnan(air).any():
        return float("nan")
    if measured and (night.origin != Origin.MEASURED).any():
        return float("nan")
    return float(air.min())
