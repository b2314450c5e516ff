"""The sun's path: declination, sunrise, sunset and day length."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.seasons import days_of_year

HOURS = 24

RISING_ALTITUDE = -0.8333
"""Altitude [°] of the sun's centre when its upper limb seems to touch the horizon."""


def declination(day: ArrayLike) -> Floats:
    """Return the sun's declination [rad] on a day of the year [1..366].

    Notes
    -----
    The series is good to about 0.0006 rad.

    References
    ----------
    Spencer, J. W. (1971). Fourier series representation of the position of the
    sun. Search 2 (5), 172.
    """
    angle = 2 * np.pi * (np.asarray(day, np.float64) - 1) / 365
    return np.asarray(
        0.006918
        - 0.399912 * np.cos(angle)
        + 0.070257 * np.sin(angle)
        - 0.006758 * np.cos(2 * angle)
        + 0.000907 * np.sin(2 * angle)
        - 0.002697 * np.cos(3 * angle)
        + 0.00148 * np.sin(3 * angle)
    )


def sun_hours(latitude: ArrayLike, day: ArrayLike) -> tuple[Floats, Floats]:
    """Return the hours of sunrise and sunset in local solar time.

    Parameters
    ----------
    latitude
        Degrees, north positive; broadcast against the days.
    day
        Day of the year [1..366].

    Returns
    -------
    sunrise, sunset : Floats
        Hours [0..24] of local solar time, noon at 12. Where the sun does not
        set they are 0 and 24, where it does not rise both are 12.

    Raises
    ------
    RangeError
        If a latitude lies outside −90..90 or a day outside 1..366.

    Notes
    -----
    Sunrise is when the upper limb appears in air of usual refraction, over a
    level horizon.

    References
    ----------
    Spencer (1971) for the declination; the hour angle at an altitude of
    −0.8333° is that of Almorox, J., Hontoria, C. & Benito, M. (2005).
    Statistical validation of daylength definitions for estimation of global
    solar radiation. Energy Conversion and Management 46, 1465-1471.
    """
    degrees = np.asarray(latitude, np.float64)
    if not np.all(np.abs(degrees) <= 90):
        msg = f"latitude {degrees}: must lie between −90 and 90 degrees"
        raise RangeError(msg)
    numbers = np.asarray(day, np.float64)
    if not np.all((numbers >= 1) & (numbers <= 366)):
        msg = "a day of the year must lie between 1 and 366"
        raise RangeError(msg)
    parallel, tilt = np.radians(degrees), declination(numbers)
    cosine = (np.sin(np.radians(RISING_ALTITUDE)) - np.sin(parallel) * np.sin(tilt)) / (
        np.cos(parallel) * np.cos(tilt)
    )
    half = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) / 15
    return np.asarray(12 - half), np.asarray(12 + half)


def equation_of_time(day: ArrayLike) -> Floats:
    """Return by how much a sundial is ahead of a clock [min] on a day of the year [1..366].

    Notes
    -----
    Good to about 0.6 minutes.

    References
    ----------
    Spencer (1971), as `declination`; a radian is 229.18 minutes.
    """
    angle = 2 * np.pi * (np.asarray(day, np.float64) - 1) / 365
    return np.asarray(
        229.18
        * (
            0.000075
            + 0.001868 * np.cos(angle)
            - 0.032077 * np.sin(angle)
            - 0.014615 * np.cos(2 * angle)
            - 0.040849 * np.sin(2 * angle)
        )
    )


def sunset(latitude: float, longitude: float, day: date) -> datetime | None:
    """Return when the sun sets on a local day (UTC); none where it does not rise or set.

    Parameters
    ----------
    latitude, longitude
        Degrees, north and east positive.

    Raises
    ------
    RangeError
        If the latitude lies outside −90..90.

    Notes
    -----
    Over a level horizon; good to two minutes between the polar circles.

    References
    ----------
    See `sun_hours` and `equation_of_time`.
    """
    number = day.timetuple().tm_yday
    rising, setting = (float(hour) for hour in sun_hours(latitude, number))
    if not 0 < rising < setting < HOURS:
        return None
    hours = setting - longitude / 15 - float(equation_of_time(number)) / 60
    return datetime.combine(day, time(), UTC) + timedelta(hours=hours)


def day_length(latitude: ArrayLike, day: ArrayLike) -> Floats:
    """Return the hours from sunrise to sunset [0..24].

    Parameters
    ----------
    latitude
        Degrees, north positive; broadcast against the days.
    day
        Day of the year [1..366].

    Raises
    ------
    RangeError
        If a latitude lies outside −90..90 or a day outside 1..366.

    References
    ----------
    See `sun_hours` (Spencer 1971).
    """
    sunrise, sunset = sun_hours(latitude, day)
    return sunset - sunrise


def first_day_with_length(latitude: float, hours: float, since: date) -> date | None:
    """Return the first day, not before a given one, that is at least so long.

    Parameters
    ----------
    latitude
        Degrees, north positive.
    hours
        Day length [h].
    since
        The first day that may be returned; the 366 days from it are looked at.

    Returns
    -------
    date or None
        None where no day of the year is so long.

    Raises
    ------
    RangeError
        If the latitude lies outside −90..90.

    References
    ----------
    See `sun_hours` (Spencer 1971).

    Examples
    --------
    >>> first_day_with_length(42.5, 10.7, date(2012, 12, 22))
    datetime.date(2013, 2, 19)
    """
    numbers = days_of_year(since.toordinal() + np.arange(366))
    long_enough = day_length(latitude, numbers) >= hours
    if not np.any(long_enough):
        return None
    return since + timedelta(days=int(np.argmax(long_enough)))
