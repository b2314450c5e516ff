"""All models together: the outlook of every tree of a garden on one day.

Trees at one place share its weather, trees of one taxon at one place their
stages, and the pots of all places are stepped together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import numpy as np

from mebuki.domain.outlook import LEVELS, Milestone, StageOutlook, TreeOutlook
from mebuki.domain.practice import Substrate
from mebuki.domain.site import Place
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.weather import HourlySeries, WeatherPicture, hour_number
from mebuki.season.forecast_spread import spread_by_lead
from mebuki.season.frost import coming_nights
from mebuki.season.hard_days import Leafed, hard_days
from mebuki.season.hardiness import RootLimit, circumstances, root_limit
from mebuki.season.hours_ahead import hours_ahead
from mebuki.season.learned_place import learned_place
from mebuki.season.members import FeltHere
from mebuki.season.parameters import Parameters
from mebuki.season.place_air import Air, stage_in
from mebuki.season.places import at_place, daily_at_place
from mebuki.season.pot_calibration import EasyWater
from mebuki.season.pot_checks import known_pots
from mebuki.season.pot_store import Leaves, Pots
from mebuki.season.probe_fit import with_probes
from mebuki.season.radiation import with_sky
from mebuki.season.refuges import weeks_of_cold
from mebuki.season.root_ball import Matter, RootBalls, Surroundings, surroundings
from mebuki.season.root_temperature import RootBallTemperatures, root_nights, stepped
from mebuki.season.water_outlook import WaterOutlook, is_dry, water_outlook

GROUND_HISTORY = timedelta(days=15)
"""How far back the weather is needed for the ground under the pots (default)."""

POT_HISTORY, POT_AHEAD = timedelta(days=5), timedelta(days=6)
"""Span in which the pots are stepped; within days they forget how they began (default)."""

SWOLLEN = 0.5
"""Probability from which buds count as swelling."""

UNSEEN_ROOTS = (
    "The root-ball cannot be judged for the coming nights: hours of the weather are unknown."
)


@dataclass(frozen=True, slots=True)
class Stock:
    """The trees of a garden with everything known of them beforehand.

    Parameters
    ----------
    trees
        As they were known on the day.
    places
        All places of the garden.
    taxa, substrates
        By id; every tree's own must be among them.
    parameters
        The figures of the practice file.
    """

    trees: Sequence[Tree]
    places: Sequence[Place]
    taxa: Mapping[str, Taxon]
    substrates: Mapping[str, Substrate]
    parameters: Parameters = field(default_factory=Parameters)


def outlooks(stock: Stock, picture: WeatherPicture, on: date) -> dict[str, TreeOutlook]:
    """Return the outlook of every tree by its id.

    Parameters
    ----------
    stock
        The trees.
    picture
        The weather of the site.
    on
        The local day.
    """
    near = picture.hourly
    near = near.between(hour_number(picture.at - GROUND_HISTORY), near.end)
    sky = with_sky(near, picture.site).series
    groups = [_Group.at(place, stock, sky, (picture, on)) for place in stock.places]
    stands = [group for group in groups if group.trees]
    balls = _root_balls(stands, picture.at, Matter.by(stock.parameters.freezing))
    found: dict[str, TreeOutlook] = {}
    for group, rows in balls:
        found |= _of_group(group, rows, stock)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """The trees of one place and what the weather is there."""

    place: Place
    trees: tuple[Tree, ...]
    taxa: tuple[Taxon, ...]
    air: Air
    here: HourlySeries

    @property
    def pairs(self) -> list[tuple[Tree, Taxon]]:
        """Each tree with its taxon."""
        return list(zip(self.trees, self.taxa, strict=True))

    @classmethod
    def at(
        cls, place: Place, stock: Stock, sky: HourlySeries, now: tuple[WeatherPicture, date]
    ) -> _Group:
        trees = tuple(tree for tree in stock.trees if tree.place == place.id)
        return cls(
            place=place,
            trees=trees,
            taxa=tuple(stock.taxa[tree.taxon] for tree in trees),
            air=Air(*now, FeltHere.at(place), stock.parameters),
            here=at_place(sky, learned_place(place, trees, *now)),
        )


def _root_balls(
    groups: Sequence[_Group], at: datetime, matter: Matter
) -> list[tuple[_Group, RootBallTemperatures]]:
    """Step all pots together through the days round a moment, on the ground of the days before."""
    if not groups:
        return []
    start = groups[0].here.start
    first = max(hour_number(at - POT_HISTORY) - start, 0)
    stop = max(hour_number(at + POT_AHEAD) - start, first)
    around = Surroundings.joined(
        [
            (surroundings(group.here, group.place.sky_share).between(first, stop), len(group.trees))
            for group in groups
        ]
    )
    pots = RootBalls.joined(
        [with_probes(RootBalls.of(group.trees, group.place), group.trees) for group in groups]
    )
    found = stepped(around, pots, start + first, matter)
    bounds = np.cumsum([len(group.trees) for group in groups])[:-1]
    parts = zip(
        *(np.split(rows, bounds) for rows in (found.mean, found.wall, found.frozen_share)),
        strict=True,
    )
    return [
        (group, RootBallTemperatures(found.start, *rows))
        for group, rows in zip(groups, parts, strict=True)
    ]


def _of_group(group: _Group, balls: RootBallTemperatures, stock: Stock) -> dict[str, TreeOutlook]:
    air, on, figures = group.air, group.air.on, group.air.parameters
    shoot, root = air.hardening_today()
    spring, autumn = air.frost_dates()
    warmth = air.degree_days()
    hours = hours_ahead(group.here, air.picture.at)
    spreads = spread_by_lead(air.picture, on)
    nights = coming_nights(group.here, air.picture.site, group.place, on, spreads, figures.nights)
    stages = [air.stages_of(taxon, _closed_on(tree)) for tree, taxon in group.pairs]
    leaves = _leaves(group, stages, autumn)
    pots, held = _pots(group, leaves, stock)
    water = water_outlook(group.here, air.picture.site, pots, leaves, on, balls, held)
    limits = [
        _limit(tree, taxon, air, (seen, root), dry=is_dry(tree, on, days))
        for (tree, taxon), seen, days in zip(group.pairs, stages, water.pots, strict=True)
    ]
    roots = root_nights(balls, limits, nights.nights)
    leafed = _leafed(group, stages, water)
    hard = hard_days(group.here, air.picture.site, balls, leafed, on, figures.days)
    cold = weeks_of_cold(air.members(air.seasons.running), on, figures.season.chill_below)
    unseen = (UNSEEN_ROOTS,) if nights.nights and not all(roots) else ()
    remarks = (*nights.remarks, *water.remarks, *unseen, *air.remarks)
    return {
        tree.id: TreeOutlook(
            tree=tree.id,
            on=on,
            season=air.seasons.running,
            stages=stages[index],
            nights=nights.nights,
            roots=roots[index],
            water=water.pots[index],
            growth=air.growth_of(taxon, stages[index]),
            spring_frost=spring,
            autumn_frost=autumn,
            shoot_acclimation=shoot,
            root_acclimation=root,
            available_water=float(pots.easy_water[index]),
            freshness=air.picture.freshness,
            remarks=remarks,
            other_clocks=air.other_clocks(taxon),
            degree_days=warmth,
            hours=hours,
            hard_days=hard[index],
            cold_weeks=cold,
            available_low=held[index].low,
            available_high=held[index].high,
            available_source=held[index].source,
            available_doubt=held[index].doubt,
        )
        for index, (tree, taxon) in enumerate(group.pairs)
    }


def _closed_on(tree: Tree) -> date | None:
    """Return the last day on which the keeper saw the buds closed, unless they opened since."""
    closed = tree.last("buds-closed-seen")
    opened = tree.last("bud-break-seen", "leaves-open-seen")
    if closed is None or (opened is not None and opened.on > closed.on):
        return None
    return closed.on


def _pots(group: _Group, leaves: Leaves, stock: Stock) -> tuple[Pots, tuple[EasyWater, ...]]:
    """Return the pots of a place and what they hold, by their sizes and what was found."""
    air = group.air
    pots = Pots.of(group.trees, stock.substrates, air.on, air.parameters.water)
    here = daily_at_place(air.picture.daily, group.place)
    weather = (here, air.picture.site, air.on)
    return known_pots(group.trees, pots, leaves, stock.substrates, weather)


def _limit(
    tree: Tree,
    taxon: Taxon,
    air: Air,
    state: tuple[tuple[StageOutlook, ...], float],
    *,
    dry: bool,
) -> RootLimit:
    stages, acclimation = state
    swell = stage_in(stages, Milestone.SWELL, air.seasons.running)
    swollen = swell is not None and swell.probability_by(air.on) >= SWOLLEN
    figures = air.parameters.roots
    now = circumstances(tree, air.on, air.southern, buds_swelling=swollen, dry=dry, figures=figures)
    return root_limit(taxon, acclimation, now, figures)


def _leafed(
    group: _Group, stages: Sequence[tuple[StageOutlook, ...]], water: WaterOutlook
) -> Leafed:
    """Return what of each tree matters for a hard day, its leaves in the growing season."""
    season = group.air.seasons.growing
    found = (stage_in(seen, Milestone.UNFOLDED, season) for seen in stages)
    return Leafed(
        unfolded=tuple(stage.likely if stage else None for stage in found),
        water=water.pots,
        deciduous=tuple(taxon.deciduous for taxon in group.taxa),
    )


def _leaves(
    group: _Group,
    stages: Sequence[tuple[StageOutlook, ...]],
    autumn: tuple[date | None, ...],
) -> Leaves:
    """Return the course of the leaves; evergreens come to rest with the first frost (default)."""
    season = group.air.seasons.growing
    opens = [stage_in(seen, Milestone.BREAK, season) for seen in stages]
    falls = [stage_in(seen, Milestone.LEAF_FALL, season) for seen in stages]
    return Leaves.of(
        group.taxa,
        [stage.likely if stage else None for stage in opens],
        [stage.likely if stage else autumn[LEVELS.index(50)] for stage in falls],
        group.air.parameters.water,
    )
