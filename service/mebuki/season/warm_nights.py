"""The warm part of the year, for trees whose growth waits for warm nights and not for buds."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from mebuki.domain.outlook import LEVELS, GrowthClock
from mebuki.domain.weather import Floats
from mebuki.season.members import Members
from mebuki.season.parameters import SeasonLimits
from mebuki.season.quantiles import smooth_quantiles
from mebuki.season.seasons import midsummer, midwinter

NIGHTS = 7
"""Nights whose mean minimum is taken (design default)."""

WARM = SeasonLimits().warm_night
"""Mean night minimum [°C] from which tropical trees in pots grow well (practice, default)."""


STEPS = tuple(1.0 * NormalDist().inv_cdf((k + 0.5) / 9) for k in range(9))
"""Steps [K] about the threshold that count as equally good: no tree knows it to the degree.

With the few past years there are, a single threshold would let the day jump by
weeks when one forecast week just misses it (design default).
"""


def warm_nights_begin(
    members: Members, season: int, southern: bool, threshold: float = WARM
) -> tuple[date | None, ...]:
    """Return the first evening after a week of warm nights, for each of `LEVELS`.

    Parameters
    ----------
    members
        Whole-season series at the tree's place.
    season
        Calendar year of the spring.
    southern
        Whether the site lies south of the equator.
    threshold
        Mean minimum of `NIGHTS` nights [°C].

    Returns
    -------
    tuple
        From midwinter on; none in the share of cases in which nights stay cool.

    Notes
    -----
    A stand-in where no clock of growth was found for a taxon: it says when the
    place is warm enough, not what the tree does. All its numbers are defaults.
    """
    first = max(midwinter(season, southern) - members.start, 0)
    cases = []
    for step in STEPS:
        warm = _warm(members, threshold + step)
        warm[:, :first] = 0.0
        cases.append(np.where(warm.any(axis=1), warm.argmax(axis=1).astype(np.float64), np.inf))
    moments = np.concatenate(cases)
    found = smooth_quantiles(moments, np.ones(len(moments)), np.array(LEVELS) / 100)
    return tuple(_day(members, row) for row in found)


def warm_nights_end(
    members: Members, season: int, southern: bool, threshold: float = WARM
) -> tuple[date | None, ...]:
    """Return the last evening after a week of warm nights, for each of `LEVELS`.

    Parameters are those of `warm_nights_begin`. From midsummer to the end of
    the members' span; none in the share of cases without warm nights then.
    """
    first = max(midsummer(season, southern) - members.start, 0)
    cases = []
    for step in STEPS:
        warm = _warm(members, threshold + step)
        warm[:, :first] = 0.0
        last = warm.shape[1] - 1.0 - warm[:, ::-1].argmax(axis=1)
        cases.append(np.where(warm.any(axis=1), last, -np.inf))
    moments = np.concatenate(cases)
    # seen from the end of the span the last warm week is the first
    found = smooth_quantiles(-moments, np.ones(len(moments)), 1.0 - np.array(LEVELS) / 100)
    return tuple(_day(members, -row) for row in found)


def warm_clock(begins: date, ends: date) -> GrowthClock | None:
    """Return a growth clock that runs with the warm nights (default).

    Parameters
    ----------
    begins, ends
        First and last day of warm nights.

    Returns
    -------
    GrowthClock or None
        10 % two weeks after they begin, 90 % when they end; none where less
        than a month lies between.
    """
    ten = begins + timedelta(days=14)
    if (ends - ten).days < 30:
        return None
    return GrowthClock(ten, ends, f"default: warm nights from {begins} to {ends}")


def _warm(members: Members, threshold: float) -> Floats:
    """Return 1 at each day that ends a week of warm nights, shape (members, days)."""
    weekly = sliding_window_view(members.minimum, NIGHTS, axis=1).mean(axis=-1)
    found = np.zeros(members.minimum.shape)
    found[:, NIGHTS - 1 :] = weekly >= threshold
    return found


def _day(members: Members, position: float) -> date | None:
    if not np.isfinite(position):
        return None
    return date.fromordinal(members.start + round(float(position)))
