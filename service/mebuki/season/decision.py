"""From a forecast and its spread to a decision: probability, cost and loss, hysteresis."""

from __future__ import annotations

from collections.abc import Sequence
from math import erf

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.humidity import refuse_outside

SPREAD_BY_LEAD = (2.0, 2.2, 2.5, 2.8, 3.2, 3.6, 4.0)
"""Standard deviation [°C] of a forecast minimum on days 1 to 7; tonight ends on day 1.

A design default between public skill figures; to be replaced by the garden's own
errors when there are 40 pairs.
"""

FROM_MEAN_ABSOLUTE_ERROR = float(np.sqrt(np.pi / 2))
"""Standard deviation over mean absolute error of a Gaussian: 1.2533."""

LIKELY = 0.5
"""Probability from which harm is told at every level: CAP 1.2 calls it likely."""

CLEARED = 0.5
"""Share of its threshold below which a notice that stands is cleared (design default)."""

_SHARP = 1e-9
_erf = np.vectorize(erf, otypes=[np.float64])


def spread_at(lead_days: int, by_lead: Sequence[float] = SPREAD_BY_LEAD) -> float:
    """Return the spread [°C] of a night's minimum.

    Parameters
    ----------
    lead_days
        Whole days from the round to the evening; tonight, 0, ends on day 1.
    by_lead
        Spread [°C] on day 1, 2, ...; the last value holds beyond.
    """
    return float(by_lead[min(max(lead_days, 0), len(by_lead) - 1)])


def spread_from_errors(errors: ArrayLike) -> float:
    """Return the standard deviation of Gaussian errors from their mean absolute value.

    Raises
    ------
    RangeError
        If there is no finite error.
    """
    found = np.abs(np.asarray(errors, np.float64))
    found = found[np.isfinite(found)]
    if not found.size:
        msg = "no forecast error to take a spread from"
        raise RangeError(msg)
    return FROM_MEAN_ABSOLUTE_ERROR * float(found.mean())


def probability_below(threshold: ArrayLike, mean: ArrayLike, spread: ArrayLike) -> Floats:
    """Return the Gaussian probability [0..1] that a value falls below a threshold.

    A spread of 0 gives 0 or 1; NaN gives NaN.

    Raises
    ------
    RangeError
        If a spread is negative.

    References
    ----------
    Normal distribution; Richardson (2000) for its use in decisions.
    """
    width = np.asarray(spread, np.float64)
    refuse_outside(width, "spread", 0, np.inf, "")
    gap = np.asarray(threshold, np.float64) - np.asarray(mean, np.float64)
    wide = width > _SHARP
    score = gap / np.where(wide, width, 1)
    smooth = 0.5 * (1 + _erf(score / np.sqrt(2)))
    sharp = np.where(np.isnan(gap), np.nan, (gap > 0).astype(np.float64))
    return np.asarray(np.where(wide, smooth, np.where(np.isnan(width), np.nan, sharp)))


def ensemble_probability_below(threshold: ArrayLike, members: ArrayLike) -> Floats:
    """Return the probability [0..1] that a value falls below a threshold, from members.

    Parameters
    ----------
    threshold
        A number, or an array that fits the members without their first axis.
    members
        Shape (members, ...); members that are NaN do not count. NaN where no
        member is known.

    References
    ----------
    Tukey plotting position, (k + 1/3)/(n + 2/3) (Wilks 2011, from memory).
    """
    values = np.asarray(members, np.float64)
    known = np.isfinite(values).sum(axis=0)
    below = (values < np.asarray(threshold, np.float64)).sum(axis=0)
    return np.asarray(np.where(known > 0, (below + 1 / 3) / (known + 2 / 3), np.nan))


def act_above(threshold: float, caution: float = 1.0) -> float:
    """Return the probability above which to act for a tree.

    Act when the probability exceeds cost over loss: that of a tree of this worth,
    moved by how early the person wants to be told. What is likelier than not is
    told however few notices a person wants.

    Parameters
    ----------
    threshold
        Cost over loss [0..1] for the worth of the tree, at the middle level.
    caution
        The person's level over the middle one: below 1 for a cautious person.

    References
    ----------
    Murphy (1977) and Richardson (2000) for the cost-loss rule; the limit is a
    design default.
    """
    return min(threshold * caution, max(threshold, LIKELY))


def raised(
    probability: float, threshold: float, raised_before: bool, cleared: float = CLEARED
) -> bool:
    """Return whether a notice stands: raised above the threshold, cleared well below it.

    ``cleared`` is the share of the threshold below which it is cleared, half.

    An unknown probability (NaN) leaves things as they were: it neither raises nor
    clears.
    """
    if np.isnan(probability):
        return raised_before
    return probability > (threshold * cleared if raised_before else threshold)


def economic_value(cost_loss: float, hit_rate: float, false_rate: float, base: float) -> float:
    """Return the relative value of a warning system for one cost-loss ratio.

    Parameters
    ----------
    cost_loss, hit_rate, false_rate, base
        Cost over loss, POD, POFD and base rate, each within 0 to 1; cost over
        loss and base rate not at the ends.

    References
    ----------
    Richardson (2000).
    """
    for name, share in (("cost over loss", cost_loss), ("base rate", base)):
        if not 0 < share < 1:
            msg = f"{name} {share:g} is not between 0 and 1"
            raise RangeError(msg)
    climate = min(cost_loss, base)
    spent = false_rate * cost_loss * (1 - base) - hit_rate * base * (1 - cost_loss) + base
    return (climate - spent) / (climate - base * cost_loss)
