"""How good forecasts and notices were: contingency, Brier and CRPS."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.decision import economic_value, probability_below
from mebuki.season.humidity import refuse_outside


def _share(part: float, whole: float) -> float:
    return part / whole if whole else float("nan")


@dataclass(frozen=True, slots=True)
class Contingency:
    """Counts of yes-no forecasts against what happened, and the scores they give.

    A score whose denominator is 0 is NaN: nothing is known, not 0.

    References
    ----------
    Wilks (2011), chapter on forecast verification (from memory); Finley's
    tornado table of 1884 as the check.
    """

    hits: int
    false_alarms: int
    misses: int
    correct_negatives: int

    @property
    def total(self) -> int:
        """All cases."""
        return self.hits + self.false_alarms + self.misses + self.correct_negatives

    @property
    def base_rate(self) -> float:
        """Share of cases in which the event came."""
        return _share(self.hits + self.misses, self.total)

    @property
    def pod(self) -> float:
        """Probability of detection."""
        return _share(self.hits, self.hits + self.misses)

    @property
    def far(self) -> float:
        """False alarm ratio: false alarms among all alarms."""
        return _share(self.false_alarms, self.hits + self.false_alarms)

    @property
    def pofd(self) -> float:
        """Probability of false detection: false alarms among all quiet cases."""
        return _share(self.false_alarms, self.false_alarms + self.correct_negatives)

    @property
    def csi(self) -> float:
        """Critical success index."""
        return _share(self.hits, self.hits + self.false_alarms + self.misses)

    @property
    def bias(self) -> float:
        """Alarms over events."""
        return _share(self.hits + self.false_alarms, self.hits + self.misses)

    @property
    def pss(self) -> float:
        """Peirce skill score."""
        return self.pod - self.pofd

    @property
    def proportion_correct(self) -> float:
        """Share of all cases that were called right; high for rare events whatever is said."""
        return _share(self.hits + self.correct_negatives, self.total)

    @property
    def odds_ratio(self) -> float:
        """Odds of an alarm given the event over those without it."""
        return _share(self.hits * self.correct_negatives, self.false_alarms * self.misses)

    @property
    def orss(self) -> float:
        """Odds ratio skill score, (OR − 1)/(OR + 1) (Stephenson 2000, from memory)."""
        return _share(self.odds_ratio - 1, self.odds_ratio + 1)

    @property
    def seds(self) -> float:
        """Symmetric extreme dependency score (Hogan, O'Connor and Illingworth 2009, from memory).

        ln((a + b)(a + c)/n²)/ln(a/n) − 1; made for rare events, where others tend to 0.
        """
        if not 0 < self.hits < self.total:
            return float("nan")
        alarms, events = self.hits + self.false_alarms, self.hits + self.misses
        return log(alarms * events / self.total**2) / log(self.hits / self.total) - 1

    @property
    def hss(self) -> float:
        """Heidke skill score."""
        a, b, c, d = self.hits, self.false_alarms, self.misses, self.correct_negatives
        return _share(2 * (a * d - b * c), (a + c) * (c + d) + (a + b) * (b + d))

    @property
    def ets(self) -> float:
        """Equitable threat score."""
        alarms, events = self.hits + self.false_alarms, self.hits + self.misses
        chance = _share(alarms * events, self.total)
        return _share(self.hits - chance, alarms + self.misses - chance)


def contingency(event: ArrayLike, probability: ArrayLike, threshold: float) -> Contingency:
    """Count forecasts above a threshold against events; unknown (NaN) pairs are left out.

    Raises
    ------
    RangeError
        If an event is not 0 or 1, or a probability or the threshold not in 0..1.
    """
    happened, forecast = _pairs(event, probability)
    refuse_outside(threshold, "threshold", 0, 1, "")
    alarm = forecast > threshold
    return Contingency(
        hits=int((alarm & happened).sum()),
        false_alarms=int((alarm & ~happened).sum()),
        misses=int((~alarm & happened).sum()),
        correct_negatives=int((~alarm & ~happened).sum()),
    )


def relative_value(table: Contingency, cost_loss: float) -> float:
    """Return the relative economic value of yes-no forecasts for one cost-loss ratio.

    1 is a perfect forecast, 0 no better than always or never acting, whichever is
    cheaper; below 0 it is worse. NaN where every case, or none, was an event.

    References
    ----------
    Richardson (2000), by `decision.economic_value`.
    """
    if not 0 < table.hits + table.misses < table.total:
        return float("nan")
    return economic_value(cost_loss, table.pod, table.pofd, table.base_rate)


def best_threshold(
    event: ArrayLike, probability: ArrayLike, cost_loss: float
) -> tuple[float, float]:
    """Return the fixed threshold of the highest value, chosen with hindsight, and that value.

    Every threshold that parts the given probabilities differently is tried. The
    value is NaN, and the threshold 1, where every case, or none, was an event.

    References
    ----------
    Richardson (2000): the envelope of value curves over all thresholds.
    """
    levels = np.unique(np.concatenate(([0.0], np.asarray(probability, np.float64).ravel())))
    best = (1.0, float("nan"))
    for threshold in levels[np.isfinite(levels)]:
        value = relative_value(contingency(event, probability, float(threshold)), cost_loss)
        if not value <= best[1] and not np.isnan(value):
            best = (float(threshold), value)
    return best


@dataclass(frozen=True, slots=True)
class Brier:
    """The Brier score and its parts: score = reliability − resolution + uncertainty."""

    score: float
    reliability: float
    resolution: float
    uncertainty: float

    @property
    def skill(self) -> float:
        """Skill against the base rate; 1 is perfect, 0 no better than the base rate."""
        return 1 - _share(self.score, self.uncertainty)


def brier(event: ArrayLike, probability: ArrayLike) -> Brier:
    """Return the Brier score of probabilities, with its decomposition.

    Cases are grouped by equal probability, for which the decomposition is exact.
    Unknown (NaN) pairs are left out.

    Raises
    ------
    RangeError
        If there is no pair, or a value is impossible.

    References
    ----------
    Brier (1950); Murphy (1973) for the decomposition (from memory).
    """
    happened, forecast = _pairs(event, probability)
    if not happened.size:
        msg = "no pair of event and probability to score"
        raise RangeError(msg)
    seen = happened.astype(np.float64)
    base = seen.mean()
    levels, group = np.unique(forecast, return_inverse=True)
    count = np.bincount(group)
    rate = np.bincount(group, weights=seen) / count
    return Brier(
        score=float(((forecast - seen) ** 2).mean()),
        reliability=float((count * (levels - rate) ** 2).sum() / len(seen)),
        resolution=float((count * (rate - base) ** 2).sum() / len(seen)),
        uncertainty=float(base * (1 - base)),
    )


def crps_gaussian(observed: ArrayLike, mean: ArrayLike, spread: ArrayLike) -> Floats:
    """Return the continuous ranked probability score of Gaussian forecasts.

    In the unit of the forecast; 0 is perfect. A spread of 0 gives the absolute
    error.

    References
    ----------
    Gneiting et al. (2005), closed form for the normal distribution.
    """
    seen, middle = np.asarray(observed, np.float64), np.asarray(mean, np.float64)
    width = np.asarray(spread, np.float64)
    score = (seen - middle) / np.where(width > 0, width, 1)
    below = probability_below(score, 0.0, 1.0)
    density = np.exp(-(score**2) / 2) / np.sqrt(2 * np.pi)
    value = width * (score * (2 * below - 1) + 2 * density - 1 / np.sqrt(np.pi))
    return np.asarray(np.where(width > 0, value, np.abs(seen - middle)))


def crps_ensemble(observed: ArrayLike, members: ArrayLike) -> Floats:
    """Return the continuous ranked probability score of ensemble forecasts.

    In the unit of the forecast; 0 is perfect. A single member gives the absolute error.

    Parameters
    ----------
    observed
        An array that fits the members without their first axis.
    members
        Shape (members, ...); unknown (NaN) members do not count. NaN where none is
        known, or nothing was observed.

    References
    ----------
    Gneiting and Raftery (2007): mean |x − y| less half the mean |x − x'|.
    """
    values = np.sort(np.asarray(members, np.float64), axis=0)
    seen = np.asarray(observed, np.float64)
    known = np.isfinite(values)
    count = known.sum(axis=0)
    size = np.where(count > 0, count, 1)
    distance = np.where(known, np.abs(values - seen), 0).sum(axis=0) / size
    # of sorted values, each pair's difference counts once by rank
    rank = np.cumsum(known, axis=0)
    weight = np.where(known, 2 * rank - size - 1, 0)
    within = (weight * np.where(known, values, 0)).sum(axis=0) / size**2
    return np.asarray(np.where((count > 0) & np.isfinite(seen), distance - within, np.nan))


def _pairs(event: ArrayLike, probability: ArrayLike) -> tuple[np.ndarray, Floats]:
    seen, forecast = np.asarray(event, np.float64), np.asarray(probability, np.float64)
    refuse_outside(forecast, "probability", 0, 1, "")
    known = np.isfinite(seen) & np.isfinite(forecast)
    seen, forecast = seen[known], forecast[known]
    wrong = seen[(seen != 0) & (seen != 1)]
    if wrong.size:
        msg = f"an event is 0 or 1, not {wrong[0]:g}"
        raise RangeError(msg)
    return seen == 1, forecast
