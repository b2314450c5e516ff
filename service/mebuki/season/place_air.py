"""What the season says of the air at one place, and of the taxa that stand there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from mebuki.domain.outlook import LEVELS, GrowthClock, Milestone, StageOutlook
from mebuki.domain.taxon import Taxon
from mebuki.domain.warmth import DegreeDays
from mebuki.domain.weather import WeatherPicture
from mebuki.season.acclimation import hardening
from mebuki.season.alternatives import alternative_dates
from mebuki.season.autumn import autumn_outlook
from mebuki.season.frost_dates import autumn_frost, spring_frost
from mebuki.season.growth import clock_for
from mebuki.season.members import OPEN_AIR, FeltHere, Members, span_members
from mebuki.season.parameters import Parameters
from mebuki.season.pest_days import pest_days
from mebuki.season.pine_shoots import shoot_extension_end
from mebuki.season.prediction import predict
from mebuki.season.seasons import autumn_frost_days, season_days, season_of, season_start
from mebuki.season.warm_nights import warm_clock, warm_nights_begin, warm_nights_end

Wanted = tuple[str, date | None]
"""A taxon id, and the day its buds were seen closed, if they were."""

MEDIAN = LEVELS.index(50)

LEAVES_LINGER = 61
"""Days of a new season in which the leaves of the last one may still hang (default)."""


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


def stage_in(
    stages: Iterable[StageOutlook], milestone: Milestone, season: int
) -> StageOutlook | None:
    """Return the distribution of one milestone in a season, or none."""
    for each in stages:
        if each.milestone is milestone and each.season == season:
            return each
    return None


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
    parameters
        The figures of the practice file.
    """

    picture: WeatherPicture
    on: date
    felt: FeltHere
    parameters: Parameters = field(default_factory=Parameters)
    made: dict[int, Members] = field(default_factory=dict)
    stages: dict[Wanted, tuple[StageOutlook, ...]] = field(default_factory=dict)

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
            self.made[season] = self.span(season_days(season, self.southern))
        return self.made[season]

    def stages_of(self, taxon: Taxon, closed_on: date | None = None) -> tuple[StageOutlook, ...]:
        """Return the stages of a taxon here, season by season, those of the year's end last.

        ``closed_on`` is a day on which the keeper saw the buds still closed.
        """
        wanted = (taxon.id, closed_on)
        if wanted not in self.stages:
            spring = (
                stage
                for season in self.seasons.all
                for stage in self._spring(taxon, season, closed_on)
            )
            self.stages[wanted] = (*spring, *later_stages(taxon, self))
        return self.stages[wanted]

    def _spring(
        self, taxon: Taxon, season: int, closed_on: date | None
    ) -> tuple[StageOutlook, ...]:
        if taxon.group == "tropical":
            return ()  # no published clock: their growth follows warm nights
        latitude = self.picture.site.latitude
        seen = closed_on if closed_on and season_of(closed_on, self.southern) == season else None
        return predict(taxon.phenology, self.members(season), season, latitude, seen)

    def span(self, span: range, felt: FeltHere | None = None) -> Members:
        """Return the members of any span of days, here or as felt elsewhere."""
        picture = self.picture
        return span_members(picture.daily, picture.climate, span, self.on, felt or self.felt)

    def other_clocks(self, taxon: Taxon) -> tuple[tuple[str, date | None], ...]:
        """Return what other published models say of bud break in the running season."""
        running, latitude = self.seasons.running, self.picture.site.latitude
        return alternative_dates(taxon.phenology, self.members(running), running, latitude)

    def degree_days(self) -> tuple[DegreeDays, ...]:
        """Return the warmth for insects and mites in the running season here."""
        running = self.seasons.running
        return pest_days(self.members(running), running, self.southern)

    def hardening_today(self) -> tuple[float, float]:
        """Return the acclimation [0..1] of shoots and roots today; 0 where it is unknown."""
        members = self.members(self.seasons.running)
        shoots, roots = hardening(members.minimum[0], members.maximum[0], self.parameters.hardening)
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

    def growth_of(
        self, taxon: Taxon, stages: tuple[StageOutlook, ...]
    ) -> tuple[tuple[int, GrowthClock], ...]:
        """Return the growth clocks of a taxon here, by season."""
        found = []
        for season in self.seasons.all:
            clock = self._growth(taxon, stages, season)
            if clock is not None:
                found.append((season, clock))
        return tuple(found)

    def _growth(
        self, taxon: Taxon, stages: tuple[StageOutlook, ...], season: int
    ) -> GrowthClock | None:
        if taxon.group == "tropical":
            warm = self.parameters.season.warm_night
            where = (self.members(season), season, self.southern, warm)
            begins, ends = warm_nights_begin(*where)[MEDIAN], warm_nights_end(*where)[MEDIAN]
            return warm_clock(begins, ends) if begins and ends else None
        opens = stage_in(stages, Milestone.BREAK, season)
        return clock_for(taxon, opens, self.parameters.thickening) if opens else None

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a person must know of gaps in the seasons' temperatures."""
        told = (self.members(season).remark for season in self.seasons.all)
        return tuple(dict.fromkeys(remark for remark in told if remark))


def later_stages(taxon: Taxon, air: Air) -> Iterator[StageOutlook]:
    """Yield the stages after spring: pine shoots grown, warm nights, colour and leaf fall.

    Colour and leaf fall are weak models; whoever shows them shows
    `mebuki.season.autumn.WARNING` beside them.
    """
    seasons, southern = air.seasons, air.southern
    climate = air.picture.climate
    if taxon.id.startswith("pinus-"):
        for season in seasons.all[:-1]:
            days = shoot_extension_end(air.members(season), climate, season, southern)
            yield StageOutlook(Milestone.SHOOTS_GROWN, season, days)
    if taxon.group == "tropical":
        for season in seasons.all[-2:]:
            outside = air.span(season_days(season, southern), OPEN_AIR)
            warm = air.parameters.season.warm_night
            days = warm_nights_begin(outside, season, southern, warm)
            yield StageOutlook(Milestone.WARM_NIGHTS, season, days)
    if taxon.deciduous:
        autumn = air.span(autumn_frost_days(seasons.growing, southern))
        found = autumn_outlook(taxon, autumn, seasons.growing, southern)
        if any(found.colour_begins):
            yield StageOutlook(Milestone.COLOUR, seasons.growing, found.colour_begins)
        yield StageOutlook(Milestone.LEAF_FALL, seasons.growing, found.leaf_fall_begins)
