"""What the season says of one tree at one place: values only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from mebuki.domain.exposure import HardDay
from mebuki.domain.warmth import DegreeDays, HoursAhead
from mebuki.domain.weather import Freshness

LEVELS = tuple(range(5, 100, 5))
"""The percent levels of every date distribution: 5, 10, ..., 95."""


class Milestone(StrEnum):
    """A point in the year of buds and leaves; ``bbch`` is its code where one exists."""

    SWELL = "swell"
    MODERATE_SWELL = "moderate-swell"
    FIRST_OPEN = "first-open"
    BREAK = "bud-break"
    UNFOLDED = "leaves-unfolded"
    GROWN = "leaves-grown"
    FLOWERING = "flowering"
    SHOOTS_GROWN = "shoots-grown"
    COLOUR = "autumn-colour"
    LEAF_FALL = "leaf-fall"
    WARM_NIGHTS = "warm-nights"

    @property
    def bbch(self) -> int | None:
        """The BBCH stage, or none for a point between stages."""
        return _BBCH.get(self)


_BBCH = {
    Milestone.SWELL: 1,
    Milestone.BREAK: 7,
    Milestone.UNFOLDED: 11,
    Milestone.GROWN: 19,
    Milestone.FLOWERING: 61,
    Milestone.SHOOTS_GROWN: 91,
    Milestone.COLOUR: 92,
    Milestone.LEAF_FALL: 93,
}


@dataclass(frozen=True, slots=True)
class StageOutlook:
    """When a milestone comes, as a distribution of local days.

    ``quantiles`` holds a day for each of `LEVELS`; none where the milestone is
    not reached within the season in that share of cases.
    """

    milestone: Milestone
    season: int
    quantiles: tuple[date | None, ...]

    def at(self, level: int) -> date | None:
        """Return the day at one of `LEVELS` percent."""
        return self.quantiles[LEVELS.index(level)]

    @property
    def earliest(self) -> date | None:
        """The day by which it has come in one case of ten."""
        return self.at(10)

    @property
    def likely(self) -> date | None:
        """The median day."""
        return self.at(50)

    @property
    def latest(self) -> date | None:
        """The day by which it has come in nine cases of ten."""
        return self.at(90)

    def probability_by(self, day: date) -> float:
        """Return the probability [0..1] that the milestone has come by a day."""
        reached = sum(1 for point in self.quantiles if point is not None and point <= day)
        return reached / len(LEVELS)


@dataclass(frozen=True, slots=True)
class Night:
    """One coming night at one place.

    Parameters
    ----------
    evening
        The local day on which the night begins.
    begins, ends
        UTC, from late afternoon to the morning after.
    air_minimum, leaf_minimum
        Lowest air and leaf temperature [°C] expected at the place.
    spread
        Standard deviation [°C] of the forecast minimum at this lead.
    minimum_at
        When the lowest air temperature is expected.
    frost_type
        ``radiation`` or ``advective``, by wind and cloud.
    lead_days
        Whole days from the round to the evening: 0 is tonight.
    leaf_hours
        Leaf temperature [°C] at each full hour from ``begins`` to ``ends``; NaN where
        unknown, empty where not told.
    """

    evening: date
    begins: datetime
    ends: datetime
    air_minimum: float
    leaf_minimum: float
    spread: float
    minimum_at: datetime
    frost_type: str
    lead_days: int
    leaf_hours: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class RootNight:
    """Root-ball temperatures of one tree over one night [°C].

    ``killing_coldest`` and ``killing_warmest`` span what studies say kills such roots
    as hardened as they are; none where nothing is said. ``killing_source`` names them.
    """

    evening: date
    mean_minimum: float
    wall_minimum: float
    spread: float
    frozen_share: float
    limit: float
    hours_below: int
    lead_days: int
    limit_source: str
    killing_coldest: float | None = None
    killing_warmest: float | None = None
    killing_source: str = ""


@dataclass(frozen=True, slots=True)
class WaterDay:
    """One day of one pot's water.

    ``use`` [L] with its spread, the share of easily available water left at
    06 h and 21 h local time, and when it is likely used up; ``dry_earliest`` and
    ``dry_latest`` if the tree uses one standard deviation more, or less, and the pot
    holds as much less, or more.
    """

    day: date
    reference_evaporation: float
    use: float
    spread: float
    share_morning: float
    share_evening: float
    dry_at: datetime | None
    empties: float
    frozen: bool
    dry_earliest: datetime | None = None
    dry_latest: datetime | None = None


@dataclass(frozen=True, slots=True)
class GrowthClock:
    """A Gompertz clock of radial growth by the days of 10 and 90 % of it."""

    ten_percent: date
    ninety_percent: date
    basis: str


@dataclass(frozen=True, slots=True)
class TreeOutlook:
    """The season of one tree at one place.

    Parameters
    ----------
    season
        The running season, by the calendar year of its spring.
    stages
        Distributions for the running and the next season.
    growth
        Growth clocks by season; empty where bud break is not foreseeable.
    autumn_frost, spring_frost
        Distribution of the first autumn and last spring frost of the running
        season, as days for each of `LEVELS`.
    shoot_acclimation, root_acclimation
        Share [0..1] of midwinter hardiness present today.
    hard_days
        Heat, dryness and gusts of today and the next days.
    cold_weeks
        Weeks of chilling air that the tree has had at its place since the chill
        season began; none where unknown.
    degree_days
        Warmth for insects and mites, one for each season that is told; empty
        where unknown.
    hours
        Air and rain hour by hour; none where not told.
    other_clocks
        Median day of bud break in the running season by published models that
        the taxon file names, shown beside the default and not used by it.
    available_water
        Easily available water of the full pot [L]; ``available_low`` and
        ``available_high`` its likely range (two in three), ``available_source`` why,
        and ``available_doubt`` what on record cannot be and was left out.
    """

    tree: str
    on: date
    season: int
    stages: tuple[StageOutlook, ...]
    nights: tuple[Night, ...]
    roots: tuple[RootNight, ...]
    water: tuple[WaterDay, ...]
    growth: tuple[tuple[int, GrowthClock], ...]
    spring_frost: tuple[date | None, ...]
    autumn_frost: tuple[date | None, ...]
    shoot_acclimation: float
    root_acclimation: float
    available_water: float
    freshness: Freshness
    remarks: tuple[str, ...] = ()
    other_clocks: tuple[tuple[str, date | None], ...] = ()
    degree_days: tuple[DegreeDays, ...] = ()
    hours: HoursAhead | None = None
    hard_days: tuple[HardDay, ...] = ()
    cold_weeks: float | None = None
    available_low: float | None = None
    available_high: float | None = None
    available_source: str = ""
    available_doubt: str = ""

    def stage(self, milestone: Milestone, season: int) -> StageOutlook | None:
        """Return the distribution of a milestone in a season, or none."""
        for outlook in self.stages:
            if outlook.milestone is milestone and outlook.season == season:
                return outlook
        return None

    def growth_clock(self, season: int) -> GrowthClock | None:
        """Return the growth clock of a season, or none."""
        return dict(self.growth).get(season)
