"""Two clocks of bud break: from daily mean temperature to progress, from progress to days.

Both clocks have one requirement F per taxon and stage. ``progress`` is the
effective heat at the end of each day; the event is the first day at whose end
progress >= F (`mebuki.season.crossing`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError
from mebuki.season.seasons import days_of_year, forcing_start, season_start, solstice
from mebuki.season.sun import day_length

Offsets = int | Ints
"""Position on the day axis: one for all series, or one for each."""

DAY_LENGTH_START = 10.7
"""Day length [h] that starts the forcing of `sigmoid_day_length`."""


def chill_weighted(temperature: ArrayLike, chill_from: Offsets, forcing_from: Offsets) -> Floats:
    """Return the progress of chill-weighted thermal time at the end of each day.

    Forcing G is the sum of max(T, 0) from 8 February (9 August in the south);
    chill days CD are those with T <= 5 °C since 1 November (1 May); progress
    is G / (1 + exp(−0.01 CD)).

    Parameters
    ----------
    temperature
        Daily mean air temperature [°C], days on the last axis.
    chill_from, forcing_from
        Position on the day axis of the first day that counts, the same for
        all series or one for each.

    Returns
    -------
    Floats
        Effective heat [°C d], of the shape of ``temperature``; NaN from the
        first missing day on.

    Notes
    -----
    Fitted on individual trees of 34 species in Massachusetts and on cherry,
    peach, forsythia, azalea and wisteria in Korea and Japan (latitudes 31 to
    45 degrees). Where winters are too warm for chill the dates are extrapolated.

    References
    ----------
    The shape follows the chill-dependent heat sum of Cannell and Smith (1983,
    Journal of Applied Ecology 20, 951-963) with constants fitted to Harvard
    Forest HF003 (O'Keefe) and to the observations of KMA and JMA.
    """
    mean = np.asarray(temperature, dtype=np.float64)
    heat = _running(np.maximum(mean, 0.0), forcing_from)
    weight = _running((mean <= 5.0) + 0.0 * mean, chill_from)
    weight *= -0.01
    np.exp(weight, out=weight)
    weight += 1.0
    heat /= weight
    return heat


def sigmoid_day_length(
    temperature: ArrayLike, chill_from: Offsets, forcing_from: Offsets
) -> Floats:
    """Return the progress of sigmoid forcing from a day length, at the end of each day.

    Forcing is the sum of 20 / (1 + exp(−0.24 (T − 12.5))) from the first day
    after the winter solstice with 10.7 h of daylight; chill C the sum since
    1 November (1 May) of (22 − T) / 10 held within 0..2; progress is forcing
    divided by min(2.5, 1 + 13.5 exp(−0.018 C)).

    Parameters
    ----------
    temperature
        Daily mean air temperature [°C], days on the last axis.
    chill_from, forcing_from
        Position on the day axis of the first day that counts, the same for
        all series or one for each.

    Returns
    -------
    Floats
        Effective forcing [units of its own], of the shape of ``temperature``;
        NaN from the first missing day on.

    Notes
    -----
    The constants were tuned together: none may be changed alone. The bound
    of 2.5 keeps warm-winter islands from running weeks late.

    References
    ----------
    Sigmoid forcing after Hänninen (1990, Acta Forestalia Fennica 213) and
    Chuine (2000, Journal of Theoretical Biology 207, 337-347), with constants
    fitted to Harvard Forest HF003 and to the observations of KMA and JMA.
    """
    mean = np.asarray(temperature, dtype=np.float64)
    rate = 12.5 - mean
    rate *= 0.24
    np.exp(rate, out=rate)
    rate += 1.0
    np.divide(20.0, rate, out=rate)
    heat = _running(rate, forcing_from)
    heat /= chill_need(mean, chill_from)
    return heat


def chill_need(temperature: ArrayLike, chill_from: Offsets) -> Floats:
    """Return by what factor missing chill raises the forcing needed, day by day.

    Parameters
    ----------
    temperature
        Daily mean air temperature [°C], days on the last axis.
    chill_from
        Position on the day axis of the first day whose chill counts.

    Returns
    -------
    Floats
        1 after a long cold winter, at most 2.5, see `sigmoid_day_length`.
    """
    chill = 22.0 - np.asarray(temperature, dtype=np.float64)
    chill /= 10.0
    np.clip(chill, 0.0, 2.0, out=chill)
    need = _running(chill, chill_from)
    need *= -0.018
    np.exp(need, out=need)
    need *= 13.5
    need += 1.0
    return np.minimum(need, 2.5, out=need)


def _running(rate: Floats, first: Offsets) -> Floats:
    """Return sums along the days from a first day on; ``rate`` is overwritten."""
    days = rate.shape[-1]
    if isinstance(first, int):
        rate[..., :first] = 0.0
    else:
        rate[np.arange(days) < np.asarray(first)[..., np.newaxis]] = 0.0
    return np.cumsum(rate, axis=-1, out=rate)


def day_length_start(season: int, latitude: float, hours: float = DAY_LENGTH_START) -> int:
    """Return the first day from the winter solstice on with so much daylight.

    Parameters
    ----------
    season
        Calendar year of the spring.
    latitude
        Degrees, south negative.
    hours
        Day length [h].

    Returns
    -------
    int
        Ordinal of the day; the solstice itself up to about 20 degrees.

    Raises
    ------
    RangeError
        If the latitude is not within −90..90.
    """
    check_latitude(latitude)
    first = solstice(season, latitude < 0)
    days = np.arange(first, first + 184, dtype=np.int64)
    enough = np.asarray(day_length(latitude, days_of_year(days))) >= hours
    return first + int(np.argmax(enough))


def check_latitude(latitude: float) -> None:
    """Raise `RangeError` unless a latitude lies within −90..90 degrees."""
    if not -90.0 <= latitude <= 90.0:
        msg = f"latitude {latitude:g} is not within -90 and 90 degrees"
        raise RangeError(msg)


@dataclass(frozen=True, slots=True)
class Clock:
    """A way to measure how far a spring has come.

    Parameters
    ----------
    name
        A short word for it.
    progress
        Daily mean temperature, chill start and forcing start (positions on
        the day axis) to progress.
    forcing_from
        Season and latitude to the ordinal of the first day of forcing.
    """

    name: str
    progress: Callable[[ArrayLike, Offsets, Offsets], Floats]
    forcing_from: Callable[[int, float], int]

    def read(self, temperature: Floats, start: int, season: int, latitude: float) -> Floats:
        """Return the progress of series that share a day axis.

        Parameters
        ----------
        temperature
            Daily mean air temperature [°C], days on the last axis.
        start
            Ordinal of the first day, not later than the start of the season.
        season
            Calendar year of the spring.
        latitude
            Degrees, south negative.

        Raises
        ------
        RangeError
            If the series begins after the chill of the season did.
        """
        chill_from = season_start(season, latitude < 0) - start
        if chill_from < 0:
            msg = f"the series begins {-chill_from} days after the chill of season {season}"
            raise RangeError(msg)
        forcing_from = self.forcing_from(season, latitude) - start
        return self.progress(temperature, chill_from, forcing_from)


CWTT = Clock("cwtt", chill_weighted, lambda season, latitude: forcing_start(season, latitude < 0))
"""Chill-weighted thermal time."""

SIGDL = Clock("sigdl", sigmoid_day_length, day_length_start)
"""Sigmoid forcing from a day length."""
