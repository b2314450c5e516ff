"""All models together: the outlook of every tree of a garden on one day.

Trees at one place share its weather; trees of one taxon at one place share
their stages. Pots of a place are stepped together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import date, datetime, timedelta

import numpy as np

from mebuki.domain.outlook import (
    LEVELS,
    GrowthClock,
    Milestone,
    Night,
    RootNight,
    StageOutlook,
    TreeOutlook,
    WaterDay,
)
from mebuki.domain.practice import Substrate
from mebuki.domain.site import Place
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.weather import HourlySeries, WeatherPicture, hour_number
from mebuki.season.acclimation import hardening
from mebuki.season.frost import coming_nights
from mebuki.season.frost_dates import autumn_frost, spring_frost
from mebuki.season.growth import clock_for
from mebuki.season.hardiness import RootLimit, circumstances, root_limit
from mebuki.season.members import FeltHere, Members, season_members
from mebuki.season.places import at_place
from mebuki.season.pot_store import Leaves, Pots
from mebuki.season.prediction import predict
from mebuki.season.radiation import with_sky
from mebuki.season.root_ball import RootBalls, Surroundings, surroundings
from mebuki.season.root_temperature import RootBallTemperatures, root_nights, stepped
from mebuki.season.seasons import season_of, season_start
from mebuki.season.water_outlook import water_outlook

GROUND_HISTORY = timedelta(days=15)
"""How far back the weather is needed for the ground under the pots (default)."""

POT_HISTORY, POT_AHEAD = timedelta(days=5), timedelta(days=6)
"""Span in which the pots are stepped; within days they forget how they began (default)."""

LEAVES_LINGER = 61
"""Days of a new season in which the leaves of the last one may still hang (default)."""

SWOLLEN = 0.5
"""Probability from which buds count as swelling."""

UNSEEN_ROOTS = (
    "The root-ball cannot be judged for the coming nights: hours of the weather are unknown."
)


@dataclass(frozen=True, slots=True)
class Seasons:
    """The seasons of a day: the one whose leaves hang, and the running one."""

    growing: int
    running: int

    @classmethod
    def of(cls, on: date, southern: bool) -> Seasons:
        """Return the seasons of a day; leaves may hang for two months of a new season."""
        running = season_of(on, southern)
        young = on.toordinal() - season_start(running, southern) < LEAVES_LINGER
        return cls(growing=running - 1 if young else running, running=running)

    @property
    def all(self) -> tuple[int, ...]:
        """Every season an outlook speaks of, the next one last."""
        return tuple(sorted({self.growing, self.running, self.running + 1}))


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """What the season says of the air at one place, and of its taxa, worked out once.

    Parameters
    ----------
    picture
        The weather of the site.
    on
        The local day of the round.
    felt
        What the place does to the air.
    """

    picture: WeatherPicture
    on: date
    felt: FeltHere
    made: dict[int, Members] = field(default_factory=dict)
    stages: dict[str, tuple[StageOutlook, ...]] = field(default_factory=dict)

    @property
    def southern(self) -> bool:
        """Whether the site has southern seasons."""
        return self.picture.site.southern

    @property
    def seasons(self) -> Seasons:
        """The seasons of the day."""
        return Seasons.of(self.on, self.southern)

    def members(self, season: int) -> Members:
        """Return the members of a season at this place."""
        if season not in self.made:
            picture = self.picture
            self.made[season] = season_members(
                picture.daily, picture.climate, season, self.southern, self.on,
                self.felt.offset, self.felt.minimum_held,
            )  # fmt: skip
        return self.made[season]

    def stages_of(self, taxon: Taxon) -> tuple[StageOutlook, ...]:
        """Return the stages of a taxon here, season by season."""
        if taxon.id not in self.stages:
            latitude = self.picture.site.latitude
            self.stages[taxon.id] = tuple(
                stage
                for season in self.seasons.all
                for stage in predict(taxon.phenology, self.members(season), season, latitude)
            )
        return self.stages[taxon.id]

    def hardening_today(self) -> tuple[float, float]:
        """Return the acclimation [0..1] of shoots and roots today; 0 where it is unknown."""
        members = self.members(self.seasons.running)
        shoots, roots = hardening(members.minimum[0], members.maximum[0])
        today = self.on.toordinal() - members.start
        return float(np.nan_to_num(shoots[today])), float(np.nan_to_num(roots[today]))

    def frost_dates(self) -> tuple[tuple[date | None, ...], tuple[date | None, ...]]:
        """Return the last frost of the running spring and the first of the growing season's autumn.

        In the first months of a season the autumn is that of the season before.
        """
        picture, seasons = self.picture, self.seasons
        if not picture.climate.years and not len(picture.daily.origin):
            return (None,) * len(LEVELS), (None,) * len(LEVELS)
        where = (picture.daily, picture.climate)
        spring = spring_frost(*where, seasons.running, self.southern, self.on, self.felt)
        return spring, autumn_frost(*where, seasons.growing, self.southern, self.on, self.felt)


def outlooks(
    trees: Sequence[Tree],
    places: Sequence[Place],
    taxa: Mapping[str, Taxon],
    substrates: Mapping[str, Substrate],
    picture: WeatherPicture,
    on: date,
) -> dict[str, TreeOutlook]:
    """Return the outlook of every tree by its id.

    Parameters
    ----------
    trees
        As they were known on the day.
    places
        All places of the garden.
    taxa, substrates
        By id; every tree's own must be among them.
    picture
        The weather of the site.
    on
        The local day.
    """
    found: dict[str, TreeOutlook] = {}
    for place in places:
        here = [tree for tree in trees if tree.place == place.id]
        if here:
            found |= _at_place(here, place, taxa, substrates, (picture, on))
    return found


def _at_place(
    trees: Sequence[Tree],
    place: Place,
    taxa: Mapping[str, Taxon],
    substrates: Mapping[str, Substrate],
    now: tuple[WeatherPicture, date],
) -> dict[str, TreeOutlook]:
    picture, on = now
    air = Air(picture, on, FeltHere(place.temperature_offset, place.minimum_held))
    shoot, root = air.hardening_today()
    spring, autumn = air.frost_dates()
    limits = [_limit(tree, taxa[tree.taxon], air, root) for tree in trees]
    pots = _pots(trees, place, taxa, substrates, (air, limits, autumn))
    found = {}
    for index, tree in enumerate(trees):
        stages = air.stages_of(taxa[tree.taxon])
        found[tree.id] = TreeOutlook(
            tree=tree.id,
            on=on,
            season=air.seasons.running,
            stages=stages,
            nights=pots.nights,
            roots=pots.roots[index],
            water=pots.water[index],
            growth=_growth(taxa[tree.taxon], stages),
            spring_frost=spring,
            autumn_frost=autumn,
            shoot_acclimation=shoot,
            root_acclimation=root,
            available_water=pots.easy_water[index],
            freshness=picture.freshness,
            remarks=pots.remarks + _season_remarks(air),
        )
    return found


def _season_remarks(air: Air) -> tuple[str, ...]:
    remarks = (air.members(season).remark for season in air.seasons.all)
    return tuple(dict.fromkeys(remark for remark in remarks if remark))


def _limit(tree: Tree, taxon: Taxon, air: Air, acclimation: float) -> RootLimit:
    running = air.seasons.running
    swell = _stage(air.stages_of(taxon), Milestone.SWELL, running)
    swollen = swell is not None and swell.probability_by(air.on) >= SWOLLEN
    now = circumstances(tree, air.on, air.southern, buds_swelling=swollen)
    return root_limit(taxon, acclimation, now)


def _stage(
    stages: Sequence[StageOutlook], milestone: Milestone, season: int
) -> StageOutlook | None:
    wanted = [each for each in stages if each.milestone is milestone and each.season == season]
    return wanted[0] if wanted else None


def _growth(taxon: Taxon, stages: Sequence[StageOutlook]) -> tuple[tuple[int, GrowthClock], ...]:
    found = []
    for stage in stages:
        if stage.milestone is Milestone.BREAK:
            clock = clock_for(taxon, stage)
            if clock is not None:
                found.append((stage.season, clock))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _PotOutlook:
    """What the models of the pot say of a place's trees, in their order."""

    nights: tuple[Night, ...]
    roots: tuple[tuple[RootNight, ...], ...]
    water: tuple[tuple[WaterDay, ...], ...]
    easy_water: tuple[float, ...]
    remarks: tuple[str, ...]


