"""Water in pots: two areas that use it, rain under a crown, stress, and time to dry.

Millimetres times square metres are litres. All pots of a place are stepped
together; the only loop is over the hours.

References
----------
Allen et al. (1998), FAO-56, chapters 7 and 8, for the coefficients and the stress
coefficient; Beeson (2010, 2012) and Million and Yeager (2015) for trees in
containers. Defaults that are our own are marked so.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.weather import Floats, HourlySeries, Ints, Origin
from mebuki.season.local_time import bridged
from mebuki.season.parameters import PotWater
from mebuki.season.pot_store import READY_SHARE, SHIPPED, Pots

TOP_UNDER_TWIGS = 0.5
"""Evaporation of the pot's top over reference under bare twigs (default)."""

FULL_LEAF, NO_LEAF = 0.9, 0.15
"""Basal coefficients between which twigs become leaves."""

SURFACE_DRIES = 0.4
"""Share of all available water gone when the top begins to dry (default)."""

LEAF_AREA = 3.0
"""Leaf area index of a full crown, for the rain it holds back (default)."""


def stress_coefficient(
    depletion: ArrayLike, total: ArrayLike, ready_share: ArrayLike = READY_SHARE
) -> Floats:
    """Return the water stress coefficient Ks [0..1].

    Parameters
    ----------
    depletion, total
        Water used and all available water, in one unit (mm or L).
    ready_share
        Share of the total that can be used without stress (p).

    References
    ----------
    FAO-56 eq. 84.
    """
    left = np.asarray(total, np.float64) - np.asarray(depletion, np.float64)
    return np.asarray(np.clip(left * _stress_slope(total, ready_share), 0, 1))


def _stress_slope(total: ArrayLike, ready_share: ArrayLike) -> Floats:
    """Return by how much Ks rises with each unit of water left, 1/((1 − p) TAW)."""
    return np.asarray(1 / ((1 - np.asarray(ready_share)) * np.asarray(total, np.float64)))


def adjusted_ready_share(table: ArrayLike, crop_evaporation: ArrayLike) -> Floats:
    """Return the share p of table 22 adjusted to the evaporation of the day [mm d-1].

    References
    ----------
    FAO-56, note to table 22: p + 0.04 (5 − ETc), within 0.1 to 0.8.
    """
    share = np.asarray(table, np.float64) + 0.04 * (5 - np.asarray(crop_evaporation, np.float64))
    return np.asarray(np.clip(share, 0.1, 0.8))


def top_coefficient(basal: Floats, pots: Pots) -> Floats:
    """Return the evaporation coefficient Ke of the pots' tops; ``basal`` has a row a pot."""
    leafy = np.clip((basal - NO_LEAF) / (FULL_LEAF - NO_LEAF), 0, 1)
    figures = pots.figures
    covered = TOP_UNDER_TWIGS + (figures.under_canopy - TOP_UNDER_TWIGS) * leafy
    cover = np.minimum(pots.canopy_area / pots.top_area, 1)[:, None]
    return np.asarray(cover * covered + (1 - cover) * figures.bare_top)


