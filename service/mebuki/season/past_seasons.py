"""Bud stages of past seasons, from a table of daily extremes and median requirements.

References
----------
Those of `mebuki.season.bud_break` and `mebuki.season.stages`.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.outlook import Milestone
from mebuki.domain.taxon import Phenology
from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError
from mebuki.season.bud_break import check_latitude
from mebuki.season.crossing import event_moments
from mebuki.season.members import Members, fill_gaps
from mebuki.season.prediction import Needs, needs_of, read_clocks
from mebuki.season.seasons import season_days, season_of
from mebuki.season.stages import stage_fractions

DATED = (Milestone.SWELL, Milestone.BREAK, Milestone.UNFOLDED, Milestone.GROWN)


def observed_dates(
    phenology: Phenology, days: ArrayLike, minimum: ArrayLike, maximum: ArrayLike, latitude: float
) -> list[tuple[int, int, date | None]]:
    """Return the day of each BBCH stage in each season a table touches.

    Parameters
    ----------
    phenology
        The clocks of the taxon; its median requirements are used, and where it
        has both clocks the mean of their moments.
    days
        Ordinals of local days, rising; days left out count as missing.
    minimum, maximum
        Air temperature [°C] of each day.
    latitude
        Degrees, south negative.

    Returns
    -------
    list of tuple
        Season, BBCH stage (1, 7, 11, 19, and 61 where known) and day; none
        where the stage was not reached or the season cannot be judged, see
        `season_faults`.

    Raises
    ------
    RangeError
        If the days do not rise, a minimum lies above its maximum, or the
        latitude is not within −90..90.
    """
    table = _Table(days, minimum, maximum, latitude)
    stages = DATED if phenology.flowering is None else (*DATED, Milestone.FLOWERING)
    rows: list[tuple[int, int, date | None]] = []
    for season in table.seasons():
        found = _season_dates(phenology, table.members(season), season, latitude)
        rows += [(season, stage.bbch or 0, found[stage]) for stage in stages]
    return rows


def season_faults(
    days: ArrayLike, minimum: ArrayLike, maximum: ArrayLike, latitude: float
) -> dict[int, str]:
    """Return what hides or weakens the seasons of a table, one sentence for each season.

    Parameters and errors are those of `observed_dates`.
    """
    table = _Table(days, minimum, maximum, latitude)
    remarks = {season: table.members(season).remark for season in table.seasons()}
    return {season: remark for season, remark in remarks.items() if remark}


class _Table:
    """A checked table of daily extremes on an axis without holes."""

    def __init__(
        self, days: ArrayLike, minimum: ArrayLike, maximum: ArrayLike, latitude: float
    ) -> None:
        check_latitude(latitude)
        self.southern = latitude < 0
        ordinals: Ints = np.asarray(days, dtype=np.int64)
        extremes = np.array([minimum, maximum], dtype=np.float64)
        _check(ordinals, extremes)
        self.start, self.stop = int(ordinals[0]), int(ordinals[-1]) + 1
        self.extremes: Floats = np.full((2, self.stop - self.start), np.nan)
        self.extremes[:, ordinals - self.start] = extremes

    def seasons(self) -> range:
        """Return the seasons the table touches."""
        first = season_of(date.fromordinal(self.start), self.southern)
        return range(first, season_of(date.fromordinal(self.stop - 1), self.southern) + 1)

    def members(self, season: int) -> Members:
        """Return one season as far as the table has it, as a single member."""
        span = season_days(season, self.southern)
        stop = min(span.stop, self.stop)
        days = np.arange(span.start, stop, dtype=np.int64)
        extremes = np.full((2, len(days)), np.nan)
        inside = days >= self.start
        extremes[:, inside] = self.extremes[:, days[inside] - self.start]
        filled, remark = fill_gaps(days, extremes)
        return Members(span.start, filled[:1], filled[1:], stop - 1, stop - 1, remark)


def _check(days: Ints, extremes: Floats) -> None:
    if not len(days):
        msg = "the table has no rows"
        raise RangeError(msg)
    falling = np.flatnonzero(np.diff(days) <= 0)
    if len(falling):
        row = int(falling[0]) + 1
        day, before = (date.fromordinal(int(days[at])) for at in (row, row - 1))
        msg = f"row {row + 1}: {day} does not come after {before}; days must rise, each once"
        raise RangeError(msg)
    crossed = np.flatnonzero(extremes[0] > extremes[1])
    if len(crossed):
        row = int(crossed[0])
        msg = f"row {row + 1}: minimum {extremes[0, row]:g} is above maximum {extremes[1, row]:g}"
        raise RangeError(msg)


def _season_dates(
    phenology: Phenology, members: Members, season: int, latitude: float
) -> dict[Milestone, date | None]:
    """Return the day of each stage: the moments of the clocks averaged, rounded up."""
    readings = read_clocks(phenology, members, season, latitude)
    moments = _bud_moments(phenology, needs_of(phenology.bud_break, readings))
    if phenology.flowering is not None:
        needs = needs_of(phenology.flowering, readings)
        bloom = [event_moments(reading.progress[0], need) for reading, need in needs]
        moments[Milestone.FLOWERING] = float(np.mean(bloom))
    return {
        stage: date.fromordinal(members.start + int(np.ceil(moment)))
        if np.isfinite(moment)
        else None
        for stage, moment in moments.items()
    }


def _bud_moments(phenology: Phenology, needs: Needs) -> dict[Milestone, float]:
    rows = []
    for reading, need in needs:
        fractions = stage_fractions(phenology, reading.clock.name)
        asked = [need * fractions[stage].value for stage in DATED]
        rows.append(event_moments(reading.progress[0], asked))
    return dict(zip(DATED, np.mean(rows, axis=0).tolist(), strict=True))
