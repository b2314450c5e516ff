"""Degree days of single days from their lowest and highest temperature.

All temperatures of one call share one unit; the result is in degree days of
that unit. A published requirement in degree days is valid only with the method
and the cut-off it was fitted with.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError


class Method(StrEnum):
    """The day's temperature curve that is assumed.

    ``AVERAGE`` takes the mean of the day and compares it with the thresholds
    (method 1 of McMaster & Wilhelm 1997). ``AVERAGE_CLIPPED`` sets either
    extreme to the threshold it passes before the mean is taken (their method
    2). The single curves are symmetric; the double ones fall to the next day's
    minimum in the afternoon.
    """

    AVERAGE = "average"
    AVERAGE_CLIPPED = "average-clipped"
    SINGLE_SINE = "single-sine"
    DOUBLE_SINE = "double-sine"
    SINGLE_TRIANGLE = "single-triangle"
    DOUBLE_TRIANGLE = "double-triangle"


class Cutoff(StrEnum):
    """What becomes of growth above the upper threshold.

    It goes on at full rate (``NONE``), stays at the rate of the threshold
    (``HORIZONTAL``), stops (``VERTICAL``), or falls as it rose, down to nought
    (``INTERMEDIATE``).
    """

    NONE = "none"
    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    INTERMEDIATE = "intermediate"


_FLAT = 1e-9
"""Amplitude [°C] below which a day counts as one temperature."""

_DOUBLE = {Method.DOUBLE_SINE, Method.DOUBLE_TRIANGLE}


def degree_days(
    minimum: ArrayLike,
    maximum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike | None = None,
    method: Method = Method.SINGLE_SINE,
    cutoff: Cutoff = Cutoff.HORIZONTAL,
    next_minimum: ArrayLike | None = None,
) -> Floats:
    """Return the degree days of each day.

    Parameters
    ----------
    minimum, maximum
        Daily extremes [°C, or °F throughout], of any shape; days run along the
        last axis. NaN gives NaN.
    lower
        Threshold below which nothing accrues; broadcast against the days.
    upper
        Threshold above which `cutoff` rules, or none: then the cut-off is
        without effect.
    method, cutoff
        See `Method` and `Cutoff`.
    next_minimum
        The following day's minimum for the double curves; taken from `minimum`
        if left out, where the last day uses its own.

    Returns
    -------
    Floats
        Degree days [°C d, or °F d], not negative, in the shape of the input.

    Raises
    ------
    RangeError
        If a minimum lies above its maximum, or `upper` is not above `lower`.

    Notes
    -----
    The intermediate rate never falls below nought: on days hotter than
    2 `upper` − `lower` the part that would be negative is given back.

    References
    ----------
    McMaster, G. S. & Wilhelm, W. W. (1997). Growing degree-days: one equation,
    two interpretations. Agricultural and Forest Meteorology 87, 291-300.
    Baskerville, G. L. & Emin, P. (1969). Rapid estimation of heat accumulation
    from maximum and minimum temperatures. Ecology 50, 514-517 (sine).
    Sevacherian, V., Stern, V. M. & Mueller, A. J. (1977). Heat accumulation for
    timing Lygus control measures. J. Economic Entomology 70, 399-402 (triangle).
    Roltsch, W. J. et al. (1999). Evaluation of several degree-day estimation
    methods. Int. J. Biometeorology 42, 169-176 (double curves, cut-offs).

    Examples
    --------
    >>> round(float(degree_days(2, 12, lower=5)), 5)
    2.72066
    >>> float(degree_days(2, 12, lower=5, method=Method.AVERAGE))
    2.0
    """
    low, high = np.asarray(minimum, np.float64), np.asarray(maximum, np.float64)
    base = np.asarray(lower, np.float64)
    top = None if upper is None or cutoff is Cutoff.NONE else np.asarray(upper, np.float64)
    if np.any(low > high):
        msg = "a daily minimum lies above its maximum"
        raise RangeError(msg)
    if upper is not None and not np.all(np.asarray(upper, np.float64) > base):
        msg = "the upper threshold must lie above the lower one"
        raise RangeError(msg)
    first = _under_curve(low, high, base, top, method, cutoff)
    if method not in _DOUBLE:
        return first
    following = _next_day(low) if next_minimum is None else np.asarray(next_minimum, np.float64)
    # A day may stay colder than the following night: its curve then rises to it.
    bottom, peak = np.minimum(following, high), np.maximum(following, high)
    return (first + _under_curve(bottom, peak, base, top, method, cutoff)) / 2


def _next_day(minimum: Floats) -> Floats:
    if minimum.ndim == 0:
        return minimum
    return np.concatenate([minimum[..., 1:], minimum[..., -1:]], axis=-1)


def _under_curve(
    low: Floats, high: Floats, lower: Floats, upper: Floats | None, method: Method, cutoff: Cutoff
) -> Floats:
    """Return the degree days under one symmetric curve."""
    full = _above(low, high, lower, method)
    if upper is None:
        return full
    excess = _above(low, high, upper, method)
    if cutoff is Cutoff.HORIZONTAL:
        return np.maximum(full - excess, 0.0)
    if cutoff is Cutoff.INTERMEDIATE:
        regained = _above(low, high, 2 * upper - lower, method)
        return np.maximum(full - 2 * excess + regained, 0.0)
    lost = (upper - lower) * _share_above(low, high, upper, method)
    return np.maximum(full - excess - lost, 0.0)


def _above(low: Floats, high: Floats, threshold: Floats, method: Method) -> Floats:
    """Return the degree days above one threshold."""
    mean = (low + high) / 2
    if method is Method.AVERAGE:
        return np.maximum(mean - threshold, 0.0)
    if method is Method.AVERAGE_CLIPPED:
        return (np.maximum(low - threshold, 0.0) + np.maximum(high - threshold, 0.0)) / 2
    amplitude = (high - low) / 2
    flat = np.maximum(mean - threshold, 0.0)
    crossed = (low < threshold) & (threshold < high) & (amplitude > _FLAT)
    width = np.where(amplitude > _FLAT, amplitude, 1.0)
    if method in {Method.SINGLE_SINE, Method.DOUBLE_SINE}:
        angle = np.arcsin(np.clip((threshold - mean) / width, -1.0, 1.0))
        area = ((mean - threshold) * (np.pi / 2 - angle) + amplitude * np.cos(angle)) / np.pi
    else:
        area = np.maximum(high - threshold, 0.0) ** 2 / (4 * width)
    return np.where(crossed, area, flat)


def _share_above(low: Floats, high: Floats, threshold: Floats, method: Method) -> Floats:
    """Return the share of the day [0..1] above a threshold."""
    mean = (low + high) / 2
    missing = mean * 0.0
    if method is Method.AVERAGE:
        return np.where(mean > threshold, 1.0, 0.0) + missing
    if method is Method.AVERAGE_CLIPPED:
        return (
            np.where(low > threshold, 0.5, 0.0) + np.where(high > threshold, 0.5, 0.0)
        ) + missing
    amplitude = (high - low) / 2
    width = np.where(amplitude > _FLAT, amplitude, 1.0)
    if method in {Method.SINGLE_SINE, Method.DOUBLE_SINE}:
        share = 0.5 - np.arcsin(np.clip((threshold - mean) / width, -1.0, 1.0)) / np.pi
    else:
        share = np.clip((high - threshold) / (2 * width), 0.0, 1.0)
    return np.where(amplitude > _FLAT, share, np.where(mean > threshold, 1.0, 0.0)) + missing
