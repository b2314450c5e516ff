"""Moisture of the air: saturation, dew point, wet bulb and vapour pressure deficit.

All functions take numbers or arrays and carry NaN through as unknown. Humidity
is relative to liquid water also below freezing, as weather services give it.

References
----------
Allen, R. G., Pereira, L. S., Raes, D., Smith, M. (1998): Crop evapotranspiration.
FAO Irrigation and Drainage Paper 56, chapter 3 and annex 3 (cited as FAO-56).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError

PSYCHROMETER = 0.000662
"""Coefficient of an aspirated psychrometer [K-1] (FAO-56 eq. 16)."""

_NEWTON_STEPS = 12


def saturation_vapour_pressure(temperature: ArrayLike) -> Floats:
    """Return the saturation vapour pressure over water [kPa].

    Parameters
    ----------
    temperature
        [°C], −40 to 60; below 0 °C it is that over supercooled water.

    References
    ----------
    FAO-56 eq. 11 (Tetens form).
    """
    degrees = np.asarray(temperature, dtype=np.float64)
    return np.asarray(0.6108 * np.exp(17.27 * degrees / (degrees + 237.3)))


def saturation_slope(temperature: ArrayLike) -> Floats:
    """Return the slope of the saturation vapour pressure curve [kPa K-1].

    References
    ----------
    FAO-56 eq. 13.
    """
    degrees = np.asarray(temperature, dtype=np.float64)
    return np.asarray(4098 * saturation_vapour_pressure(degrees) / (degrees + 237.3) ** 2)


def dew_point(vapour_pressure: ArrayLike) -> Floats:
    """Return the dew point over water [°C] of a vapour pressure [kPa].

    NaN where the pressure is not above 0, since such air has no dew point.

    References
    ----------
    FAO-56 eq. 3-11 (annex 3): the inverse of eq. 11.
    """
    pressure = np.asarray(vapour_pressure, dtype=np.float64)
    logarithm = np.log(np.where(pressure > 0, pressure, np.nan))
    return np.asarray((116.91 + 237.3 * logarithm) / (16.78 - logarithm))


def vapour_pressure(temperature: ArrayLike, relative_humidity: ArrayLike) -> Floats:
    """Return the actual vapour pressure [kPa].

    Parameters
    ----------
    temperature
        [°C].
    relative_humidity
        [%], 0 to 100.

    Raises
    ------
    RangeError
        If a humidity lies outside 0 to 100 %.

    References
    ----------
    FAO-56 eq. 54.
    """
    humidity = np.asarray(relative_humidity, dtype=np.float64)
    refuse_outside(humidity, "relative humidity", 0, 100, "%")
    return np.asarray(saturation_vapour_pressure(temperature) * humidity / 100)


def vapour_pressure_deficit(temperature: ArrayLike, actual: ArrayLike) -> Floats:
    """Return how far the air is from saturation [kPa], never below 0.

    Parameters
    ----------
    temperature
        [°C].
    actual
        Actual vapour pressure [kPa].

    References
    ----------
    FAO-56, chapter 3: es − ea.
    """
    deficit = saturation_vapour_pressure(temperature) - np.asarray(actual, dtype=np.float64)
    return np.asarray(np.maximum(deficit, 0.0))


def atmospheric_pressure(elevation: ArrayLike) -> Floats:
    """Return the mean air pressure [kPa] at an elevation [m].

    References
    ----------
    FAO-56 eq. 7.
    """
    metres = np.asarray(elevation, dtype=np.float64)
    return np.asarray(101.3 * ((293 - 0.0065 * metres) / 293) ** 5.26)


def psychrometric_constant(pressure: ArrayLike) -> Floats:
    """Return the psychrometric constant [kPa K-1] of an air pressure [kPa].

    References
    ----------
    FAO-56 eq. 8, with a latent heat of 2.45 MJ kg-1.
    """
    return np.asarray(0.665e-3 * np.asarray(pressure, dtype=np.float64))


def wet_bulb(temperature: ArrayLike, actual: ArrayLike, pressure: ArrayLike = 101.325) -> Floats:
    """Return the wet-bulb temperature [°C] of an aspirated, water-wet thermometer.

    The psychrometer equation is solved by Newton steps; it is convex in the
    wet-bulb temperature, so that the steps close in from above. Regressions in
    common use are up to 0.6 K too low near freezing and are not used.

    Parameters
    ----------
    temperature
        [°C], −30 to 50.
    actual
        Actual vapour pressure [kPa].
    pressure
        Air pressure [kPa].

    Notes
    -----
    Below 0 °C the bulb is taken as covered with supercooled water. Within 0.1 K
    of thermodynamic wet-bulb programs from −5 to 20 °C, 0.15 K at 35 °C and 20 %.

    References
    ----------
    FAO-56 eq. 15 and 16.
    """
    degrees = np.asarray(temperature, dtype=np.float64)
    vapour = np.minimum(np.asarray(actual, np.float64), saturation_vapour_pressure(degrees))
    gain = PSYCHROMETER * np.asarray(pressure, dtype=np.float64)
    wet = degrees + np.zeros(np.broadcast(degrees, vapour, gain).shape)
    for _ in range(_NEWTON_STEPS):
        excess = saturation_vapour_pressure(wet) - gain * (degrees - wet) - vapour
        wet = wet - excess / (saturation_slope(wet) + gain)
    return np.asarray(wet)


def refuse_outside(values: ArrayLike, what: str, low: float, high: float, unit: str) -> None:
    """Raise `RangeError` naming the first value outside low..high; NaN is let through."""
    array = np.asarray(values, dtype=np.float64)
    outside = array[(array < low) | (array > high)]
    if outside.size:
        msg = f"{what} {outside.flat[0]:g} {unit} is outside {low:g} to {high:g} {unit}"
        raise RangeError(msg)
