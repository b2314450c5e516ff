"""When the last spring frost and the first autumn frost come, as distributions."""

from __future__ import annotations

from datetime import date

import numpy as np

from mebuki.domain.outlook import LEVELS
from mebuki.domain.weather import Climate, DailySeries, Floats
from mebuki.season.decision import probability_below, spread_at
from mebuki.season.members import (
    BLEND_FROM,
    BLEND_UNTIL,
    OPEN_AIR,
    FeltHere,
    Members,
    span_members,
)
from mebuki.season.quantiles import smooth_quantiles
from mebuki.season.seasons import autumn_frost_days, spring_frost_days

YEAR_SPREAD = 0.7
"""Standard deviation [°C] of a past year's minimum, for the few years there are (default)."""

NEGLIGIBLE = 1e-9

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
    chance = frost_chance(members, threshold)[:, ::-1]
    last = members.minimum.shape[1] - 1.0
    # the last frost is the first one seen from the end of the span
    positions, weights = _first_of(chance)
    mirrored = smooth_quantiles(positions - last, weights, 1.0 - _levels())
    return tuple(_day(members.start, -row) for row in mirrored)


def first_frost(members: Members, threshold: float = FROST) -> tuple[date | None, ...]:
    """Return the first frost within the members' span as a day for each of `LEVELS`."""
    positions, weights = _first_of(frost_chance(members, threshold))
    found = smooth_quantiles(positions, weights, _levels())
    return tuple(_day(members.start, row) for row in found)


def frost_chance(members: Members, threshold: float = FROST) -> Floats:
    """Return the probability [0..1] of frost on each day, shape (members, days).

    A measured day has frost or has none. A forecast minimum is Gaussian with
    the spread of its lead, which fades with the weight of the forecast in the
    member; a past year's minimum has the spread of `YEAR_SPREAD`. So a frost
    that a forecast of next week just shows or just misses moves the date a
    little and not by weeks. An unknown day counts as free of frost here: dates
    behind it are not reached.

    References
    ----------
    Days are taken as independent given the member, which is a default.
    """
    lead = members.days - members.on
    fade = np.clip((BLEND_UNTIL - lead) / (BLEND_UNTIL - BLEND_FROM), 0.0, 1.0)
    ahead = (lead > 0) & (members.days <= members.known_until)
    errors = np.array([spread_at(int(days) - 1) for days in np.minimum(lead, BLEND_UNTIL)])
    spread = np.hypot(np.where(ahead, fade * errors, 0.0), YEAR_SPREAD)
    spread = np.where(lead <= 0, 0.0, spread)
    # a day at the threshold itself is a frost day
    chance = probability_below(np.nextafter(threshold, np.inf), members.minimum, spread)
    return np.nan_to_num(chance)


def _first_of(chance: Floats) -> tuple[Floats, Floats]:
    """Return positions and weights of the first event in each member, infinite for none."""
    free = np.cumprod(1.0 - chance, axis=1)
    before = np.concatenate([np.ones((len(free), 1)), free[:, :-1]], axis=1)
    weights = np.concatenate([before * chance, free[:, -1:]], axis=1)
    positions = np.append(np.arange(chance.shape[1], dtype=np.float64), np.inf)
    kept = weights > NEGLIGIBLE
    return np.broadcast_to(positions, weights.shape)[kept], weights[kept]


def _levels() -> Floats:
    return np.array(LEVELS) / 100


def _day(start: int, position: float) -> date | None:
    return date.fromordinal(start + round(float(position))) if np.isfinite(position) else None
