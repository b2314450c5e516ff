"""What past forecasts of nights, held against later analyses, teach: bias and spread by lead.

A provider's bias is learned of its newest nights alone, so that one that appears
with a new model is known, and an old one forgotten, after as many nights.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from math import isfinite

import numpy as np

from mebuki.domain.lessons import LEADS, ForecastLessons, NightForecast
from mebuki.domain.weather import Floats, WeatherPicture
from mebuki.season.decision import SPREAD_BY_LEAD, spread_at, spread_from_errors
from mebuki.season.night_minima import analysed_minima

NEWEST_NIGHTS = 40
"""Nights of one lead that count, the newest; from so many the spread is all its own (default)."""

MEMORY_DAYS = 60
"""Nights older than that are forgotten, even where few came since (default)."""

FEWEST_NIGHTS = 5
"""Nights below which a lead has nothing of its own to say (default)."""

PRIOR_BIAS = 1.0
"""Standard deviation [K] of what providers' biases are taken to be, site by site (default).

Before any night there is none. With errors of 2 K it weighs as (2 K)²/(1 K)² = 4
nights, so that forty nights learn 40/44 = 91 % of a bias.
"""

SHARED_BIAS = 0.5
"""Standard deviation [K] by which the bias of a lead differs from the lead before (default)."""

GROSS_SPREADS = 4.0
"""Errors beyond so many prior spreads are taken for misreadings (default)."""

CLIPPED_AT = 2.5
"""Robust standard deviations from the median at which an error is clipped (default)."""

LEAST_CLIP = 1.0
"""Error [K] from the median that is never clipped (default)."""

FROM_MEDIAN_DEVIATION = 1.4826
"""Standard deviation over median absolute deviation of a Gaussian."""


def learned(
    picture: WeatherPicture, forecasts: Sequence[NightForecast], on: date
) -> ForecastLessons:
    """Return what past forecasts teach beside the measured nights of a picture.

    Parameters
    ----------
    picture
        The weather of the site; its measured hours are the truth.
    forecasts
        Past ones of the same site, in any order; of a night and lead the first counts.
    on
        The local day.

    References
    ----------
    See `lessons_from`.
    """
    return lessons_from(forecasts, analysed_minima(picture, on, MEMORY_DAYS), on)


def lessons_from(
    forecasts: Sequence[NightForecast],
    analysed: Mapping[date, float],
    on: date,
    prior: Sequence[float] = SPREAD_BY_LEAD,
) -> ForecastLessons:
    """Return bias and spread by lead.

    The bias of tonight's forecasts is the mean error of its newest 40 nights,
    shrunk towards none as if that were four nights. Each further lead is shrunk,
    and more so, towards the lead before it, so that what near nights teach soon
    reaches far ones. Errors are clipped about their median, so that a single night moves a
    bias by little. The spread is that about the bias which is taken off; its
    variance moves from the prior's to the garden's own and is all its own from
    40 nights; a further lead is never surer than a nearer one.

    Parameters
    ----------
    forecasts
        Past ones; a night that is not in ``analysed`` is left out.
    analysed
        Minimum of each night as measured or analysed later [°C], by evening.
    on
        The local day; only nights before it count.
    prior
        Spread [°C] at leads of 0, 1, ... days before any night; the last holds beyond.

    Notes
    -----
    Errors of successive nights are alike. With a correlation r between
    neighbours the standard error of the mean of n nights is about
    spread · √((1 + r)/((1 − r) n)): 0.25 °C for independent nights of 1.6 °C and
    n = 40, 0.37 °C for r = 0.37.

    References
    ----------
    Wilks (2011) for bias correction and the effective number of independent
    values; Huber (1964) for clipped means; Gelman et al. (2013) for shrinkage
    by a normal prior; all from memory. Counts and limits are design defaults.
    """
    errors = _errors(forecasts, analysed, on)
    bias, spread, nights = [], [], []
    before, expected = 0.0, PRIOR_BIAS
    for lead in range(LEADS):
        plain = spread_at(lead, prior)
        weight = (plain / expected) ** 2
        own = _clipped(errors.get(lead, []), plain)
        count = len(own)
        if count >= FEWEST_NIGHTS:
            before = (count * float(own.mean()) + weight * before) / (count + weight)
            share = min(count / NEWEST_NIGHTS, 1.0)
            seen = spread_from_errors(own - before)
            plain = float(np.sqrt(share * seen**2 + (1 - share) * plain**2))
        bias.append(before)
        spread.append(plain)
        nights.append(count)
        expected = SHARED_BIAS
    rising = np.maximum.accumulate(spread).tolist()
    return ForecastLessons(tuple(bias), tuple(rising), tuple(nights))


def _errors(
    forecasts: Sequence[NightForecast], analysed: Mapping[date, float], on: date
) -> dict[int, list[float]]:
    """Return forecast less analysed minima [K] by lead, newest night first."""
    earliest = on - timedelta(days=MEMORY_DAYS)
    found: dict[tuple[int, date], tuple[datetime, float]] = {}
    for each in forecasts:
        low = analysed.get(each.night)
        if low is None or not earliest <= each.night < on or not isfinite(each.minimum - low):
            continue
        key = (each.lead_days, each.night)
        kept = found.get(key)
        if kept is None or each.made_at < kept[0]:
            found[key] = (each.made_at, each.minimum - low)
    errors: dict[int, list[float]] = {}
    for lead, night in sorted(found, reverse=True):
        errors.setdefault(lead, []).append(found[lead, night][1])
    return errors


def _clipped(errors: Sequence[float], plain: float) -> Floats:
    """Return the newest sound errors [K], clipped about their median."""
    own = np.array(errors, dtype=np.float64)
    own = own[np.abs(own) <= GROSS_SPREADS * plain][:NEWEST_NIGHTS]
    if len(own) < FEWEST_NIGHTS:
        return own
    middle = float(np.median(own))
    robust = FROM_MEDIAN_DEVIATION * float(np.median(np.abs(own - middle)))
    width = max(CLIPPED_AT * robust, LEAST_CLIP)
    return np.clip(own, middle - width, middle + width)
