"""When the candles of pines have stopped growing."""

from __future__ import annotations

from datetime import date

import numpy as np

from mebuki.domain.outlook import LEVELS
from mebuki.domain.weather import Climate
from mebuki.season.alternatives import SOUTH_SHIFT
from mebuki.season.crossing import event_moments
from mebuki.season.members import Members
from mebuki.season.quantiles import smooth_quantiles

EXTENSION_SHARES = (0.38, 0.41, 0.43)
"""Share of a place's mean annual temperature sum at which 95 % of height is grown.

Low, middle and high over the sites of the study.
"""

BASE = 5.0
"""Temperature [°C] above which a day counts."""


def annual_temperature_sum(climate: Climate) -> float | None:
    """Return the mean annual temperature sum above 5 °C of a place's past years [°C d].

    None where there are no past years.
    """
    if not climate.years:
        return None
    mean = (climate.minimum + climate.maximum) / 2
    return float(np.nanmean(np.nansum(np.maximum(mean - BASE, 0.0), axis=1)))


def shoot_extension_end(
    members: Members, climate: Climate, season: int, southern: bool
) -> tuple[date | None, ...]:
    """Return when the spring shoots of pines have all but finished, for each of `LEVELS`.

    Parameters
    ----------
    members
        Whole-season series.
    climate
        Past years of the place, for its mean annual temperature sum.
    season
        Calendar year of the spring.
    southern
        Whether the site lies south of the equator.

    Returns
    -------
    tuple
        Days; none without past years or where the sum is not reached.

    Notes
    -----
    Measured on Pinus sylvestris in the ground at 60 to 70 degrees north; a tree
    in a pot and other pines may differ. Removing candles earlier or later than
    this is the keeper's choice; the day says only when extension ends.

    References
    ----------
    Salminen and Jalkanen (2007, Tree Physiology 27, 1347-1354).
    """
    total = annual_temperature_sum(climate)
    if total is None:
        return (None,) * len(LEVELS)
    shift = SOUTH_SHIFT if southern else 0
    warmth = np.maximum(members.mean - BASE, 0.0)
    warmth[:, : date(season, 1, 1).toordinal() + shift - members.start] = 0.0
    needs = np.array(EXTENSION_SHARES) * total
    moments = event_moments(np.cumsum(warmth, axis=1), needs).ravel()
    weights = np.tile([0.25, 0.5, 0.25], len(members.minimum))
    found = smooth_quantiles(moments, weights, np.array(LEVELS) / 100)
    return tuple(
        date.fromordinal(members.start + int(np.ceil(row))) if np.isfinite(row) else None
        for row in found
    )
