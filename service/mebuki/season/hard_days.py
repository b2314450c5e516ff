"""Today and the next days at the pots of one place: heat, dry air, gusts, wind on frozen roots.

The limits and their sources are those of `mebuki.season.heat_wind`; here they are
counted over local days, for all trees of a place at once.

References
----------
As for `mebuki.season.heat_wind`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from mebuki.domain.exposure import HardDay
from mebuki.domain.outlook import WaterDay
from mebuki.domain.site import Site
from mebuki.domain.weather import Floats, HourlySeries, hour_moment, hour_number
from mebuki.season.evaporation import wind_at_two_metres
from mebuki.season.heat_wind import (
    SCORCH_STRESS,
    SHIPPED,
    DryAir,
    frozen_and_drying,
    gust_range,
    scorches,
    sunny_wall,
    wall_heat,
)
from mebuki.season.humidity import saturation_vapour_pressure, vapour_pressure_deficit
from mebuki.season.local_time import local_hour
from mebuki.season.parameters import HardDayLimits
from mebuki.season.root_temperature import RootBallTemperatures

HARD_DAYS = 4
"""Today and the next three days."""

LEAST_HOURS = 20
"""Known hours of air from which a day is judged (default)."""

SHORT_OF_WATER = SCORCH_STRESS / 2
"""Stress coefficient taken for the hours after a pot's easy water is used up (default)."""


@dataclass(frozen=True, slots=True)
class Leafed:
    """What of each tree matters for a hard day, one value a tree.

    Parameters
    ----------
    unfolded
        The likely day of unfolded leaves, or none.
    water
        The days of water, as far as they can be seen.
    deciduous
        Whether the tree is bare until that day.
    """

    unfolded: tuple[date | None, ...]
    water: tuple[tuple[WaterDay, ...], ...]
    deciduous: tuple[bool, ...]


def hard_days(
    here: HourlySeries,
    site: Site,
    balls: RootBallTemperatures,
    trees: Leafed,
    on: date,
    limits: HardDayLimits = SHIPPED,
) -> tuple[tuple[HardDay, ...], ...]:
    """Return the heat, dryness and wind of today and three more days, a tuple for each tree.

    A day with fewer than 20 known hours of air is left out.

    Parameters
    ----------
    here
        Weather at the place, with radiation.
    site
        For its local days.
    balls
        Root-balls of the trees at the place.
    trees
        See `Leafed`; in the order of the root-balls.
    on
        The local day of the round.
    limits
        The limits of the practice file.

    Notes
    -----
    The limits of wind and gusts hold for the wind that reaches the place.
    """
    found: list[list[HardDay]] = [[] for _ in trees.unfolded]
    for lead in range(HARD_DAYS):
        day = on + timedelta(days=lead)
        hours = _Hours.of(here, balls, (day, site), limits)
        if int(np.isfinite(hours.here.air_temperature).sum()) < LEAST_HOURS:
            continue
        for index, told in enumerate(hours.judged(trees, day, lead)):
            found[index].append(told)
    return tuple(tuple(days) for days in found)


@dataclass(frozen=True, slots=True, eq=False)
class _Hours:
    """One local day: the weather at the place, walls [°C] and frozen shares of its pots."""

    here: HourlySeries
    wall: Floats
    frozen: Floats
    limits: HardDayLimits

    @classmethod
    def of(
        cls,
        here: HourlySeries,
        balls: RootBallTemperatures,
        when: tuple[date, Site],
        limits: HardDayLimits,
    ) -> _Hours:
        day, site = when
        first = local_hour(day, 0, site.zone)
        stop = local_hour(day + timedelta(days=1), 0, site.zone)
        near = here.between(max(first, balls.start), min(stop, balls.start + balls.wall.shape[1]))
        part = slice(near.start - balls.start, near.start - balls.start + len(near.origin))
        return cls(near, balls.wall[:, part], balls.frozen_share[:, part], limits)

    def judged(self, trees: Leafed, day: date, lead: int) -> tuple[HardDay, ...]:
        here = self.here
        sun = np.nan_to_num(here.global_radiation)
        hot, least_hot = (
            np.nan_to_num(sunny_wall(self.wall, sun, most=most), nan=-99.0)
            for most in (True, False)
        )
        wind = wind_at_two_metres(np.nan_to_num(here.wind_speed))
        deficit = _deficit(here)
        air = DryAir(deficit, wind, self._stress(trees, day))
        dry = scorches(air, _ages(trees, day), self.limits)
        drying = frozen_and_drying(np.nan_to_num(self.frozen), here.air_temperature, wind, sun)
        least, most = gust_range(np.nan_to_num(here.wind_speed))
        gust_at = hour_moment(here.start + int(most.argmax()))
        heat = wall_heat(hot, self.limits)
        return tuple(
            HardDay(
                day=day,
                wall_warmest=float(hot[tree].max()),
                heat=int(heat[tree]),
                hours_hot=int((hot[tree] >= self.limits.act).sum()),
                deficit=float(deficit.max()),
                scorches=bool(dry[tree]) and not _bare(trees, tree, day),
                gust_least=float(least.max()),
                gust_most=float(most.max()),
                drying_hours=int(drying[tree]),
                lead_days=lead,
                wall_least=float(least_hot[tree].max()),
                hottest_at=hour_moment(here.start + int(hot[tree].argmax())),
                gust_at=gust_at,
            )
            for tree in range(len(trees.unfolded))
        )

    def _stress(self, trees: Leafed, day: date) -> Floats:
        """Return 1 while a pot has easy water on a day, and less once it is used up."""
        stress = np.ones((len(trees.water), len(self.here.origin)))
        for tree, days in enumerate(trees.water):
            dry = next((water.dry_at for water in days if water.day == day), None)
            if dry is not None:
                stress[tree, max(hour_number(dry) - self.here.start, 0) :] = SHORT_OF_WATER
        return stress


def _deficit(here: HourlySeries) -> Floats:
    """Return the vapour pressure deficit [kPa]; 0 where air or dew point is unknown."""
    actual = saturation_vapour_pressure(here.dew_point)
    return np.nan_to_num(vapour_pressure_deficit(here.air_temperature, actual))


def _bare(trees: Leafed, tree: int, day: date) -> bool:
    opened = trees.unfolded[tree]
    return trees.deciduous[tree] and opened is not None and day < opened


def _ages(trees: Leafed, day: date) -> Floats:
    """Return the days since the leaves unfolded; NaN where that is not foreseen or still ahead."""
    ages = [np.nan if opened is None else float((day - opened).days) for opened in trees.unfolded]
    found = np.array(ages)
    return np.where(found < 0, np.nan, found)
