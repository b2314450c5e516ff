"""Further published clocks of bud break that a taxon file may name, shown beside the default.

Each gives a margin: the heat counted so far less the heat that is needed by
then. The margin never falls, and the event is the first day at whose end it
is zero or more. The parameters are those of `mebuki.domain.taxon.CLOCK_PARAMETERS`;
a ``start_day`` is a day of the northern year, moved by 182 days in the south.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

import numpy as np

from mebuki.domain.outlook import LEVELS
from mebuki.domain.taxon import AlternativeClock, Phenology
from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.bud_break import check_latitude
from mebuki.season.crossing import event_moments
from mebuki.season.members import Members
from mebuki.season.quantiles import smooth_quantiles
from mebuki.season.seasons import days_of_year, season_start
from mebuki.season.sun import day_length

SOUTH_SHIFT = 182
"""Days by which the fixed dates of a northern model move in the southern hemisphere."""

MENZEL_START = 32
"""Day of the year (1 February) from which Menzel's models count heat."""


class Setting(NamedTuple):
    """Where and when a series lies: the ordinal of its first day, season, latitude [°]."""

    start: int
    season: int
    latitude: float

    def offset(self, start_day: float) -> int:
        """Return the position of a day of the northern year on the day axis."""
        shift = SOUTH_SHIFT if self.latitude < 0 else 0
        return date(self.season, 1, 1).toordinal() - 1 + round(start_day) + shift - self.start

    def chill_from(self) -> int:
        """Return the position of 1 November (1 May) on the day axis.

        Raises
        ------
        RangeError
            If the series begins after that day.
        """
        first = season_start(self.season, self.latitude < 0) - self.start
        if first < 0:
            msg = f"the series begins {-first} days after the chill of season {self.season}"
            raise RangeError(msg)
        return first


def menzel(temperature: Floats, where: Setting, parameters: Mapping[str, float]) -> Floats:
    """Return the margin of Menzel's model.

    Heat is the sum of T − ``base`` on days above it from 1 February; needed is
    ``a`` + ``b`` ln(CD), with CD the days at or below ``chill_below`` since
    1 November (``a`` alone while there is none).

    Parameters
    ----------
    temperature
        Daily mean air temperature [°C], days on the last axis.
    where
        First day, season and latitude.
    parameters
        ``base``, ``chill_below`` [°C], ``a``, ``b`` [°C d].

    Returns
    -------
    Floats
        Margin [°C d]; −inf before 1 February.

    Notes
    -----
    Fitted to Central European winters. Beyond about 150 chill days small
    errors of the count move the date far, and the need reaches zero at 250 to
    520: elsewhere chill-weighted thermal time is safer.

    References
    ----------
    Menzel (1997), Phänologie von Waldbäumen unter sich ändernden
    Klimabedingungen, Forstliche Forschungsberichte München 164.
    """
    days = _chill_days(temperature, where, parameters["chill_below"])
    with np.errstate(divide="ignore", invalid="ignore"):
        need = parameters["a"] + np.where(days > 0, parameters["b"] * np.log(days), 0.0)
    return _margin(temperature - parameters["base"], need, where.offset(MENZEL_START))


def alternating(temperature: Floats, where: Setting, parameters: Mapping[str, float]) -> Floats:
    """Return the margin of the alternating model.

    Heat is the sum of max(T − ``base``, 0) from ``start_day``; needed is
    ``a`` + ``b`` exp(``r`` CD), with CD the days at or below ``chill_below``
    since 1 November, which go on counting until the event.

    Parameters are those of `menzel`, with ``r`` [1/d] below zero.

    References
    ----------
    Cannell and Smith (1983, Journal of Applied Ecology 20, 951-963); Murray,
    Cannell and Smith (1989, Journal of Applied Ecology 26, 693-700).
    """
    days = _chill_days(temperature, where, parameters["chill_below"])
    need = parameters["a"] + parameters["b"] * np.exp(parameters["r"] * days)
    return _margin(temperature - parameters["base"], need, where.offset(parameters["start_day"]))


