"""Heat at the pot wall, dry air at the leaves, gusts, and frozen pots in wind.

References
----------
Witcher et al. (2020), Horticulturae 6:22, who count hours of roots above 38 and
46 °C; Martin, Ingram and Nell (1989) for 42 °C; Schymanski and Or (2016), by whom
wind may cool a sunlit leaf and spare water, so that wind is not counted again on
top of reference evaporation. Limits that are our own are marked so.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError
from mebuki.season.humidity import refuse_outside
from mebuki.season.parameters import HardDayLimits
from mebuki.season.runs import longest_run

SHIPPED = HardDayLimits()
"""The limits as they are shipped."""

SUNNY_SIDE = (3.0, 5.0)
"""How much warmer the sunlit side of a wall is than its mean [K] (default)."""

FULL_SUN = 800.0
"""Global radiation [W m-2] at which the sunlit side has all of that (default)."""

SCORCH_STRESS = 0.8
"""Stress coefficient below which dry air scorches leaves (default)."""

FRESH_DAYS = 30

GUST_FACTOR = (1.4, 2.0)
"""Gust over hourly mean wind where no gust is known: least and most (default)."""

FROZEN_SHARE, DRYING_WIND, DRYING_SUN = 0.8, 3.0, 200.0
"""Frozen share of a root-ball, and wind [m s-1] or sun [W m-2] that dry evergreens (default)."""

Flags = NDArray[np.bool_]


class WallHeat(IntEnum):
    """How hot a pot's wall gets."""

    NONE = 0
    WATCH = 1
    ACT = 2
    URGENT = 3


def sunny_wall(wall: ArrayLike, radiation: ArrayLike, *, most: bool = True) -> Floats:
    """Return the temperature of the sunlit side of pots [°C].

    Parameters
    ----------
    wall
        Mean temperature of the wall [°C].
    radiation
        Global radiation at the place [W m-2].
    most
        With the upper or the lower end of what the sunlit side adds.

    Notes
    -----
    3 to 5 K in full sun, in proportion below: a guess between measurements, so show
    both ends.

    References
    ----------
    Our own; styrene-lined pots were 7 to 8 K cooler at the west wall (Journal of
    Environmental Horticulture 14:184, 1996).
    """
    extra = SUNNY_SIDE[1 if most else 0]
    light = np.clip(np.asarray(radiation, np.float64) / FULL_SUN, 0, 1)
    return np.asarray(np.asarray(wall, np.float64) + extra * light)


def wall_heat(wall: ArrayLike, limits: HardDayLimits = SHIPPED) -> Ints:
    """Return the `WallHeat` of pots over a stretch of hours, from the wall [°C], hours last.

    Watch from 35 °C, act from 38 °C for two hours on end, urgent from 42 °C, all by
    ``limits``. An unknown hour counts as no heat; what is known decides.

    References
    ----------
    Witcher et al. (2020) and Martin, Ingram and Nell (1989) for the temperatures; the
    hours are our own.
    """
    heat = np.asarray(wall, np.float64)
    found = np.where((heat >= limits.watch).any(axis=-1), WallHeat.WATCH, WallHeat.NONE)
    lasting = longest_run(heat >= limits.act) >= limits.act_hours
    found = np.where(lasting, WallHeat.ACT, found)
    return np.asarray(np.where((heat >= limits.urgent).any(axis=-1), WallHeat.URGENT, found))


@dataclass(frozen=True, slots=True, eq=False)
class DryAir:
    """Hours that matter for scorch; shapes (hours,) or (trees, hours).

    Parameters
    ----------
    deficit
        Vapour pressure deficit [kPa].
    wind
        At 2 m [m s-1].
    stress
        Water stress coefficient Ks [0..1]; 1 where it is not known.
    """

    deficit: ArrayLike
    wind: ArrayLike
    stress: ArrayLike = 1.0


def scorches(air: DryAir, leaf_age_days: ArrayLike, limits: HardDayLimits = SHIPPED) -> Flags:
    """Return whether leaves scorch in a stretch of hours.

    Four hours on end above 3 kPa (2.2 for leaves under 30 days) in which the wind is
    above 4 m s-1 or the tree short of water. Wind alone is no stress.

    Parameters
    ----------
    air
        See `DryAir`.
    leaf_age_days
        Days since the leaves unfolded, one a tree; NaN counts as old.
    limits
        The limits of the practice file.

    Raises
    ------
    RangeError
        If a deficit, wind or coefficient is impossible.

    References
    ----------
    Our own rule; canopy conductance follows the deficit across sites.
    """
    deficit, wind, stress = (
        np.asarray(value, np.float64) for value in (air.deficit, air.wind, air.stress)
    )
    refuse_outside(deficit, "vapour pressure deficit", 0, 15, "kPa")
    refuse_outside(wind, "wind", 0, 120, "m/s")
    refuse_outside(stress, "stress coefficient", 0, 1, "")
    age = np.asarray(leaf_age_days, np.float64)
    limit = np.where(age < FRESH_DAYS, limits.dry_air_fresh, limits.dry_air)
    worse = (wind > limits.dry_wind) | (stress < SCORCH_STRESS)
    dry = (deficit > limit[..., None]) & worse
    return np.asarray(longest_run(dry) >= limits.dry_hours)


def gust_range(wind: ArrayLike, gust: ArrayLike = np.nan) -> tuple[Floats, Floats]:
    """Return the least and the most a gust may be [m s-1].

    A known gust is both; without one, 1.4 to 2 times the hourly mean wind.

    References
    ----------
    Our own factors, for wind at 10 m in the open; gusts of thunderstorms exceed them.
    """
    mean, known = np.asarray(wind, np.float64), np.asarray(gust, np.float64)
    refuse_outside(mean, "wind", 0, 120, "m/s")
    refuse_outside(known, "gust", 0, 150, "m/s")
    low, high = (np.where(np.isnan(known), mean * factor, known) for factor in GUST_FACTOR)
    return np.asarray(low), np.asarray(high)


def frozen_and_drying(
    frozen_share: ArrayLike, air: ArrayLike, wind: ArrayLike, radiation: ArrayLike
) -> Ints:
    """Return the hours in which evergreens lose water that frozen roots cannot replace.

    The root-ball is more than 0.8 frozen, the air above 0 °C, and it is windy or
    sunny. The last axis is hours; an unknown value counts as not so.

    Parameters
    ----------
    frozen_share
        [0..1].
    air
        [°C].
    wind
        At 2 m [m s-1].
    radiation
        Global radiation [W m-2].

    Raises
    ------
    RangeError
        If the shares are outside 0 to 1 or the shapes do not fit.

    References
    ----------
    Our own limits; the mechanism is that of winter desiccation in extension texts.
    """
    frozen = np.asarray(frozen_share, np.float64)
    refuse_outside(frozen, "frozen share", 0, 1, "")
    warm = np.asarray(air, np.float64) > 0
    moved = np.asarray(wind, np.float64) >= DRYING_WIND
    lit = np.asarray(radiation, np.float64) >= DRYING_SUN
    try:
        drying = (frozen > FROZEN_SHARE) & warm & (moved | lit)
    except ValueError as error:
        msg = "frozen share, air, wind and radiation must have the same hours"
        raise RangeError(msg) from error
    return np.asarray(drying.sum(axis=-1))
