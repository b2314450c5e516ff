"""Bud stages as fractions of the requirement for bud break, with their spread."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.outlook import Milestone
from mebuki.domain.taxon import Phenology, StageFraction
from mebuki.domain.weather import Floats
from mebuki.season.bud_break import CWTT, SIGDL

DRAWS = 21
"""Quantiles of a requirement that are followed through every member."""

_NORMAL = np.array([NormalDist().inv_cdf((k + 0.5) / DRAWS) for k in range(DRAWS)])

_TEN_PERCENT = 1.2815515655446004  # distance of the 90 % from the 50 % point, in sd


@dataclass(frozen=True, slots=True)
class Fraction:
    """A stage as a fraction of the requirement for bud break, with its 10-90 % range."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, stage: StageFraction) -> Fraction:
        """Return the fraction a taxon file gives."""
        return cls(stage.value, min(stage.low, stage.value), max(stage.high, stage.value))

    def times(self, factor: float) -> Fraction:
        """Return the fraction and its range scaled."""
        return Fraction(self.value * factor, self.low * factor, self.high * factor)


BUD_BREAK = Fraction(1.0, 1.0, 1.0)

FRACTIONS = {
    CWTT.name: {
        Milestone.SWELL: Fraction(0.29, 0.16, 0.54),
        Milestone.MODERATE_SWELL: Fraction(0.38, 0.19, 0.67),
        Milestone.FIRST_OPEN: Fraction(0.89, 0.79, 0.94),
        Milestone.BREAK: BUD_BREAK,
        Milestone.UNFOLDED: Fraction(1.09, 1.05, 1.21),
        Milestone.GROWN: Fraction(1.82, 1.46, 2.78),
    },
    SIGDL.name: {
        Milestone.SWELL: Fraction(0.29, 0.17, 0.53),
        Milestone.MODERATE_SWELL: Fraction(0.37, 0.19, 0.65),
        Milestone.FIRST_OPEN: Fraction(0.885, 0.78, 0.94),
        Milestone.BREAK: BUD_BREAK,
        Milestone.UNFOLDED: Fraction(1.09, 1.05, 1.23),
        Milestone.GROWN: Fraction(1.91, 1.51, 2.91),
    },
}
"""Stages as fractions of F by clock: Harvard Forest HF003 bud codes 1990-1998, all species.

Slight and moderate swelling, first bud open, half of the buds open (bud
break), 90 % open (taken as leaves unfolded), leaves 75 % of full size (taken
as leaves grown).
"""

BUD_STAGES = tuple(FRACTIONS[CWTT.name])


def stage_fractions(phenology: Phenology, clock: str) -> dict[Milestone, Fraction]:
    """Return the fractions of one taxon, its own values before the default ones.

    Parameters
    ----------
    phenology
        The clocks of the taxon; its ``swell`` also scales moderate swelling.
    clock
        The name of a clock, ``cwtt`` or ``sigdl``.
    """
    found = dict(FRACTIONS[clock])
    own = {
        Milestone.SWELL: phenology.swell,
        Milestone.FIRST_OPEN: phenology.first_open,
        Milestone.UNFOLDED: phenology.unfolded,
        Milestone.GROWN: phenology.grown,
    }
    if phenology.swell is not None:
        factor = phenology.swell.value / found[Milestone.SWELL].value
        found[Milestone.MODERATE_SWELL] = found[Milestone.MODERATE_SWELL].times(factor)
    found.update({name: Fraction.of(stage) for name, stage in own.items() if stage is not None})
    return found


def requirement_quantiles(need: float, sd_ln: ArrayLike, fraction: Fraction = BUD_BREAK) -> Floats:
    """Return `DRAWS` quantiles of the requirement of a stage.

    Parameters
    ----------
    need
        Median requirement F for bud break.
    sd_ln
        Standard deviation of ln F: one, or one for each member.
    fraction
        The stage as a fraction of F; its range widens each side by itself.

    Returns
    -------
    Floats
        Axes of ``sd_ln``, then requirements at the middles of `DRAWS` equal
        shares of probability.
    """
    sd = np.asarray(sd_ln, dtype=np.float64)[..., np.newaxis]
    low = np.hypot(sd, np.log(fraction.value / fraction.low) / _TEN_PERCENT)
    high = np.hypot(sd, np.log(fraction.high / fraction.value) / _TEN_PERCENT)
    spread: Floats = np.exp(np.where(_NORMAL < 0.0, low, high) * _NORMAL)
    return need * fraction.value * spread
