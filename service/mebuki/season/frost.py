"""Coming nights at a place: how cold air and leaves get, and what kind of frost it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.outlook import Night
from mebuki.domain.site import Place, Site
from mebuki.domain.weather import Floats, HourlySeries, hour_moment
from mebuki.season.decision import SPREAD_BY_LEAD, spread_at
from mebuki.season.evaporation import wind_at_two_metres
from mebuki.season.humidity import saturation_vapour_pressure
from mebuki.season.local_time import local_hour
from mebuki.season.parameters import ClearNights
from mebuki.season.radiation import CLOUD_WEIGHT, sun_hours

NIGHTS = 10
"""How many nights ahead are worked out."""

NIGHT_BEGINS, NIGHT_ENDS = 16, 10
"""Local hours between which a night's minimum is sought."""

CORE_BEGINS, CORE_ENDS = 22, 8
"""Local hours of the core of a night, in which few hours may be missing."""

MISSING_ALLOWED = 2
"""Missing core hours with which a night is still judged (default)."""

HELD_SPREAD = 0.5
"""Spread [°C] of a minimum that a heater or building holds (default)."""

SHIPPED = ClearNights()
"""The figures as they are shipped; the wind is the limit of the FAO's two-step formula."""

LEAF_WIDTH = 0.05
"""Width of a leaf [m] for the depression below air temperature (default)."""

DRYNESS = 2.0
"""How far the dew point is taken below the air where it is unknown [K] (FAO-56, annex 6)."""

NEAR_NIGHTS = 2
"""Leads [d] up to which a night without weather is named."""

_EMISSIVITY, _STEFAN_BOLTZMANN = 0.97, 5.67e-8
_LEAST_LEAF_WIND = 0.15


def leaf_depression(
    air_temperature: ArrayLike,
    vapour_pressure: ArrayLike,
    wind: ArrayLike,
    cloud: ArrayLike,
    sky_share: float = 1.0,
    leaf_width: float = LEAF_WIDTH,
) -> Floats:
    """Return how far a leaf that faces the night sky is below the air [K].

    The long-wave loss to the sky against the heat that still or moving air brings
    to both sides of the leaf.

    Parameters
    ----------
    air_temperature
        [°C], −30 to 30.
    vapour_pressure
        [kPa].
    wind
        At the leaf [m s-1]; held at or above 0.15.
    cloud
        [0..1].
    sky_share
        Share [0..1] of the sky that the leaf sees.
    leaf_width
        [m].

    Notes
    -----
    For nights only. Gives the 1 to 3 K measured by Leuning and Cremer (1988) under
    clear, calm skies; dew and rime, which slow the cooling, are left out.

    References
    ----------
    Brunt's sky emissivity and the boundary-layer conductance of Campbell and
    Norman (1998), both from memory; Leuning and Cremer (1988) for the range.
    """
    kelvin = np.asarray(air_temperature, np.float64) + 273.15
    hectopascal = 10 * np.asarray(vapour_pressure, np.float64)
    sky = np.minimum(0.52 + 0.065 * np.sqrt(hectopascal), 1)
    radiant = _EMISSIVITY * _STEFAN_BOLTZMANN * kelvin**3
    open_sky = (1 - CLOUD_WEIGHT * np.asarray(cloud, np.float64)) * sky_share
    moving = np.maximum(np.asarray(wind, np.float64), _LEAST_LEAF_WIND)
    conductance = 1.4 * 0.135 * np.sqrt(moving / (0.72 * leaf_width))
    loss = radiant * kelvin * (1 - sky) * open_sky
    return np.asarray(loss / (2 * conductance * 29.3 + 8 * radiant))


def frost_type(wind: float, cloud: float, rain: float, figures: ClearNights = SHIPPED) -> str:
    """Return ``radiation`` or ``advective`` for a night.

    Parameters
    ----------
    wind
        Mean of the night at 2 m in the open [m s-1].
    cloud
        Mean [0..1]; unknown (NaN) counts as clear.
    rain
        Sum of the night [mm]; unknown counts as none.
    figures
        The limits of wind and cloud of the practice file.

    References
    ----------
    Snyder and de Melo-Abreu (2005), Frost Protection, FAO, for the two kinds and
    the wind limit; the cloud limit is a design default.
    """
    calm = wind < figures.wind
    clear = np.isnan(cloud) or cloud < figures.cloud
    dry = np.isnan(rain) or rain < 0.1
    return "radiation" if calm and clear and dry else "advective"


@dataclass(frozen=True, slots=True)
class ComingNights:
    """The nights that can be seen, and plain sentences on those that cannot."""

    nights: tuple[Night, ...]
    remarks: tuple[str, ...]