def _pots(
    trees: Sequence[Tree],
    place: Place,
    taxa: Mapping[str, Taxon],
    substrates: Mapping[str, Substrate],
    season: tuple[Air, Sequence[RootLimit], tuple[date | None, ...]],
) -> _PotOutlook:
    air, limits, autumn = season
    site, on = air.picture.site, air.on
    near = air.picture.hourly
    near = near.between(hour_number(air.picture.at - GROUND_HISTORY), near.end)
    here = at_place(with_sky(near, site).series, place)
    nights = coming_nights(here, site, place, on)
    balls = _root_balls(trees, place, here, air.picture.at)
    roots = root_nights(balls, limits, nights.nights)
    breaks = [
        _stage(air.stages_of(taxa[tree.taxon]), Milestone.BREAK, air.seasons.growing)
        for tree in trees
    ]
    fall = autumn[LEVELS.index(50)]
    leaves = Leaves.of(
        [taxa[tree.taxon] for tree in trees],
        [stage.likely if stage else None for stage in breaks],
        [fall] * len(trees),
    )
    pots = Pots.of(trees, substrates, on)
    water = water_outlook(here, site, pots, leaves, on, balls)
    unseen = (UNSEEN_ROOTS,) if nights.nights and not all(roots) else ()
    return _PotOutlook(
        nights=nights.nights,
        roots=roots,
        water=water.pots,
        easy_water=tuple(float(litres) for litres in pots.easy_water),
        remarks=(*nights.remarks, *water.remarks, *unseen),
    )


def _root_balls(
    trees: Sequence[Tree], place: Place, here: HourlySeries, at: datetime
) -> RootBallTemperatures:
    """Step the root-balls through the days round a moment, on the ground of the days before."""
    around = surroundings(here, place.sky_share)
    first = max(hour_number(at - POT_HISTORY) - here.start, 0)
    stop = max(hour_number(at + POT_AHEAD) - here.start, first)
    cut = {name.name: getattr(around, name.name)[first:stop] for name in fields(around)}
    return stepped(Surroundings(**cut), RootBalls.of(trees, place), here.start + first)
