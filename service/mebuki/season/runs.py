"""Hours in a row, and hours below a temperature.

References
----------
None: counting. That values run straight between full hours is a default.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats, Ints


def longest_run(holds: ArrayLike) -> Ints:
    """Return the longest unbroken run of true values along the last axis."""
    flags = np.moveaxis(np.asarray(holds, dtype=bool), -1, 0)
    run = np.zeros(flags.shape[1:], dtype=np.int64)
    longest = run.copy()
    for now in flags:
        run = np.where(now, run + 1, 0)
        longest = np.maximum(longest, run)
    return longest


def hours_below(values: ArrayLike, threshold: ArrayLike) -> Floats:
    """Return for how long [h] values at full hours lie below a threshold.

    Between full hours the values run on a straight line, so that a share of an hour
    counts. The last axis is hours; a stretch with an unknown hour gives NaN.

    Parameters
    ----------
    values
        [°C] at full hours.
    threshold
        [°C]; a number, or one for each stretch.
    """
    depth = np.asarray(threshold, np.float64)[..., None] - np.asarray(values, np.float64)
    first, second = depth[..., :-1], depth[..., 1:]
    rise = np.abs(second - first)
    deeper = np.maximum(first, second)
    share = np.clip(deeper / np.where(rise > 0, rise, 1), 0, 1)
    level = np.where(deeper > 0, 1.0, 0.0)
    found = np.where(rise > 0, share, level)
    return np.asarray(np.where(np.isnan(rise), np.nan, found).sum(axis=-1))
