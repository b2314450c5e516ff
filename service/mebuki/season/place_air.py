"""What the season says of the air at one place, and of the taxa that stand there."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import numpy as np

from mebuki.domain.outlook import LEVELS, GrowthClock, Milestone, StageOutlook
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import WeatherPicture
from mebuki.season.acclimation import hardening
from mebuki.season.frost_dates import autumn_frost, spring_frost
from mebuki.season.growth import clock_for
from mebuki.season.members import FeltHere, Members, span_members
from mebuki.season.prediction import predict
from mebuki.season.seasons import season_days, season_of, season_start

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
            span = season_days(season, self.southern)
            self.made[season] = span_members(
                picture.daily, picture.climate, span, self.on, self.felt
            )
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

    def stage(self, taxon: Taxon, milestone: Milestone, season: int) -> StageOutlook | None:
        """Return the distribution of one milestone of a taxon here, or none."""
        for each in self.stages_of(taxon):
            if each.milestone is milestone and each.season == season:
                return each
        return None

    def growth_of(self, taxon: Taxon) -> tuple[tuple[int, GrowthClock], ...]:
        """Return the growth clocks of a taxon here, by season."""
        found = []
        for season in self.seasons.all:
            opens = self.stage(taxon, Milestone.BREAK, season)
            clock = clock_for(taxon, opens) if opens else None
            if clock is not None:
                found.append((season, clock))
        return tuple(found)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a person must know of gaps in the seasons' temperatures."""
        told = (self.members(season).remark for season in self.seasons.all)
        return tuple(dict.fromkeys(remark for remark in told if remark))