def thermal_time(temperature: Floats, where: Setting, parameters: Mapping[str, float]) -> Floats:
    """Return the margin of plain thermal time.

    Heat is the sum of max(T − ``base``, 0) from ``start_day``; needed is
    ``requirement`` [°C d]. Parameters are those of `menzel`.

    References
    ----------
    Hunter and Lechowicz (1992, Journal of Applied Ecology 29, 597-604).
    """
    need = np.full_like(temperature, parameters["requirement"])
    return _margin(temperature - parameters["base"], need, where.offset(parameters["start_day"]))


def photothermal(temperature: Floats, where: Setting, parameters: Mapping[str, float]) -> Floats:
    """Return the margin of thermal time weighted by day length.

    Heat is the sum of (DL / 10)^``exponent`` max(T − ``base``, 0) from
    ``start_day``, with DL the day length [h]; needed is ``requirement``.
    Parameters are those of `menzel`.

    References
    ----------
    Blümel and Chmielewski (2012, Agricultural and Forest Meteorology 164,
    10-19), model M1; with exponent 1 the photothermal time of Masle et al.
    (1989, Plant, Cell and Environment 12, 235-247) but for a constant factor.
    """
    days = where.start + np.arange(temperature.shape[-1], dtype=np.int64)
    hours = np.asarray(day_length(where.latitude, days_of_year(days)))
    weight = (hours / 10.0) ** parameters["exponent"]
    need = np.full_like(temperature, parameters["requirement"])
    heat = weight * (temperature - parameters["base"])
    return _margin(heat, need, where.offset(parameters["start_day"]))


MODELS = {
    "menzel": menzel,
    "alternating": alternating,
    "thermal-time": thermal_time,
    "photothermal": photothermal,
}


def _chill_days(temperature: Floats, where: Setting, below: float) -> Floats:
    cold = (temperature <= below) + 0.0 * temperature
    cold[..., : where.chill_from()] = 0.0
    return np.cumsum(cold, axis=-1)


def _margin(warmth: Floats, need: Floats, first: int) -> Floats:
    """Return the sum of warmth above zero from a position on, less the need; −inf before it."""
    heat = np.maximum(warmth, 0.0)
    heat[..., : max(first, 0)] = 0.0
    margin: Floats = np.cumsum(heat, axis=-1) - need
    margin[..., : max(first, 0)] = -np.inf
    return margin


def bud_break_margin(clock: AlternativeClock, temperature: Floats, where: Setting) -> Floats:
    """Return the margin of a clock that a taxon file names.

    Raises
    ------
    RangeError
        If the latitude is not within −90..90, or the series begins too late
        for the chill that the model counts.
    """
    check_latitude(where.latitude)
    return MODELS[clock.model](temperature, where, clock.parameters)


def alternative_dates(
    phenology: Phenology, members: Members, season: int, latitude: float
) -> tuple[tuple[str, date | None], ...]:
    """Return the median day of bud break by each further clock a taxon file names.

    They are shown beside the default so that a person sees how far published
    models disagree; the default date does not use them.

    Parameters
    ----------
    phenology
        The clocks of the taxon.
    members
        Whole-season series.
    season
        Calendar year of the spring.
    latitude
        Degrees, south negative.

    Returns
    -------
    tuple
        Model and median day over the members, in the order of the file; none
        where half of the members do not reach it.
    """
    where = Setting(members.start, season, latitude)
    middle = [LEVELS[len(LEVELS) // 2] / 100]
    found: list[tuple[str, date | None]] = []
    for clock in phenology.alternatives:
        moments = event_moments(bud_break_margin(clock, members.mean, where), [0.0])[:, 0]
        (median,) = smooth_quantiles(moments, np.ones(len(moments)), middle)
        day = members.start + int(np.ceil(median)) if np.isfinite(median) else None
        found.append((clock.model, None if day is None else date.fromordinal(day)))
    return tuple(found)
