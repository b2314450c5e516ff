"""How long a night's frost lies on buds and leaves, and how much of them it kills."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError
from mebuki.season.frost_thresholds import CriticalTemperature, killed_share
from mebuki.season.runs import hours_below

EXPOSURE = 0.5
"""Hours of exposure that the published critical temperatures mean."""

LONG = 2.0
"""Hours below the temperature of first damage from which harm counts a class more (default)."""

_HALVINGS = 30


class BudHarm(IntEnum):
    """What a night does to buds, flowers or young leaves."""

    NONE = 0
    SOME = 1
    MANY = 2
    MOST = 3


@dataclass(frozen=True, slots=True, eq=False)
class FrostHours:
    """A night's frost on buds, one value a tree or a member.

    Parameters
    ----------
    coldest_half_hour
        Temperature [°C] that is undercut for half an hour in all.
    hours_first_damage, hours_heavy_damage
        Hours below the temperatures that kill 10 % and 90 % in half an hour.
    killed
        Share [0..1] of buds killed by the coldest half hour.
    """

    coldest_half_hour: Floats
    hours_first_damage: Floats
    hours_heavy_damage: Floats
    killed: Floats

    @property
    def severity(self) -> Ints:
        """The `BudHarm` of the night; unknown nights are none, so test `killed` for NaN.

        Some from half an hour at first damage, many from half of the buds or two hours
        at first damage, most from half an hour at heavy damage.
        """
        found = np.where(self.hours_first_damage >= EXPOSURE, BudHarm.SOME, BudHarm.NONE)
        many = (self.killed >= 0.5) | (self.hours_first_damage >= LONG)
        found = np.where(many, BudHarm.MANY, found)
        return np.asarray(np.where(self.hours_heavy_damage >= EXPOSURE, BudHarm.MOST, found))


def frost_hours(leaf: ArrayLike, critical: CriticalTemperature) -> FrostHours:
    """Return how long and how hard a stretch of hours freezes buds or leaves.

    Parameters
    ----------
    leaf
        Temperature of the tissue at full hours [°C], hours last, two or more.
    critical
        Of the stage.

    Raises
    ------
    RangeError
        If there are fewer than two hours.

    Notes
    -----
    The published temperatures hold for half an hour. Longer frost kills more, by how
    much is not published: the two hours of `LONG` are our own.

    References
    ----------
    The critical temperatures' own source; severity classes are our own.
    """
    values = np.asarray(leaf, np.float64)
    if values.shape[-1] < 2:
        msg = f"{values.shape[-1]} hours: frost needs two full hours or more"
        raise RangeError(msg)
    half = coldest_half_hour(values)
    return FrostHours(
        coldest_half_hour=half,
        hours_first_damage=hours_below(values, critical.ten_percent),
        hours_heavy_damage=hours_below(values, critical.ninety_percent),
        killed=np.where(half > 0, 0.0, killed_share(half, critical)),
    )


def coldest_half_hour(leaf: Floats) -> Floats:
    """Return the temperature [°C] that a stretch undercuts for half an hour in all.

    Found by halving between the coldest and the warmest hour; NaN where unknown.
    """
    low, high = leaf.min(axis=-1), leaf.max(axis=-1)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        long = hours_below(leaf, middle) >= EXPOSURE
        low, high = np.where(long, low, middle), np.where(long, middle, high)
    return np.asarray(np.where(np.isnan(leaf).any(axis=-1), np.nan, high))