def coming_nights(
    here: HourlySeries,
    site: Site,
    place: Place,
    on: date,
    spread_by_lead: Sequence[float] = SPREAD_BY_LEAD,
    figures: ClearNights = SHIPPED,
) -> ComingNights:
    """Return up to ten nights at a place, the one that begins today first.

    A night runs from 16 h to 10 h local time. One with more than two missing
    hours between 22 h and 8 h is left out and named in a remark, so that unknown
    never looks safe; nights wholly beyond the forecast are simply not there.

    Parameters
    ----------
    here
        Weather at the place (see `places.at_place`).
    site
        For its time zone and the sun.
    place
        For its open sky, its wind share and a minimum held.
    on
        The local day of the round.
    spread_by_lead
        Standard deviation [°C] of the forecast minimum at leads of 1, 2, ... days.
    figures
        What makes a night clear and calm, by the practice file.

    Notes
    -----
    The leaf follows `leaf_depression` while the sun is down. Unknown cloud counts
    as clear, unknown wind as calm, unknown dew point as 2 K below the air.
    """
    leaf = leaf_temperature(here, site, place)
    nights: list[Night] = []
    remarks: list[str] = []
    for lead in range(NIGHTS):
        window = _window(here, on + timedelta(days=lead), site)
        if window.missing <= MISSING_ALLOWED:
            spread = _spread(
                here.air_temperature[window.span], place, spread_at(lead, spread_by_lead)
            )
            ahead = _Ahead(lead, spread, figures)
            nights.append(_night(here, leaf, window, place, ahead))
        elif window.begun or lead <= NEAR_NIGHTS:
            remarks.append(_remark(window, place))
    return ComingNights(tuple(nights), tuple(remarks))


@dataclass(frozen=True, slots=True)
class _Window:
    """A night as a stretch of a series: its hour numbers, its slices, its missing core hours."""

    evening: date
    first: int
    last: int
    span: slice
    core: slice
    missing: int
    begun: bool


def _window(here: HourlySeries, evening: date, site: Site) -> _Window:
    morning = evening + timedelta(days=1)
    first = local_hour(evening, NIGHT_BEGINS, site.zone)
    last = local_hour(morning, NIGHT_ENDS, site.zone)
    dark = local_hour(evening, CORE_BEGINS, site.zone)
    light = local_hour(morning, CORE_ENDS, site.zone)
    core = _cut(here, dark, light)
    known = int(np.isfinite(here.air_temperature[core]).sum())
    return _Window(
        evening=evening,
        first=first,
        last=last,
        span=_cut(here, first, last),
        core=core,
        missing=light - dark + 1 - known,
        begun=core.start < core.stop and light < here.end,
    )


def _cut(here: HourlySeries, first: int, last: int) -> slice:
    size = len(here.origin)
    low = min(max(first - here.start, 0), size)
    return slice(low, min(max(last + 1 - here.start, low), size))


@dataclass(frozen=True, slots=True)
class _Ahead:
    """How far ahead a night is, the spread of its minimum, and what makes it clear."""

    lead: int
    spread: float
    figures: ClearNights


def _night(here: HourlySeries, leaf: Floats, window: _Window, place: Place, ahead: _Ahead) -> Night:
    air = here.air_temperature[window.span]
    coldest = int(np.nanargmin(air))
    wind = _mean(here.wind_speed[window.core]) / (place.wind_share or 1.0)
    return Night(
        evening=window.evening,
        begins=hour_moment(window.first),
        ends=hour_moment(window.last),
        air_minimum=float(air[coldest]),
        leaf_minimum=float(np.nanmin(leaf[window.span])),
        spread=ahead.spread,
        minimum_at=hour_moment(here.start + window.span.start + coldest),
        frost_type=frost_type(
            float(wind_at_two_metres(wind)),
            _mean(here.cloud_cover[window.core]),
            float(np.nansum(here.precipitation[window.core])),
            ahead.figures,
        ),
        lead_days=ahead.lead,
        leaf_hours=tuple(leaf[window.span].tolist()),
    )


def _spread(air: Floats, place: Place, spread: float) -> float:
    if place.minimum_held is not None and np.nanmin(air) <= place.minimum_held:
        return min(HELD_SPREAD, spread)
    return spread


def _mean(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")


def leaf_temperature(here: HourlySeries, site: Site, place: Place) -> Floats:
    """Return the temperature of leaves at a place [°C], hour by hour.

    That of the air by day; at night `leaf_depression` below it. Unknown cloud counts
    as clear, unknown wind as calm, unknown dew point as 2 K below the air.

    References
    ----------
    As for `leaf_depression`.
    """
    air = here.air_temperature
    dew = np.where(np.isnan(here.dew_point), air - DRYNESS, here.dew_point)
    wind = np.where(np.isnan(here.wind_speed), 0.0, here.wind_speed)
    cloud = np.where(np.isnan(here.cloud_cover), 0.0, here.cloud_cover)
    depression = leaf_depression(
        air, saturation_vapour_pressure(dew), wind_at_two_metres(wind), cloud, place.sky_share
    )
    dark = ~sun_hours(here.hours, site.latitude, site.longitude).up
    return np.asarray(np.where(dark, air - depression, air))


def _remark(window: _Window, place: Place) -> str:
    return (
        f"The night of {window.evening.isoformat()} cannot be judged for {place.name}: "
        f"{window.missing} of its hours between {CORE_BEGINS} h and {CORE_ENDS} h are unknown."
    )
