"""Bud stages and flowering of one taxon as distributions of days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from mebuki.domain.outlook import LEVELS, Milestone, StageOutlook
from mebuki.domain.taxon import Phenology, ThermalClock
from mebuki.domain.weather import Floats
from mebuki.season.bud_break import CWTT, SIGDL, Clock, chill_need
from mebuki.season.crossing import event_moments
from mebuki.season.members import Members
from mebuki.season.quantiles import smooth_quantiles
from mebuki.season.seasons import season_start
from mebuki.season.stages import (
    BUD_BREAK,
    BUD_STAGES,
    Fraction,
    requirement_quantiles,
    stage_fractions,
)

LONG_LEAD = 10
LONG_LEAD_FACTOR = 1.3
"""Beyond about 10 days of lead the spread of flowering is widened by this factor."""

SHORT_CHILL = (1.3, 1.9)
SHORT_CHILL_SD = 0.25
"""Standard deviation of ln F that is added where chill is short.

It sets in where `chill_need` passes 1.3 and is full at 1.9. Measured: cherries
of Kagoshima (1.9) need a quarter more of both clocks than those of five other
stations of Japan; buds of forsythia and azalea at Jeju (1.4 to 1.6) scatter
twice as much as on the mainland.
"""


@dataclass(frozen=True, slots=True)
class Reading:
    """One clock read on all members; ``progress`` has the shape (members, days)."""

    clock: Clock
    progress: Floats


_SHARES = np.array(LEVELS) / 100

Needs = Sequence[tuple[Reading, float]]
"""Clocks with the requirement that one stage has on each."""


def read_clocks(
    phenology: Phenology, members: Members, season: int, latitude: float
) -> tuple[Reading, ...]:
    """Return the clocks for which a taxon has a requirement, read on all members."""
    stages = [phenology.bud_break, *filter(None, [phenology.flowering])]
    second = any(stage.sigdl is not None for stage in stages)
    return tuple(
        Reading(clock, clock.read(members.mean, members.start, season, latitude))
        for clock in ((CWTT, SIGDL) if second else (CWTT,))
    )


def needs_of(thermal: ThermalClock, readings: Sequence[Reading]) -> Needs:
    """Return the clocks on which a stage has a requirement, with the requirement."""
    figures = {CWTT.name: thermal.cwtt, SIGDL.name: thermal.sigdl}
    return [
        (reading, figure.value)
        for reading in readings
        if (figure := figures[reading.clock.name]) is not None
    ]


def predict(
    phenology: Phenology,
    members: Members,
    season: int,
    latitude: float,
    not_open_on: date | None = None,
) -> tuple[StageOutlook, ...]:
    """Return the distribution of every bud stage, and of flowering where it is known.

    Each requirement quantile is followed through each member on both clocks;
    the moment is the mean of both, and half their difference is added and
    taken away in half of the cases, so that where the clocks disagree the
    spread says so. Where chill is short the requirement is taken as less sure
    (`SHORT_CHILL_SD`). The quantiles keep the order of the stages at every level.

    Parameters
    ----------
    phenology
        The clocks of the taxon.
    members
        Whole-season series; see `mebuki.season.members.season_members`.
    season
        Calendar year of the spring.
    latitude
        Degrees, south negative.
    not_open_on
        A day on which the keeper saw that half of the buds were not open: cases
        with an earlier bud break are left out of all bud stages. Give it only
        when it was seen.

    Returns
    -------
    tuple of StageOutlook
        In the order of the year; a day is none where the stage is not reached
        within the season in that share of cases, or where a gap in the
        weather hides it.

    Raises
    ------
    RangeError
        If the members begin after the chill of the season did, or the latitude
        is not within −90..90.

    References
    ----------
    Averaging of structures and ensemble over past years: Taylor and White
    (2020, Ecological Applications 30, e02025).
    """
    readings = read_clocks(phenology, members, season, latitude)
    shortage = chill_need(members.mean, season_start(season, latitude < 0) - members.start)
    seen = -np.inf if not_open_on is None else float(not_open_on.toordinal() - members.start)
    buds = _bud_quantiles(phenology, needs_of(phenology.bud_break, readings), shortage, seen)
    found = list(zip(BUD_STAGES, buds, strict=True))
    if phenology.flowering is not None:
        needs = needs_of(phenology.flowering, readings)
        bloom = _flowering(phenology.flowering, needs, shortage, members.on - members.start)
        found.append((Milestone.FLOWERING, bloom))
    return tuple(
        StageOutlook(stage, season, tuple(_dates(row, members.start))) for stage, row in found
    )


def probability_within(opens: StageOutlook, closes: StageOutlook, day: date) -> float:
    """Return the probability [0..1] that a day lies within a window.

    Parameters
    ----------
    opens, closes
        The milestone that opens the window and the later one that closes it,
        of one prediction.
    day
        The local day.

    Returns
    -------
    float
        Opened by that day and not yet closed, to the resolution of `LEVELS`.
    """
    return max(opens.probability_by(day) - closes.probability_by(day), 0.0)


def _bud_quantiles(
    phenology: Phenology, needs: Needs, shortage: Floats, closed_at: float
) -> Floats:
    """Return the quantiles of the bud stages, shape (stages, levels), in their order."""
    sd_ln = _member_sd(phenology.bud_break.sd_ln.value, needs, shortage)
    fractions = [stage_fractions(phenology, reading.clock.name) for reading, _ in needs]
    by_clock = [[by_stage[stage] for stage in BUD_STAGES] for by_stage in fractions]
    cases = _cases(needs, sd_ln, by_clock)
    # cases of one column share member, draw and clocks: what bud break rules out goes in all
    kept = cases[BUD_STAGES.index(Milestone.BREAK)] > closed_at
    if not kept.any():
        kept[:] = True
        cases = np.maximum(cases, closed_at + 1.0)
    return _in_order(smooth_quantiles(cases[:, kept], _weights(cases.shape[1])[kept], _SHARES))


def _flowering(thermal: ThermalClock, needs: Needs, shortage: Floats, on: int) -> Floats:
    """Return the quantiles of flowering, widened at long lead after position ``on``."""
    sd_ln = _member_sd(thermal.sd_ln.value, needs, shortage)
    plain = _pooled(needs, sd_ln)
    # the factor sets in over the days round the long lead, so that no edge is seen
    lead = plain[LEVELS.index(50)] - on
    share = float(np.clip((lead - LONG_LEAD + 3) / 6, 0.0, 1.0))
    if not share:
        return plain
    return _pooled(needs, sd_ln * (1.0 + (LONG_LEAD_FACTOR - 1.0) * share))


def _member_sd(sd_ln: float, needs: Needs, shortage: Floats) -> Floats:
    """Return the standard deviation of ln F in each member, wider where chill is short."""
    median = np.mean([event_moments(reading.progress, need) for reading, need in needs], axis=0)
    last = shortage.shape[1] - 1
    at = np.where(np.isfinite(median), np.ceil(median), last).astype(np.int64)
    factor = np.nan_to_num(np.take_along_axis(shortage, at, axis=1)[:, 0], nan=1.0)
    enough, short = SHORT_CHILL
    return np.hypot(sd_ln, SHORT_CHILL_SD * np.clip((factor - enough) / (short - enough), 0.0, 1.0))


def _pooled(needs: Needs, sd_ln: Floats) -> Floats:
    """Return the quantiles of a stage of its own over members, requirement draws and clocks."""
    (cases,) = _cases(needs, sd_ln, [[BUD_BREAK]] * len(needs))
    return smooth_quantiles(cases, _weights(len(cases)), _SHARES)


def _cases(needs: Needs, sd_ln: Floats, fractions: Sequence[Sequence[Fraction]]) -> Floats:
    """Return the moments of stages: the mean of the clocks, less and plus half their gap.

    Parameters
    ----------
    fractions
        Of each clock, one for each stage.

    Returns
    -------
    Floats
        Shape (stages, cases).
    """
    moments = [
        _moments(reading.progress, [requirement_quantiles(need, sd_ln, each) for each in stages])
        for (reading, need), stages in zip(needs, fractions, strict=True)
    ]
    mean = np.mean(moments, axis=0)
    with np.errstate(invalid="ignore"):
        apart = (moments[-1] - moments[0]) / 2
    apart = np.where(np.isfinite(apart), apart, 0.0)
    return np.concatenate([mean - apart, mean, mean + apart], axis=1)


def _moments(progress: Floats, asked: Sequence[Floats]) -> Floats:
    """Return when each stage's requirements are reached, shape (stages, members × draws)."""
    found = event_moments(progress, np.concatenate(asked, axis=-1))
    return np.stack([part.ravel() for part in np.split(found, len(asked), axis=-1)])


def _weights(cases: int) -> Floats:
    return np.repeat([0.25, 0.5, 0.25], cases // 3)


def _in_order(buds: Floats) -> Floats:
    """Hold the stages before bud break at or before it, and those after at or after it."""
    at = BUD_STAGES.index(Milestone.BREAK)
    before = np.minimum.accumulate(buds[at::-1], axis=0)[::-1]
    after = np.maximum.accumulate(buds[at:], axis=0)
    return np.concatenate([before, after[1:]])


def _dates(moments: Floats, start: int) -> Iterator[date | None]:
    for moment in moments:
        yield date.fromordinal(start + int(np.ceil(moment))) if np.isfinite(moment) else None
