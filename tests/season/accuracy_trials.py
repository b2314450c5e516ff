"""What the accuracy trials share: per-tree requirements, scores, and a printed table."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from mebuki.domain.outlook import Milestone, StageOutlook
from mebuki.domain.taxon import ThermalClock
from mebuki.domain.weather import Floats
from mebuki.season.bud_break import CWTT, SIGDL
from mebuki.season.members import Members
from mebuki.season.prediction import predict
from mebuki.season.seasons import season_start
from tests.season.clock_tables import phenology, thermal

BETWEEN_TREES = 0.10
WITHIN_TREE = 0.155
"""Standard deviations of ln F: between trees of a species, and of one tree from year to year."""


@dataclass(frozen=True)
class Spring:
    """One spring at one place: its days as one member, and its heat by clock."""

    season: int
    latitude: float
    start: int
    members: Members
    heat: Mapping[str, Floats]

    @classmethod
    def of(
        cls, season: int, latitude: float, start: int, minimum: Floats, maximum: Floats
    ) -> Spring:
        """Read both clocks and plain degree days on a spring that begins at ``start``."""
        last = start + len(minimum) - 1
        members = Members(start, minimum[np.newaxis], maximum[np.newaxis], last, last)
        mean = members.mean[0]
        new_year = date(season, 1, 1).toordinal() - start
        warmth = np.maximum(mean - 5.0, 0.0)
        warmth[:new_year] = 0.0
        heat = {clock.name: clock.read(mean, start, season, latitude) for clock in (CWTT, SIGDL)}
        return cls(season, latitude, start, members, heat | {"gdd5": np.cumsum(warmth)})

    def need_at(self, clock: str, position: float) -> float:
        """Return ln of the heat a clock had counted at a position on the day axis."""
        heat = self.heat[clock]
        return float(np.log(np.interp(position, np.arange(len(heat)), heat)))

    def day_of(self, clock: str, need: float) -> float:
        """Return the position of the first day at whose end a clock has counted exp(need)."""
        return float(np.argmax(self.heat[clock] >= np.exp(need)))

    def predicted(self, needs: Mapping[str, float], sd_ln: float) -> StageOutlook:
        """Return what the shipped prediction says of a stage with these ln requirements."""
        clock: ThermalClock = thermal(
            float(np.exp(needs["cwtt"])), sd_ln, float(np.exp(needs["sigdl"]))
        )
        found = predict(phenology(clock), self.members, self.season, self.latitude)
        return next(stage for stage in found if stage.milestone is Milestone.BREAK)


def updated(prior: float, own: Sequence[float]) -> tuple[float, float]:
    """Return mean and predictive sd of ln F of a tree after its own springs (normal update)."""
    precision = 1 / BETWEEN_TREES**2 + len(own) / WITHIN_TREE**2
    mean = (prior / BETWEEN_TREES**2 + sum(own) / WITHIN_TREE**2) / precision
    return mean, float(np.hypot(precision**-0.5, WITHIN_TREE))


@dataclass(frozen=True)
class Scored:
    """Error [d] of one prediction, and its 10-90 % range where it has one."""

    error: float
    low: float = np.nan
    high: float = np.nan


def mean_absolute(scores: Sequence[Scored]) -> float:
    """Return the mean absolute error [d]."""
    return float(np.mean([abs(score.error) for score in scores]))


def coverage(scores: Sequence[Scored]) -> float:
    """Return the share of cases that lie within their 10-90 % range."""
    return float(np.mean([score.low <= 0.0 <= score.high for score in scores]))


def width(scores: Sequence[Scored]) -> float:
    """Return the mean width of the 10-90 % range [d]."""
    return float(np.mean([score.high - score.low for score in scores]))


def scored(outlook: StageOutlook, observed: float) -> Scored:
    """Score a prediction against an observed day given as an ordinal, with fractions or whole."""
    days = [outlook.likely, outlook.earliest, outlook.latest]
    assert all(days)
    likely, low, high = (day.toordinal() - observed for day in days if day)
    return Scored(likely, low, high)


def chill_start(season: int) -> int:
    """Return the ordinal of 1 November before a spring."""
    return season_start(season, southern=False)


def show(title: str, rows: Sequence[Sequence[str]]) -> None:
    """Print a table of the trial (seen with ``pytest -rP`` or ``-s``)."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    sys.stdout.write("\n".join([f"\n{title}", *lines, ""]))
