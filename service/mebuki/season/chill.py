"""Chill: how much of the winter's cold a bud has felt, on four scales.

Series run along the last axis; axes before it are independent series. Every
function returns running totals in the shape of its input. A missing value (NaN)
counts as no time at all: it adds nothing and changes no state, so that leaving
the hour out of the series gives the same total.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError

CHILL_DAY_LIMIT = 5.0
"""Mean temperature [°C] up to which a day counts as a chill day."""

_UTAH_LIMITS = np.array([1.4, 2.4, 9.1, 12.4, 15.9, 18.0])
_UTAH_UNITS = np.array([0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0])

_COLDEST, _WARMEST = -90.0, 70.0

# The Dynamic Model's constants, in the notation of Fishman, Erez & Couvillon (1987).
_E0, _E1, _A0, _A1 = 4153.5, 12888.8, 139500.0, 2.567e18
_SLOPE, _TETMLT, _KELVIN = 1.6, 277.0, 273.0

_BLOCK_HOURS = 48


def chill_days(mean: ArrayLike, limit: float = CHILL_DAY_LIMIT) -> Floats:
    """Return the running number of days not warmer than a limit.

    Parameters
    ----------
    mean
        Daily mean temperature [°C].
    limit
        [°C], counted as cold.

    Returns
    -------
    Floats
        Days.

    References
    ----------
    Cannell, M. G. R. & Smith, R. I. (1983). Thermal time, chill days and
    prediction of budburst in Picea sitchensis. J. Applied Ecology 20, 951-963.
    """
    return np.cumsum(np.asarray(mean, np.float64) <= limit, axis=-1, dtype=np.float64)


def chilling_hours(temperature: ArrayLike) -> Floats:
    """Return the running number of hours from 0 to 7.2 °C, both included.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C].

    Returns
    -------
    Floats
        Hours.

    References
    ----------
    Weinberger, J. H. (1950). Chilling requirements of peach varieties. Proc.
    American Society for Horticultural Science 56, 122-128.
    """
    values = np.asarray(temperature, np.float64)
    return np.cumsum((values >= 0.0) & (values <= 7.2), axis=-1, dtype=np.float64)


def utah_rate(temperature: ArrayLike) -> Floats:
    """Return the Utah chill units of each single hour.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C].

    Returns
    -------
    Floats
        Units in [−1, 1]: 0.5 above 1.4, 1 above 2.4, 0.5 above 9.1, 0 above
        12.4, −0.5 above 15.9 and −1 above 18 °C, the limit itself belonging to
        the colder class; 0 up to 1.4 °C and for NaN.

    References
    ----------
    Richardson, E. A., Seeley, S. D. & Walker, D. R. (1974). A model for
    estimating the completion of rest for 'Redhaven' and 'Elberta' peach trees.
    HortScience 9, 331-332.
    """
    values = np.asarray(temperature, np.float64)
    units = _UTAH_UNITS[np.searchsorted(_UTAH_LIMITS, values, side="left")]
    return np.where(np.isnan(values), 0.0, units)


def utah_units(temperature: ArrayLike) -> Floats:
    """Return the running total of Utah chill units; it may fall and be negative.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C].

    Returns
    -------
    Floats
        Units.

    References
    ----------
    See `utah_rate` (Richardson et al. 1974).
    """
    return np.cumsum(utah_rate(temperature), axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class DynamicState:
    """What the Dynamic Model carries from one hour to the next, for each series.

    Parameters
    ----------
    precursor
        The intermediate product that enters the next hour.
    portions
        Chill portions so far.
    begun
        Whether the series has had its first hour, in which nothing forms.
    """

    precursor: Floats
    portions: Floats
    begun: NDArray[np.bool_]


def chill_portions(temperature: ArrayLike) -> Floats:
    """Return the running total of chill portions of the Dynamic Model.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C], −90 to 70.

    Returns
    -------
    Floats
        Portions; they never fall.

    Raises
    ------
    RangeError
        If a temperature lies outside −90..70 °C.

    References
    ----------
    See `continue_portions` (Fishman et al. 1987).
    """
    return continue_portions(temperature)[0]


def continue_portions(
    temperature: ArrayLike, state: DynamicState | None = None
) -> tuple[Floats, DynamicState]:
    """Return chill portions and the state to go on from.

    A season cut into stretches gives the same portions as in one call.

    Parameters
    ----------
    temperature
        Hourly air temperature [°C], −90 to 70, hours along the last axis.
    state
        Where an earlier stretch ended, or none at the beginning.

    Returns
    -------
    portions : Floats
        Running totals, including those of the earlier stretch.
    state : DynamicState
        After the last hour.

    Raises
    ------
    RangeError
        If a temperature lies outside −90..70 °C.

    Notes
    -----
    Cold makes an intermediate product that warmth can undo; when it has reached
    one unit by the end of an hour, a share that depends on that hour's
    temperature becomes a portion for good. In the first hour nothing forms.
    Every hour is computed from its own temperature; nothing is rounded or
    looked up.

    References
    ----------
    Fishman, S., Erez, A. & Couvillon, G. A. (1987). The temperature dependence
    of dormancy breaking in plants: mathematical analysis of a two-step model
    involving a cooperative transition. J. Theoretical Biology 124, 473-483.
    Erez, A., Fishman, S., Linsley-Noakes, G. C. & Allan, P. (1990). The dynamic
    model for rest completion in peach buds. Acta Horticulturae 276, 165-174.
    """
    values = np.asarray(temperature, np.float64)
    _check_range(values)
    count = int(np.prod(values.shape[:-1]))
    series = values.reshape(count, values.shape[-1])
    if state is None:
        nothing = np.zeros(count)
        state = DynamicState(nothing, nothing, np.zeros(count, np.bool_))
    present = ~np.isnan(series)
    begun = state.begun.reshape(-1) | present.any(axis=1)
    first = np.where(begun & ~state.begun.reshape(-1), _first_of(present), -1)
    precursor = np.array(state.precursor, np.float64).reshape(-1)
    gained = np.empty(series.shape[::-1])
    for start in range(0, series.shape[1], _BLOCK_HOURS):
        block = slice(start, start + _BLOCK_HOURS)
        kept, formed, fixed = _hourly_steps(series[:, block].T, first - start)
        _advance(precursor, gained[block], kept, formed, fixed)
    gained[:1] += state.portions.reshape(-1)
    totals = np.empty(series.shape)
    np.cumsum(gained.T, axis=1, out=totals)
    shape = values.shape[:-1]
    ended = totals[:, -1].copy() if series.shape[1] else np.array(state.portions, np.float64)
    after = DynamicState(precursor.reshape(shape), ended.reshape(shape), begun.reshape(shape))
    return totals.reshape(values.shape), after


def _first_of(present: NDArray[np.bool_]) -> Ints:
    """Return the place of the first value of each series, 0 where there is none."""
    if present.shape[1] == 0:
        return np.zeros(len(present), np.int64)
    return np.asarray(present.argmax(axis=1), np.int64)


def _check_range(values: Floats) -> None:
    if values.ndim == 0:
        msg = "hourly temperatures must form a series"
        raise RangeError(msg)
    if values.size == 0:
        return
    coldest, warmest = np.fmin.reduce(values, axis=None), np.fmax.reduce(values, axis=None)
    if coldest < _COLDEST or warmest > _WARMEST:
        msg = f"hourly temperatures of {coldest:g} to {warmest:g} °C: allowed are −90 to 70 °C"
        raise RangeError(msg)


def _hourly_steps(temperature: Floats, first: Ints) -> tuple[Floats, Floats, Floats]:
    """Return what each hour keeps of the product, forms anew, and fixes of it.

    With the product E and its start S: E = S kept + formed, and E fixed is the
    portion. Hours without a value keep all, form nothing and fix nothing, and
    so does the first hour of a series.
    """
    inverse = np.ascontiguousarray(temperature)
    inverse = 1.0 / (inverse + _KELVIN)
    kept = np.exp(-_A1 * np.exp(-_E1 * inverse))
    formed = (_A0 / _A1) * np.exp((_E1 - _E0) * inverse) * (1.0 - kept)
    fixed = 1.0 / (1.0 + np.exp(_SLOPE * _TETMLT * (_TETMLT * inverse - 1.0)))
    idle = np.isnan(inverse)
    inside = np.flatnonzero((first >= 0) & (first < len(inverse)))
    idle[first[inside], inside] = True
    if idle.any():
        kept[idle], formed[idle], fixed[idle] = 1.0, 0.0, 0.0
    return kept, formed, fixed


def _advance(
    precursor: Floats, gained: Floats, kept: Floats, formed: Floats, fixed: Floats
) -> None:
    """Step through the hours of a block; changes ``precursor`` and fills ``gained``."""
    for hour in range(len(gained)):
        precursor *= kept[hour]
        precursor += formed[hour]
        np.multiply(precursor, fixed[hour], out=gained[hour])
        gained[hour] *= precursor >= 1.0
        precursor -= gained[hour]
