"""Hourly temperatures rebuilt from daily extremes."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.sun import sun_hours

Flags = NDArray[np.bool_]
Scalar = TypeVar("Scalar", bound=np.generic)

HOURS = 24
_HOUR = np.arange(HOURS, dtype=np.float64)
_PEAK_DELAY = 4.0
_SHORTEST_NIGHT = 1e-6


def hourly_temperature(
    minimum: ArrayLike, maximum: ArrayLike, day: ArrayLike, latitude: ArrayLike
) -> Floats:
    """Return the temperature at the full hours 0 to 23 of each day.

    Parameters
    ----------
    minimum, maximum
        Daily extremes [°C] of unbroken days along the last axis; axes before it
        are series. NaN makes its day and the nights beside it NaN.
    day
        Day of the year [1..366] of each day, broadcast against the days.
    latitude
        Degrees, north positive: one, or one for each series.

    Returns
    -------
    Floats
        [°C], in the shape of the input with an axis of 24 hours added; hours
        are local solar time.

    Raises
    ------
    RangeError
        If a minimum lies above its maximum, or the latitude outside −90..90.

    Notes
    -----
    From sunrise to sunset a sine that is highest two hours after noon; from
    sunset a logarithmic fall that reaches the minimum at the next sunrise. The
    curve is continuous: the fall takes the logarithm of hours since sunset plus
    one, over that of the night's length plus one, and each night has its own
    length. Before the first sunrise the minimum stands, as its eve is not known;
    the last day serves as its own morrow. Where the sun does not rise or does not
    set, all hours have the mean of the extremes. Season sums from rebuilt hours
    lie within about 1.5 chill portions and 1 % of the chilling hours of other
    codings of the same curve.

    References
    ----------
    Linvill, D. E. (1990). Calculating chilling hours and chill units from daily
    maximum and minimum temperature observations. HortScience 25, 14-16.
    """
    low, high = np.broadcast_arrays(
        np.atleast_1d(np.asarray(minimum, np.float64)),
        np.atleast_1d(np.asarray(maximum, np.float64)),
    )
    if np.any(low > high):
        msg = "a daily minimum lies above its maximum"
        raise RangeError(msg)
    parallel = np.asarray(latitude, np.float64)
    sunrise, sunset = sun_hours(parallel[..., None] if parallel.ndim else parallel, day)
    sunrise, sunset = np.broadcast_to(sunrise, low.shape), np.broadcast_to(sunset, low.shape)
    polar = (sunset <= sunrise) | (sunset - sunrise >= HOURS)
    hourly = _ordinary(low, high, sunrise, sunset, polar)
    mean = (low + high) / 2
    return np.where(polar[..., None], mean[..., None], hourly)


def _ordinary(low: Floats, high: Floats, sunrise: Floats, sunset: Floats, polar: Flags) -> Floats:
    """Return the hours of days on which the sun rises and sets."""
    length = sunset - sunrise
    dusk = low + (high - low) * np.sin(np.pi * length / (length + _PEAK_DELAY))
    eve_set, next_rise = _before(sunset), _after(sunrise)
    # Beside a polar day the sun of the day itself serves for its neighbour's.
    eve_set = np.where(_before(polar), sunset, eve_set)
    next_rise = np.where(_after(polar), sunrise, next_rise)
    eve_dusk = np.where(_before(polar), dusk, _before(dusk))
    # Nothing is known of the eve of the first day.
    eve_dusk[..., :1] = low[..., :1]
    day = _by_day(low, high, sunrise, length)
    morning = _by_night(eve_dusk, low, _HOUR + HOURS - eve_set[..., None], sunrise - eve_set)
    evening = _by_night(dusk, _after(low), _HOUR - sunset[..., None], next_rise - sunset)
    before_dawn = sunrise[..., None] >= _HOUR
    after_dusk = sunset[..., None] < _HOUR
    return np.where(before_dawn, morning, np.where(after_dusk, evening, day))


def _by_day(low: Floats, high: Floats, sunrise: Floats, length: Floats) -> Floats:
    phase = np.pi * (_HOUR - sunrise[..., None]) / (length + _PEAK_DELAY)[..., None]
    return low[..., None] + (high - low)[..., None] * np.sin(phase)


def _by_night(dusk: Floats, coldest: Floats, since_dusk: Floats, night: Floats) -> Floats:
    """Return the fall from dusk; ``night`` is next sunrise − sunset without the midnight."""
    length = np.maximum(night + HOURS, _SHORTEST_NIGHT)[..., None]
    share = np.log1p(np.clip(since_dusk, 0.0, length)) / np.log1p(length)
    return dusk[..., None] - (dusk - coldest)[..., None] * share


def _before(values: NDArray[Scalar]) -> NDArray[Scalar]:
    return np.concatenate([values[..., :1], values[..., :-1]], axis=-1)


def _after(values: NDArray[Scalar]) -> NDArray[Scalar]:
    return np.concatenate([values[..., 1:], values[..., -1:]], axis=-1)