def daily_use(
    reference: ArrayLike, basal: ArrayLike, top: ArrayLike, areas: tuple[ArrayLike, ArrayLike]
) -> Floats:
    """Return the use of pots without stress [L]: ETo (Kcb Ac + Ke Ap).

    Parameters
    ----------
    reference
        Reference evaporation [mm].
    basal, top
        Kcb of the crown and Ke of the pot's top.
    areas
        Crown and top [m2].
    """
    crown, mouth = (np.asarray(area, np.float64) for area in areas)
    weighted = np.asarray(basal) * crown + np.asarray(top) * mouth
    return np.asarray(np.asarray(reference, np.float64) * weighted)


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What drives pots hour by hour.

    Parameters
    ----------
    evaporation, rain
        Reference evaporation, and rain counted [mm], shape (hours,) for pots that
        share them, (pots, hours) for pots at several places.
    basal
        Basal coefficient, shape (pots, hours).
    liquid
        Share [0..1] of the root-ball that is not frozen, shape (pots, hours).
    filled
        Whether a pot is full at the end of the hour, shape (pots, hours).
    """

    evaporation: Floats
    rain: Floats
    basal: Floats
    liquid: Floats
    filled: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class WaterTrace:
    """Water of pots hour by hour [L], shape (pots, hours).

    ``demand`` is the use without stress; left(t) = left(t−1) + entered − drained −
    use + poured.
    """

    demand: Floats
    use: Floats
    entered: Floats
    drained: Floats
    poured: Floats
    left: Floats


def water_trace(pots: Pots, course: Course) -> WaterTrace:
    """Return the balance of pots that are full at the start.

    Use = ETo (Kcb Ks Ac + Ke Kr Ap), never more than there is. Rain enters after
    the leaves have held back their share; what a full pot cannot take drains. An
    unknown hour makes a pot unknown until it is filled.
    """
    hours, count = course.basal.shape[1], course.basal.shape[0]
    # hours first, so that an hour lies together in memory
    trace = WaterTrace(*(np.zeros((hours, count)).T for _ in range(6)))
    demand, use, entered, drained, poured, left = (
        getattr(trace, each.name).T for each in fields(trace)
    )
    total, evaporation, rain = pots.total_water, course.evaporation.T, course.rain.T
    crown, mouth = _unstressed(pots, course)
    np.add(crown, mouth, out=demand)
    leafy = np.clip((course.basal - NO_LEAF) / (FULL_LEAF - NO_LEAF), 0, 1)
    figures = pots.figures
    store, filled = (figures.interception * LEAF_AREA * leafy).T, course.filled.T
    caught = figures.capture_factor * pots.top_area
    slow, dries = _stress_slope(total, READY_SHARE), _stress_slope(total, SURFACE_DRIES)
    here, wet = total, np.zeros(count)
    for hour in range(hours):
        through = np.maximum(rain[hour] - np.maximum(store[hour] - wet, 0), 0)
        wet = np.maximum(wet + rain[hour] - through - evaporation[hour], 0)
        enters = np.multiply(through, caught, out=entered[hour])
        # what `stress_coefficient` gives for crown and top; what is left is never below 0
        stressed = crown[hour] * np.minimum(here * slow, 1) + mouth[hour] * np.minimum(
            here * dries, 1
        )
        there = here + enters
        goes = np.minimum(stressed, there, out=use[hour])
        there = there - goes
        spills = np.maximum(there - total, 0, out=drained[hour])
        there = there - spills
        full = filled[hour]
        poured[hour] = np.where(full, total - there, 0)
        here = left[hour] = np.where(full, total, there)
        wet = np.where(np.isnan(wet), 0, wet)
    return trace


def _unstressed(pots: Pots, course: Course) -> tuple[Floats, Floats]:
    """Return what crown and top would use without stress [L], shape (hours, pots)."""
    flow = course.evaporation * course.liquid
    crown = flow * course.basal * pots.canopy_area[:, None]
    mouth = flow * top_coefficient(course.basal, pots) * pots.top_area[:, None]
    return crown.T.copy(), mouth.T.copy()


def counted_rain(here: HourlySeries, days: Ints, figures: PotWater = SHIPPED) -> Floats:
    """Return the rain that counts for watering [mm]: measured whole, forecast half.

    Forecast days with less than 2 mm count as dry; both numbers by ``figures``. Unknown
    rain counts as none, which can only bring the reminder forward. Snow does not count.
    """
    fallen = bridged(here.precipitation) - np.nan_to_num(bridged(here.snowfall))
    fallen = np.maximum(np.nan_to_num(fallen), 0)
    measured = here.origin == Origin.MEASURED
    slot = days - days[0]
    sums = np.bincount(slot, weights=np.where(measured, 0, fallen))
    ahead = np.where(sums[slot] >= figures.rain_minimum_mm, fallen * figures.forecast_rain_share, 0)
    return np.asarray(np.where(measured, fallen, ahead))
