"""Degree hours: warmth counted from hourly temperatures."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats

_BASE, _BEST, _LIMIT = 4.0, 25.0, 36.0


def degree_hours(temperature: ArrayLike, lower: ArrayLike) -> Floats:
    """Return the degree hours of each hour above a threshold.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C], of any shape; NaN gives NaN.
    lower
        Threshold [°C], broadcast against the hours.

    Returns
    -------
    Floats
        max(T − lower, 0) [°C h]. Their mean over the hours of a day is the
        day's sum in degree days.

    References
    ----------
    Cesaraccio, C. et al. (2001). An improved model for determining degree-day
    values from daily temperature data. Int. J. Biometeorology 45, 161-169
    (hourly sums as the standard against which daily methods are judged).
    """
    return np.maximum(np.asarray(temperature, np.float64) - np.asarray(lower, np.float64), 0.0)


def growing_degree_hours(temperature: ArrayLike) -> Floats:
    """Return the growing degree hours of fruit trees for each hour.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C], of any shape; NaN gives NaN.

    Returns
    -------
    Floats
        Growing degree hours [0..21] of each hour: nought below 4 °C, most at
        25 °C, nought again from 36 °C.

    Notes
    -----
    Fitted to deciduous fruit trees; for others it is a measure of warmth, not
    a rate of growth.

    References
    ----------
    Anderson, J. L., Richardson, E. A. & Kesner, C. D. (1986). Validation of
    chill unit and flower bud phenology models for 'Montmorency' sour cherry.
    Acta Horticulturae 184, 71-78 (ASYMCUR model).
    """
    warmth = np.asarray(temperature, np.float64)
    half = (_BEST - _BASE) / 2
    rising = half * (1 + np.cos(np.pi + np.pi * (warmth - _BASE) / (_BEST - _BASE)))
    quarter = np.pi / 2
    falling = 2 * half * (1 + np.cos(quarter + quarter * (warmth - _BEST) / (_LIMIT - _BEST)))
    within = np.where(warmth <= _BEST, rising, falling)
    hours: Floats = np.where((warmth < _BASE) | (warmth > _LIMIT), 0.0, within)
    return hours
