"""What a garden's own thermometer teaches: site offset, forecast spread by lead time.

Pairs of forecast and observed minimum shift the forecast to the spot (offset) and
tell how far forecasts are wrong here (spread). With few pairs the answer stays
near the prior, and moves as they come.

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
from mebuki.season.decision import SPREAD_BY_LEAD, spread_from_errors
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

FULL_PAIRS = 40
"""Pairs of one lead from which its spread is all the garden's own (default)."""

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


@dataclass(frozen=True, slots=True)
class PastForecast:
    """A forecast of one night that was made some days before.

    Parameters
    ----------
    evening
        The local day on which the night began.
    lead_days
        Whole days from the round to the evening; 0 was the same day.
    minimum
        As forecast [°C].
    """

    evening: date
    lead_days: int
    minimum: float


def paired(
    forecasts: Sequence[PastForecast],
    readings: Mapping[date, float],
    clear_calm: Mapping[date, bool] | None = None,
) -> NightPairs:
    """Return the nights that were both forecast on their day and read at the place.

    Parameters
    ----------
    forecasts
        Past ones of the open site; only those of lead 0 count.
    readings
        See `minimum_readings`.
    clear_calm
        Whether a night was one of radiation, by evening; unknown is not.

    References
    ----------
    Own design.
    """
    told = {each.evening: each.minimum for each in forecasts if each.lead_days == 0}
    evenings = sorted(told.keys() & readings.keys())
    clear = clear_calm or {}
    return NightPairs(
        evenings=np.array([evening.toordinal() for evening in evenings], dtype=np.int64),
        forecast=np.array([told[evening] for evening in evenings], dtype=np.float64),
        observed=np.array([readings[evening] for evening in evenings], dtype=np.float64),
        clear_calm=np.array([clear.get(evening, False) for evening in evenings], np.float64),
    )


def errors_by_lead(
    forecasts: Sequence[PastForecast], analysed: Mapping[date, float], on: date
) -> dict[int, Floats]:
    """Return observed minus forecast minima [K] by lead, of nights before a day.

    Parameters
    ----------
    forecasts
        Past ones; a night that is not analysed yet is left out.
    analysed
        The minimum of each night as measured or analysed later [°C], by evening.
    on
        The local day.

    References
    ----------
    Own design.
    """
    found: dict[int, list[float]] = {}
    for forecast in forecasts:
        seen = analysed.get(forecast.evening, float("nan"))
        error = seen - forecast.minimum
        if 0 < (on - forecast.evening).days <= MEMORY_DAYS and abs(error) <= GROSS_ERROR:
            found.setdefault(forecast.lead_days, []).append(error)
    return {lead: np.array(errors) for lead, errors in sorted(found.items())}


def learn_spread(
    errors: Mapping[int, ArrayLike], prior: Sequence[float] = SPREAD_BY_LEAD
) -> tuple[float, ...]:
    """Return the standard deviation [°C] of a night's minimum for leads of 0, 1, ... days.

    The mean over all errors of a lead is taken as corrected by the offset, so that
    the spread is that about it. The variance moves from the prior's to the garden's
    own as pairs come, and is all its own from 40. A further lead is never surer
    than a nearer one.

    Parameters
    ----------
    errors
        Observed minus forecast minima [K] by lead days, see `errors_by_lead`.
    prior
        Spread by lead before any pair; leads beyond it are ignored.

    Returns
    -------
    tuple
        To be given to `frost.coming_nights` as ``spread_by_lead``.

    References
    ----------
    Own design; the spread is 1.2533 times the mean absolute error, which a misread
    night disturbs less than a sum of squares.
    """
    found = []
    for lead, before in enumerate(prior):
        own = np.asarray(errors.get(lead, ()), np.float64)
        own = own[np.isfinite(own)]
        if len(own) < FEWEST_NIGHTS:
            found.append(before)
            continue
        weight = min(len(own) / FULL_PAIRS, 1.0)
        spread = spread_from_errors(own - own.mean())
        found.append(float(np.sqrt(weight * spread**2 + (1 - weight) * before**2)))
    return tuple(np.maximum.accumulate(found).tolist())
