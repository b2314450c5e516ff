"""Formulas for a night's minimum and its course from what is known after sunset.

Secondary to an hourly forecast: for a garden with its own thermometer, or for a
forecast of extremes only.

References
----------
Snyder, R. L., de Melo-Abreu, J. P. (2005): Frost Protection: fundamentals, practice
and economics. FAO Environment and Natural Resources Series 10.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError

FEWEST_NIGHTS = 3


@dataclass(frozen=True, slots=True)
class NightMinimum:
    """Coefficients of a garden's night minimum: b1 T0 + b2 Td + b0 [°C]."""

    air: float
    dew: float
    constant: float

    def predict(self, air_temperature: ArrayLike, dew_point: ArrayLike) -> Floats:
        """Return the minimum [°C] from air and dew point [°C] two hours after sunset."""
        air, dew = np.asarray(air_temperature, np.float64), np.asarray(dew_point, np.float64)
        return np.asarray(self.air * air + self.dew * dew + self.constant)


def fit_night_minimum(
    air_temperature: ArrayLike, dew_point: ArrayLike, minimum: ArrayLike
) -> NightMinimum:
    """Fit the two-step formula of the FAO to frost nights of one garden.

    First the minimum on the air temperature, then what is left on the dew point;
    the joint least squares fit would give other coefficients. Only for clear
    nights with less than 2 m s-1 wind, without fog or rain. The coefficients
    belong to one place and do not transfer.

    Parameters
    ----------
    air_temperature, dew_point
        Two hours after sunset [°C].
    minimum
        Of the same nights [°C].

    Raises
    ------
    RangeError
        If there are fewer than three nights, or all are alike.

    References
    ----------
    Snyder and de Melo-Abreu (2005), FFST.
    """
    air, dew, low = (np.asarray(v, np.float64) for v in (air_temperature, dew_point, minimum))
    if len(air) < FEWEST_NIGHTS or np.ptp(air) == 0 or np.ptp(dew) == 0:
        msg = f"a night formula needs {FEWEST_NIGHTS} different nights; there are {len(air)}"
        raise RangeError(msg)
    first, base = np.polyfit(air, low, 1)
    second, rest = np.polyfit(dew, low - (first * air + base), 1)
    return NightMinimum(float(first), float(second), float(base + rest))


def cooling_curve(
    start_temperature: float, minimum: float, night_hours: float, hours: ArrayLike
) -> Floats:
    """Return the air temperature [°C] through a clear night, falling as a square root.

    Parameters
    ----------
    start_temperature
        Two hours after sunset [°C].
    minimum
        At the end of the night [°C].
    night_hours
        From sunset to the minimum [h], more than 2.
    hours
        Hours after sunset, 2 or more.

    Raises
    ------
    RangeError
        If the night is not longer than two hours, or an hour earlier than that.

    References
    ----------
    Snyder and de Melo-Abreu (2005), FTrend, after the square-root law of Brunt.
    """
    after = np.asarray(hours, np.float64)
    if not night_hours > 2 or np.any(after < 2):
        msg = f"the curve begins 2 h after sunset; the night has {night_hours:g} h"
        raise RangeError(msg)
    fall = np.sqrt((after - 2) / (night_hours - 2))
    return np.asarray(start_temperature + (minimum - start_temperature) * fall)
