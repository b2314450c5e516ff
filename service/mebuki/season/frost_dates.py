"""When the last spring frost and the first autumn frost come, as distributions."""

from __future__ import annotations

from datetime import date

import numpy as np

from mebuki.domain.outlook import LEVELS
from mebuki.domain.weather import Climate, DailySeries, Floats
from mebuki.season.members import OPEN_AIR, FeltHere, Members, span_members
from mebuki.season.quantiles import smooth_quantiles
from mebuki.season.seasons import autumn_frost_days, spring_frost_days

FROST = 0.0
"""Daily minimum [°C] at or below which a day counts as a frost day.

The design default; the frost days of Zhang et al. (2011, WIREs Climate Change 2,
851-870) are those below it.
"""


def spring_frost(
    daily: DailySeries,
    climate: Climate,
    season: int,
    southern: bool,
    on: date,
    felt: FeltHere = OPEN_AIR,
    threshold: float = FROST,
) -> tuple[date | None, ...]:
    """Return the last spring frost of a season as a day for each of `LEVELS`.

    Parameters
    ----------
    daily, climate
        What is known, and the past years of the site.
    season
        Calendar year of the spring.
    southern
        Whether the site lies south of the equator.
    on
        The local day of the round.
    felt
        What the place does to the air.
    threshold
        A day is a frost day if its minimum is at or below this [°C].

    Returns
    -------
    tuple
        In a share of ``level`` percent of cases the last frost is over by that
        day; none where that share of cases has no frost between midwinter and
        midsummer, or where there is nothing to judge by.
    """
    span = spring_frost_days(season, southern)
    members = span_members(daily, climate, span, on, felt)
    return last_frost(members, threshold)


def autumn_frost(
    daily: DailySeries,
    climate: Climate,
    season: int,
    southern: bool,
    on: date,
    felt: FeltHere = OPEN_AIR,
    threshold: float = FROST,
) -> tuple[date | None, ...]:
    """Return the first autumn frost after a season's summer as a day for each of `LEVELS`.

    Parameters are those of `spring_frost`. In a share of ``level`` percent of
    cases the first frost has come by that day; none where it has not come by
    midwinter.
    """
    span = autumn_frost_days(season, southern)
    members = span_members(daily, climate, span, on, felt)
    return first_frost(members, threshold)


def last_frost(members: Members, threshold: float = FROST) -> tuple[date | None, ...]:
    """Return the last frost within the members' span as a day for each of `LEVELS`."""
    if np.isnan(members.minimum[:, -1]).all():
        return (None,) * len(LEVELS)
    frozen = members.minimum[:, ::-1] <= threshold
    days = members.minimum.shape[1]
    positions = np.where(frozen.any(axis=1), days - 1.0 - frozen.argmax(axis=1), -np.inf)
    # the last frost is the first one seen from the end of the span
    mirrored = smooth_quantiles(-positions, np.ones(len(positions)), 1.0 - _levels())
    return tuple(_day(members.start, -row) for row in mirrored)


def first_frost(members: Members, threshold: float = FROST) -> tuple[date | None, ...]:
    """Return the first frost within the members' span as a day for each of `LEVELS`."""
    frozen = members.minimum <= threshold
    positions = np.where(frozen.any(axis=1), frozen.argmax(axis=1), np.inf)
    found = smooth_quantiles(positions, np.ones(len(positions)), _levels())
    return tuple(_day(members.start, row) for row in found)


def _levels() -> Floats:
    return np.array(LEVELS) / 100


def _day(start: int, position: float) -> date | None:
    return date.fromordinal(start + round(float(position))) if np.isfinite(position) else None
