"""A place as its minimum thermometer has shown it to be."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from mebuki.domain.site import Place
from mebuki.domain.tree import Tree
from mebuki.domain.weather import Origin, WeatherPicture
from mebuki.season.night_minima import night_low
from mebuki.season.site_learning import learn_offset, minimum_readings, paired

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
    lows = {evening: night_low(picture, evening, Origin.MEASURED) for evening in readings}
    known = {evening: low for evening, low in lows.items() if np.isfinite(low)}
    offset = learn_offset(paired(known, readings), on, place.temperature_offset)
    coming = night_low(picture, on)
    if not offset.nights or not np.isfinite(coming):
        return place
    shift = float(np.clip(offset.at(coming) - coming, LEAST_OFFSET, MOST_OFFSET))
    return place.model_copy(update={"temperature_offset": shift})
