"""What a day does to a tree in its pot, and which places would keep it from harm: values only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class HardDay:
    """One day's heat at the pot's wall, dryness at the leaves, gusts, and wind on frozen roots.

    Parameters
    ----------
    wall_warmest
        Of the sunlit side of the wall, upper estimate [°C].
    heat
        0 none, 1 watch, 2 act, 3 urgent; see `mebuki.season.heat_wind.WallHeat`.
    hours_hot
        Hours in which the wall is at 38 °C or more.
    deficit
        Highest vapour pressure deficit [kPa].
    scorches
        Whether leaves scorch.
    gust_least, gust_most
        Strongest gust, from the hourly mean wind if no gust is known [m s-1].
    drying_hours
        Hours in which an evergreen loses water that a frozen root ball cannot give.
    lead_days
        Whole days from the round: 0 is today.
    wall_least
        Of the sunlit side of the wall, lower estimate [°C]; none where it is not told.
    hottest_at, gust_at
        When the wall is warmest and the gusts are strongest (UTC); none where it is not told.
    """

    day: date
    wall_warmest: float
    heat: int
    hours_hot: int
    deficit: float
    scorches: bool
    gust_least: float
    gust_most: float
    drying_hours: int
    lead_days: int
    wall_least: float | None = None
    hottest_at: datetime | None = None
    gust_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Refuge:
    """A closed place of the garden and what it keeps out in the coming nights.

    Parameters
    ----------
    place
        Its name.
    lowest
        Lowest air temperature of the coming nights there [°C]; none where unknown.
    frost_chance
        The highest chance [0..1] of a night below 0 °C there, of the next four.
    held
        Air temperature [°C] that a heater or a building keeps, or none.
    """

    place: str
    lowest: float | None
    frost_chance: float
    held: float | None = None
