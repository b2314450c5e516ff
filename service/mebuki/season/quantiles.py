"""Quantiles of pooled days that move gently when a draw moves a little."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats

WIDEST = 0.10
"""Half-width of the stretch of cases over which a quantile is averaged."""


def smooth_quantiles(values: ArrayLike, weights: ArrayLike, levels: ArrayLike) -> Floats:
    """Return quantiles, each the mean of the cases round it.

    The plain quantile of few members jumps by a whole cold spell when one
    member crosses it. Here the quantile at u is the mean of the sorted values
    over the stretch u ± w of all cases, with w at most `WIDEST`, half the
    distance to either end, and half the distance to the first infinite value;
    for a symmetric distribution the median is unchanged.

    Parameters
    ----------
    values
        Cases on the last axis; infinite where the event does not come.
    weights
        Weight of each case, the same for all leading axes; above zero.
    levels
        Cumulative shares within 0..1, both ends excluded.

    Returns
    -------
    Floats
        Leading axes as ``values``, levels on the last axis; never falling along
        them; infinite where the event comes in less than that share of cases.

    References
    ----------
    A weighted mean of order statistics, as Harrell and Davis (1982, Biometrika
    69, 635-640) but with even weights; the width is a design default.
    """
    rows = np.asarray(values, dtype=np.float64)
    flat = rows.reshape(-1, rows.shape[-1])
    weight = np.asarray(weights, dtype=np.float64)
    asked = np.asarray(levels, dtype=np.float64)
    order = np.argsort(flat, axis=-1, kind="stable")
    sorted_values = np.take_along_axis(flat, order, axis=-1)
    shares = np.cumsum(weight[order], axis=-1) / weight.sum()
    found = [_averaged(row, share, asked) for row, share in zip(sorted_values, shares, strict=True)]
    return np.reshape(found, (*rows.shape[:-1], len(asked)))


def _averaged(row: Floats, shares: Floats, levels: Floats) -> Floats:
    """Average the step function of one sorted row round each level."""
    finite = np.isfinite(row)
    count = int(finite.sum())
    if not count:
        return np.full(len(levels), np.inf)
    reached = shares[count - 1]
    edges = np.concatenate(([0.0], shares[:count]))
    integral = np.concatenate(([0.0], np.cumsum(row[:count] * np.diff(edges))))
    room = np.minimum(levels, reached - levels) / 2
    half = np.clip(room, 1e-9, WIDEST)
    low, high = np.interp([levels - half, levels + half], edges, integral)
    # rounding of the integral must not let a quantile leave the range of the cases
    mean = np.clip((high - low) / (2 * half), row[0], row[count - 1])
    return np.where(levels < reached, mean, np.inf)
