"""Warmth for insects and mites: degree days of a season as a distribution, day by day.

References
----------
Degree days above 10 °C (50 °F) from the mean of the daily extremes, nothing below
nought, since 1 March, as extension services in the north-eastern USA count them
(University of New Hampshire Cooperative Extension; Rutgers Plant and Pest Advisory).
For the south the same half a year later is our own default.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from mebuki.domain.warmth import DegreeDays
from mebuki.season.degree_days import Method, degree_days
from mebuki.season.members import Members
from mebuki.season.seasons import season_start

BASE = 10.0
"""Daily mean [°C] above which warmth counts."""

BEGINS = {False: (3, 1), True: (9, 1)}
"""Month and day from which warmth counts, by ``southern``."""

SHARES = (10, 50, 90)
"""Per cent of the cases that a low, a middle and a high total are not below."""


def pest_days(members: Members, season: int, southern: bool) -> tuple[DegreeDays, ...]:
    """Return the degree days of one season, or nothing where the weather has long gaps.

    Parameters
    ----------
    members
        The season's daily extremes [°C], from its first day on.
    season
        Calendar year of the spring.
    southern
        Whether the site lies south of the equator.

    Returns
    -------
    tuple
        One `DegreeDays` from 1 March (1 September) to the season's last day; the
        spread of days that are known is nought.

    References
    ----------
    Extension counting of degree days, see the module; past years appended to the
    state of today as for bud break.
    """
    first = date(season, *BEGINS[southern])
    stop = min(season_start(season + 1, southern) - members.start, members.minimum.shape[1])
    begin = first.toordinal() - members.start
    minimum, maximum = members.minimum[:, begin:stop], members.maximum[:, begin:stop]
    if begin < 0 or not minimum.size or not np.isfinite(minimum + maximum).all():
        return ()
    low = np.minimum(minimum, maximum)
    totals = np.cumsum(degree_days(low, maximum, BASE, method=Method.AVERAGE), axis=1)
    found = np.percentile(totals, SHARES, axis=0)
    rows = (tuple(float(total) for total in np.round(row, 2)) for row in found)
    return (DegreeDays(season, BASE, first, *rows),)
