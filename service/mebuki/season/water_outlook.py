"""The water of the pots at a place, today and the next three days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta

import numpy as np

from mebuki.domain.outlook import WaterDay
from mebuki.domain.site import Site
from mebuki.domain.tree import Tree
from mebuki.domain.weather import Floats, HourlySeries, Ints, hour_moment
from mebuki.season.evaporation_hours import EvaporationHours, reference_evaporation_hours
from mebuki.season.local_time import local_clock, local_hour
from mebuki.season.pot_calibration import EasyWater
from mebuki.season.pot_store import RECORD_COUNTS, Leaves, Pots, basal_coefficient
from mebuki.season.pot_water import Course, WaterTrace, counted_rain, water_trace
from mebuki.season.radiation import Flags
from mebuki.season.root_temperature import RootBallTemperatures

MORNING, EVENING = 6, 21
"""Local hours at which the share left is told; pots are filled at the first."""

WATER_DAYS = 4
"""Today and the next three days."""

HISTORY = timedelta(days=4)
"""How far back the balance begins."""

USE_SPREAD = 0.25
"""Standard deviation of the use over the use (default)."""

LEAST_USE = 0.3
"""Least share of the reckoned use at which the latest dry hour is told (default)."""

FROZEN_BALL = 0.8
"""Frozen share of a root-ball from which the tree gets no water (default)."""

USUAL_EMPTIES = (0.3, 4.0)
"""Emptyings a day in summer between which the inputs are plausible (default)."""


@dataclass(frozen=True, slots=True)
class WaterOutlook:
    """Days of water, a tuple for each pot, and sentences on days that cannot be seen."""

    pots: tuple[tuple[WaterDay, ...], ...]
    remarks: tuple[str, ...]


def water_outlook(
    here: HourlySeries,
    site: Site,
    pots: Pots,
    leaves: Leaves,
    on: date,
    roots: RootBallTemperatures | None = None,
    held: Sequence[EasyWater] = (),
) -> WaterOutlook:
    """Return the water of pots at a place, today and the next three days.

    A pot is taken as full at 6 h local time of its last recorded watering; without
    a recent record it is taken as filled at 6 h every morning, the keeper's
    routine (default), so that each day tells what that day does to a full pot.
    ``use`` and ``empties`` are those of a tree without stress; ``dry_at`` is when
    the easily available water is used up before 6 h of the next morning. A day
    with an unknown hour is left out and named in a remark.

    Parameters
    ----------
    here
        Weather at the place, with radiation (see `radiation.with_sky`).
    site
        For its latitude and local days.
    pots, leaves
        One value a tree, in the same order.
    on
        The local day of the round.
    roots
        Root-balls of the same trees; a frozen share takes no water.
    held
        What each pot holds and how sure that is; without it the use alone is unsure.

    Notes
    -----
    Plausible within `USUAL_EMPTIES` in summer; outside, pot and crown sizes are
    to be checked before anybody waters by it.

    References
    ----------
    Allen et al. (1998), FAO-56, chapters 4, 7 and 8.
    """
    days = [on + timedelta(days=ahead) for ahead in range(WATER_DAYS)]
    last = local_hour(days[-1] + timedelta(days=1), MORNING, site.zone)
    near = here.between(local_hour(on - HISTORY, MORNING, site.zone), last + 1)
    if not len(near.origin):
        return WaterOutlook(tuple(() for _ in pots.watered), tuple(_unseen(day) for day in days))
    evaporation = reference_evaporation_hours(near, site)
    frozen = _frozen(roots, near, len(pots.watered))
    course = _course(near, site, (pots, leaves), evaporation, 1 - frozen)
    spread = time_spread(held, len(pots.watered))
    shares = (np.ones(len(spread)), 1 + spread, np.maximum(1 - spread, LEAST_USE))
    trace, thirsty, frugal = _traces(pots, course, shares)
    teller = _Teller(near.start, site, pots, evaporation, trace, (thirsty, frugal), frozen)
    told = [teller.day(day) for day in days]
    return WaterOutlook(
        pots=tuple(tuple(rows[pot] for rows in told if rows) for pot in range(len(pots.watered))),
        remarks=tuple(_unseen(day) for day, rows in zip(days, told, strict=True) if not rows),
    )


def time_spread(held: Sequence[EasyWater], pots: int) -> Floats:
    """Return the relative spread of the time until pots are dry, one value a pot.

    That of the use, and where it is given that of the water they hold, independent of
    one another.

    Parameters
    ----------
    held
        What each pot holds, or nothing.
    pots
        Their number.

    References
    ----------
    Quotients of independent values: relative variances add.
    """
    if not held:
        return np.full(pots, USE_SPREAD)
    wide = np.array([np.log(water.high / water.low) / 2 for water in held])
    return np.asarray(np.hypot(USE_SPREAD, wide))


def is_dry(tree: Tree, on: date, days: Sequence[WaterDay]) -> bool:
    """Return whether a pot wants water on a day: found so and not watered since, or reckoned so.

    Parameters
    ----------
    tree
        With its records.
    on
        The local day of the round.
    days
        Its days of water.
    """
    found = tree.last("dry-seen")
    if found is not None and on - RECORD_COUNTS <= found.on <= on:
        later = tree.last("watered", "wet-seen")
        if later is None or later.on < found.on:
            return True
    return any(day.day == on and day.share_morning <= 0 for day in days)


def _traces(pots: Pots, course: Course, factors: Sequence[Floats]) -> tuple[WaterTrace, ...]:
    """Return the balance under several shares of the evaporation, stepped together."""
    times, count = len(factors), len(pots.watered)
    scale = np.concatenate(factors)[:, None]
    stacked = Course(
        evaporation=course.evaporation * scale,
        rain=course.rain,
        basal=np.tile(course.basal, (times, 1)),
        liquid=np.tile(course.liquid, (times, 1)),
        filled=np.tile(course.filled, (times, 1)),
    )
    found = water_trace(pots.repeated(times), stacked)
    return tuple(
        WaterTrace(
            *(
                getattr(found, each.name)[count * part : count * (part + 1)]
                for each in fields(found)
            )
        )
        for part in range(times)
    )


def _unseen(day: date) -> str:
    return f"The water of {day.isoformat()} cannot be judged: some of its weather is unknown."


def _frozen(roots: RootBallTemperatures | None, near: HourlySeries, pots: int) -> Floats:
    share = np.zeros((pots, len(near.origin)))
    if roots is None:
        return share
    first = near.start - roots.start
    source = roots.frozen_share[:, max(first, 0) : max(first + share.shape[1], 0)]
    begin = max(-first, 0)
    share[:, begin : begin + source.shape[1]] = np.nan_to_num(source)
    return share


def _course(
    near: HourlySeries,
    site: Site,
    trees: tuple[Pots, Leaves],
    evaporation: EvaporationHours,
    liquid: Floats,
) -> Course:
    pots, leaves = trees
    days, _ = local_clock(near.hours, site.zone)
    return Course(
        evaporation=evaporation.hours,
        rain=counted_rain(near, days, pots.figures),
        basal=basal_coefficient(leaves, evaporation.days)[:, days - days[0]],
        liquid=liquid,
        filled=mornings_filled(pots, near.hours, site),
    )


def mornings_filled(pots: Pots, hours: Ints, site: Site) -> Flags:
    """Return when pots are filled, shape (pots, hours): the keeper's routine or the record.

    A pot without a recent record is filled at 6 h local time every morning, one with
    a record at 6 h of that day alone (default).
    """
    days, clock = local_clock(hours, site.zone)
    recorded = np.array([np.nan if day is None else day.toordinal() for day in pots.watered])
    routine = np.isnan(recorded)[:, None]
    on_record = days[None, :] == recorded[:, None]
    return np.asarray((clock == MORNING)[None, :] & (routine | on_record))


@dataclass(frozen=True, slots=True, eq=False)
class _Teller:
    start: int
    site: Site
    pots: Pots
    evaporation: EvaporationHours
    trace: WaterTrace
    extremes: tuple[WaterTrace, WaterTrace]
    frozen: Floats

    def day(self, day: date) -> tuple[WaterDay, ...]:
        """Return a day of every pot, or nothing if some of it is unknown."""
        tomorrow = day + timedelta(days=1)
        midnight, next_midnight, morning, evening, next_morning = (
            local_hour(on, hour, self.site.zone) - self.start
            for on, hour in ((day, 0), (tomorrow, 0), (day, MORNING), (day, EVENING),
                             (tomorrow, MORNING))
        )  # fmt: skip
        of_day = slice(midnight + 1, next_midnight + 1)
        if midnight < 0 or next_morning >= self.trace.left.shape[1]:
            return ()
        demand = self.trace.demand[:, of_day].sum(axis=1)
        share, thirsty, frugal = (np.clip(self._share(left), 0, 1) for left in self._left)
        until = slice(morning + 1, next_morning + 1)
        if not np.isfinite(demand).all() or np.isnan(share[:, morning : next_morning + 1]).any():
            return ()
        evaporation = float(self.evaporation.hours[of_day].sum())
        return tuple(
            WaterDay(
                day=day,
                reference_evaporation=evaporation,
                use=float(demand[pot]),
                spread=float(USE_SPREAD * demand[pot]),
                share_morning=float(share[pot, morning]),
                share_evening=float(share[pot, evening]),
                dry_at=self._dry_at(share[pot, until], morning + 1),
                dry_earliest=self._dry_at(thirsty[pot, until], morning + 1),
                dry_latest=self._dry_at(frugal[pot, until], morning + 1),
                empties=float(demand[pot] / self.pots.easy_water[pot]),
                frozen=bool(self.frozen[pot, of_day].max() > FROZEN_BALL),
            )
            for pot in range(len(demand))
        )

    @property
    def _left(self) -> tuple[Floats, ...]:
        return self.trace.left, self.extremes[0].left, self.extremes[1].left

    def _share(self, left: Floats) -> Floats:
        used = self.pots.total_water[:, None] - left
        return np.asarray(1 - used / self.pots.easy_water[:, None])

    def _dry_at(self, share: Floats, first: int) -> datetime | None:
        dry = np.flatnonzero(share[:-1] <= 0)
        return hour_moment(self.start + first + int(dry[0])) if dry.size else None
