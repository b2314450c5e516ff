"""What a garden's own thermometer teaches: how its places differ from the open site.

Pairs of the minimum in the open and the one read at the place shift the weather
to the spot. With few pairs the answer stays near the prior, and moves as they
come. What past forecasts teach is in `forecast_lessons`.

References
----------
Wilks (2011) for model output statistics by regression (from memory). The shrinkage
and the counts are our own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.tree import Tree
from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.humidity import refuse_outside

PRIOR_NIGHTS = 8
"""How many nights the prior offset weighs (default)."""

FEWEST_NIGHTS = 5
"""Nights below which only the prior counts (default)."""

SLOPE_NIGHTS = 30
"""Nights from which the offset may change with the forecast itself (default)."""

CLEAR_NIGHTS = 15
"""Clear calm nights from which they have a term of their own (default)."""

MEMORY_DAYS = 90
"""Nights older than that are forgotten (default)."""

GROSS_ERROR = 8.0
"""Difference [K] beyond which a pair is taken for a misreading (default)."""

HOLLOW, OPEN, WALL = -1.0, 0.0, 1.0
"""Prior offsets [K]: a frost hollow, open ground, at a wall or on a roof (default)."""


@dataclass(frozen=True, slots=True, eq=False)
class NightPairs:
    """Forecast and observed minima of nights, one value a night.

    Parameters
    ----------
    evenings
        Ordinals of the local days on which the nights began.
    forecast, observed
        Minimum [°C] as forecast for the open site, and as read at the place.
    clear_calm
        1 for a night of radiation, else 0.
    """

    evenings: ArrayLike
    forecast: ArrayLike
    observed: ArrayLike
    clear_calm: ArrayLike = 0.0


def minimum_readings(trees: Sequence[Tree]) -> dict[date, float]:
    """Return what a place's minimum thermometer said, by the evening its night began [°C].

    A reading of a morning belongs to the evening before; of several the lowest counts.

    Parameters
    ----------
    trees
        The trees of the place, whose records ``minimum-read`` are taken.

    References
    ----------
    Own design.
    """
    found: dict[date, float] = {}
    for tree in trees:
        for record in tree.records:
            if record.kind == "minimum-read" and record.amount is not None:
                evening = record.on - timedelta(days=1)
                found[evening] = min(record.amount, found.get(evening, record.amount))
    return found


@dataclass(frozen=True, slots=True)
class SiteOffset:
    """Minimum at the place: constant + slope · forecast + clear_calm on clear calm nights [°C].

    ``nights`` is how many pairs taught it; 0 is the prior alone.
    """

    constant: float
    slope: float
    clear_calm: float
    nights: int

    def at(self, forecast: ArrayLike, clear_calm: ArrayLike = 0.0) -> Floats:
        """Return the minimum at the place [°C] for forecasts [°C] of the open site."""
        warm = self.slope * np.asarray(forecast, np.float64)
        return np.asarray(self.constant + warm + self.clear_calm * np.asarray(clear_calm))


def learn_offset(pairs: NightPairs, on: date, prior: float = OPEN) -> SiteOffset:
    """Return the offset of a place from the nights before a day.

    Fewer than five nights leave the prior. Then the mean difference is shrunk
    towards it as if the prior were eight nights; from 30 nights on the slope is
    fitted too, and its whole correction shrunk likewise; a term for clear calm
    nights comes in from 15 of them. Nights of more than 90 days ago, unknown ones,
    and differences beyond 8 K do not count.

    Parameters
    ----------
    pairs
        Nights in any order.
    on
        The local day.
    prior
        Offset before any night [K]: what the keeper gave the place, or `HOLLOW`,
        `OPEN`, `WALL`.

    Raises
    ------
    RangeError
        If the arrays differ in length, or the prior is outside −10 to 15 K.

    References
    ----------
    Own design; ordinary least squares from any text.
    """
    refuse_outside(prior, "prior offset", -10, 15, "°C")
    forecast, observed, clear = _usable(pairs, on)
    nights = len(forecast)
    if nights < FEWEST_NIGHTS:
        return SiteOffset(prior, 1.0, 0.0, 0)
    keep = nights / (nights + PRIOR_NIGHTS)
    with_clear = CLEAR_NIGHTS <= clear.sum() <= nights - FEWEST_NIGHTS
    with_slope = nights >= SLOPE_NIGHTS and float(np.ptp(forecast)) > 1
    columns = [np.ones(nights)]
    columns += [forecast] if with_slope else []
    columns += [clear] if with_clear else []
    wanted = observed if with_slope else observed - forecast
    fit = np.linalg.lstsq(np.stack(columns, axis=1), wanted, rcond=None)[0].tolist()
    constant, slope = fit[0], fit[1] if with_slope else 1.0
    extra = fit[-1] if with_clear else 0.0
    return SiteOffset(
        constant=keep * constant + (1 - keep) * prior,
        slope=keep * slope + (1 - keep),
        clear_calm=keep * extra,
        nights=nights,
    )


def _usable(pairs: NightPairs, on: date) -> tuple[Floats, Floats, Floats]:
    forecast = np.asarray(pairs.forecast, np.float64)
    observed = np.asarray(pairs.observed, np.float64)
    evenings = np.asarray(pairs.evenings, np.int64)
    if not forecast.shape == observed.shape == evenings.shape:
        sizes = (evenings.size, forecast.size, observed.size)
        msg = "nights, forecasts and observations must be as many: " + ", ".join(map(str, sizes))
        raise RangeError(msg)
    clear = np.broadcast_to(np.asarray(pairs.clear_calm, np.float64), forecast.shape)
    age = on.toordinal() - evenings
    known = np.isfinite(forecast) & np.isfinite(observed) & np.isfinite(clear)
    keep = known & (age > 0) & (age <= MEMORY_DAYS)
    keep[keep] &= np.abs(observed[keep] - forecast[keep]) <= GROSS_ERROR
    return forecast[keep], observed[keep], clear[keep]


def paired(
    open_minima: Mapping[date, float],
    readings: Mapping[date, float],
    clear_calm: Mapping[date, bool] | None = None,
) -> NightPairs:
    """Return the nights that are known for the open site and were read at the place.

    Parameters
    ----------
    open_minima
        Minimum of each night in the open [°C], by evening.
    readings
        See `minimum_readings`.
    clear_calm
        Whether a night was one of radiation, by evening; unknown is not.

    References
    ----------
    Own design.
    """
    evenings = sorted(open_minima.keys() & readings.keys())
    clear = clear_calm or {}
    return NightPairs(
        evenings=np.array([evening.toordinal() for evening in evenings], dtype=np.int64),
        forecast=np.array([open_minima[evening] for evening in evenings], dtype=np.float64),
        observed=np.array([readings[evening] for evening in evenings], dtype=np.float64),
        clear_calm=np.array([clear.get(evening, False) for evening in evenings], np.float64),
    )
