"""Autumn colour and leaf fall: weak models, told with a wide spread and a warning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from statistics import NormalDist

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from mebuki.domain.outlook import LEVELS
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import Floats
from mebuki.season.alternatives import SOUTH_SHIFT
from mebuki.season.crossing import event_moments
from mebuki.season.members import Members
from mebuki.season.quantiles import smooth_quantiles

WARNING = (
    "Autumn colour and leaf fall cannot be predicted well: models of them are often no better "
    "than the usual date. Take these days as a season, not as a date."
)

SPREAD = 8.0
"""Standard deviation [d] of these models at places they were not fitted to.

6 to 7 days with true daily means, about 8 with half the sum of the extremes.
"""

LEAF_FALL_AFTER_PEAK = (6, 24)
"""Days from full colour to the beginning and to the end of leaf fall.

Medians of maple and ginkgo at nine stations of Korea (KMA), about 20 cases each.
"""


@dataclass(frozen=True, slots=True)
class Cooling:
    """A sum of cold below a temperature.

    Parameters
    ----------
    below
        Temperature [°C] under which a day counts.
    from_day
        Day of the northern year from which it counts.
    requirement
        Sum at which the stage comes [°C d].
    """

    below: float
    from_day: int
    requirement: float


COLOUR = {
    "acer-palmatum": (Cooling(28.0, 245, 505.0), Cooling(23.9, 262, 383.0)),
    "ginkgo-biloba": (Cooling(27.4, 244, 481.0), Cooling(23.2, 262, 344.0)),
}
"""Beginning and height of colour, fitted to the observations of KMA, Korea, 1972-2023."""

RELATIVES = {"acer": "acer-palmatum", "ginkgo": "ginkgo-biloba"}
"""Genera that borrow the values of a measured species."""


@dataclass(frozen=True, slots=True)
class AutumnOutlook:
    """Autumn of one taxon as days for each of `LEVELS`, and what to think of them.

    ``colour_begins`` and ``colour_height`` are empty (none) where no model of
    the genus exists; then leaf fall follows the end of the growing season.
    """

    colour_begins: tuple[date | None, ...]
    colour_height: tuple[date | None, ...]
    leaf_fall_begins: tuple[date | None, ...]
    leaf_fall_ends: tuple[date | None, ...]
    basis: str
    warning: str = WARNING


def autumn_outlook(taxon: Taxon, members: Members, season: int, southern: bool) -> AutumnOutlook:
    """Return when leaves colour and fall.

    Parameters
    ----------
    taxon
        Maples use the clock of Acer palmatum, ginkgo its own; others the end
        of the growing season.
    members
        Series from midsummer to midwinter, see
        `mebuki.season.seasons.autumn_frost_days`.
    season
        Calendar year of the spring.
    southern
        Whether the site lies south of the equator.

    Returns
    -------
    AutumnOutlook
        All levels none for evergreens.

    Notes
    -----
    Root mean square error at stations not used for the fit 6 to 7 days, against
    9 days for the mean date; a comparison of process models in 2025 found all
    of them worse than the mean date.

    References
    ----------
    Shape after Delpierre et al. (2009, Agricultural and Forest Meteorology 149,
    938-948) with constants fitted to KMA observations.
    """
    nothing = (None,) * len(LEVELS)
    if taxon.evergreen:
        return AutumnOutlook(nothing, nothing, nothing, nothing, "evergreen")
    relative = RELATIVES.get(taxon.id.split("-")[0])
    first, last = LEAF_FALL_AFTER_PEAK
    if relative is None:
        end = growing_season_end(members)
        begins, ends = (_levels(members, end + days) for days in (0, last - first))
        return AutumnOutlook(nothing, nothing, begins, ends, "end of the growing season")
    start, height = (
        cooling_moments(members, clock, season, southern) for clock in COLOUR[relative]
    )
    return AutumnOutlook(
        colour_begins=_levels(members, start),
        colour_height=_levels(members, height),
        leaf_fall_begins=_levels(members, height + first),
        leaf_fall_ends=_levels(members, height + last),
        basis=f"cooling sums of {relative} in Korea",
    )


def cooling_moments(members: Members, clock: Cooling, season: int, southern: bool) -> Floats:
    """Return the moment at which a cooling sum is reached in each member.

    Returns
    -------
    Floats
        Positions on the day axis with fractions, shape (members,); infinite
        where it is not reached or a gap hides it.
    """
    shift = SOUTH_SHIFT if southern else 0
    first = date(season, 1, 1).toordinal() - 1 + clock.from_day + shift - members.start
    cold = np.maximum(clock.below - members.mean, 0.0)
    cold[:, : max(first, 0)] = 0.0
    moments: Floats = event_moments(np.cumsum(cold, axis=1), [clock.requirement])[:, 0]
    return moments


def growing_season_end(members: Members, limit: float = 10.0, days: int = 5) -> Floats:
    """Return the end of the growing season in each member.

    The first day on which the mean of seven days has been below ``limit`` [°C]
    for ``days`` days in a row.

    Returns
    -------
    Floats
        Positions on the day axis, shape (members,); infinite where it does not come.

    References
    ----------
    von Wilpert (1990), Freiburger Bodenkundliche Abhandlungen 24.
    """
    weekly = sliding_window_view(members.mean, 7, axis=1).mean(axis=-1)
    runs = sliding_window_view((weekly < limit).astype(np.float64), days, axis=1)
    cool = runs.min(axis=-1) > 0.0
    position = cool.argmax(axis=1) + 7 + days - 2
    return np.where(cool.any(axis=1), position.astype(np.float64), np.inf)


def _levels(members: Members, moments: Floats) -> tuple[date | None, ...]:
    """Return days for each of `LEVELS`, the spread of the model added to that of the members."""
    errors = [NormalDist(0.0, SPREAD).inv_cdf((k + 0.5) / 21) for k in range(21)]
    cases = (moments[:, np.newaxis] + np.array(errors)).ravel()
    found = smooth_quantiles(cases, np.ones(len(cases)), np.array(LEVELS) / 100)
    return tuple(
        date.fromordinal(members.start + int(np.ceil(row))) if np.isfinite(row) else None
        for row in found
    )
