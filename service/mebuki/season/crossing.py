"""When never-falling sums reach their requirements, by halving over whole arrays.

An event falls on the first day at whose end the sum is reached, as in Menzel (1997).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.weather import Floats, Ints

NEVER = -1
"""What `event_days` gives where the requirement is not reached."""


def event_days(progress: ArrayLike, requirements: ArrayLike) -> Ints:
    """Return the position of the first day at whose end a requirement is reached.

    Parameters
    ----------
    progress
        Never-falling sums, days on the last axis; NaN at the end is allowed.
    requirements
        The sums asked for: one list for all series, or one list for each
        (leading axes as ``progress``).

    Returns
    -------
    Ints
        Leading axes as ``progress``, requirements on the last axis; `NEVER`
        where the requirement is not reached.
    """
    sums, asked = _aligned(progress, requirements)
    found = _counted_below(sums, asked)
    found[found == sums.shape[-1]] = NEVER
    return found


def event_moments(progress: ArrayLike, requirements: ArrayLike) -> Floats:
    """Return the moments at which requirements are reached, in days with fractions.

    The sum is taken as growing evenly through each day, so that the moment of
    an event on the day at position k lies within k − 1 < moment <= k and
    rounding up gives what `event_days` gives.

    Parameters
    ----------
    progress, requirements
        See `event_days`.

    Returns
    -------
    Floats
        Leading axes as ``progress``, requirements on the last axis; infinite
        where the requirement is not reached.
    """
    sums, asked = _aligned(progress, requirements)
    found = _counted_below(sums, asked)
    days = sums.shape[-1]
    flat = sums.reshape(-1, days)
    at = np.minimum(found.reshape(len(flat), -1), days - 1)
    after = np.take_along_axis(flat, at, axis=-1)
    before = np.where(at > 0, np.take_along_axis(flat, np.maximum(at - 1, 0), axis=-1), 0.0)
    wanted = np.broadcast_to(asked, found.shape).reshape(at.shape)
    with np.errstate(all="ignore"):
        share = (wanted - before) / (after - before)
    share = np.where(np.isfinite(share), np.clip(share, 1e-9, 1.0), 1.0)
    moments = (at - 1.0 + share).reshape(found.shape)
    return np.where(found == days, np.inf, moments)


def _aligned(progress: ArrayLike, requirements: ArrayLike) -> tuple[Floats, Floats]:
    sums = np.ascontiguousarray(progress, dtype=np.float64)
    asked = np.atleast_1d(np.asarray(requirements, dtype=np.float64))
    return sums, asked


def _counted_below(sums: Floats, asked: Floats) -> Ints:
    """Return how many days of each series stay below each requirement, by halving.

    All days where the requirement is not reached before a missing day or the end.
    """
    days = sums.shape[-1]
    leading = np.broadcast_shapes(sums.shape[:-1], asked.shape[:-1])
    wanted = np.broadcast_to(asked, (*leading, asked.shape[-1])).reshape(-1, asked.shape[-1])
    flat = np.broadcast_to(sums, (*leading, days)).reshape(-1)
    base: NDArray[np.int64] = (np.arange(len(wanted), dtype=np.int64) * days - 1)[:, np.newaxis]
    below = np.zeros(wanted.shape, dtype=np.int64)
    step = 1 << max(days.bit_length() - 1, 0)
    while step:
        probe = below + step
        seen = flat.take(base + np.minimum(probe, days))
        # a missing day (NaN) is not below: the search stops at it
        below = np.where((probe <= days) & (seen < wanted), probe, below)
        step >>= 1
    missing = np.isnan(flat.take(base + np.minimum(below + 1, days)))
    below[missing] = days
    return below.reshape(*leading, asked.shape[-1])
