"""How much water one's own pot holds: by weighing it, or by finding it dry or still wet.

References
----------
De Boodt and Verdonck (1972) for what substrates hold (from memory); Santos Coello
and Ríos Mesa (2023) for particle size in volcanic substrates. The way evidence is
weighed is our own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from math import erf, sqrt

import numpy as np

from mebuki.domain.tree import Tree
from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.humidity import refuse_outside

PLAUSIBLE_SHARE = (0.02, 0.6)
"""Easily available water over the pot's volume between which weighings are believed (default)."""

WEIGHING_SPREAD = 0.1
"""Standard deviation of a weighed value over itself (default).

Nobody weighs just as the pot stops draining, and just as it wants water.
"""

TABLE_SPREAD = 0.4
"""Standard deviation of ln of what a pot holds over what the table says (default)."""

JUDGING_SPREAD = 0.25
"""Standard deviation of ln of the depletion at which a person calls a pot dry (default)."""

FINEST, COARSEST = 1.0, 6.0
"""Particle sizes [mm] between which the water held is interpolated."""

_SPAN = 3.0
_POINTS = 601


@dataclass(frozen=True, slots=True)
class EasyWater:
    """Easily available water of a full pot [L], its likely range (two in three), and why.

    ``doubt`` says what on record cannot be and was left out; empty where nothing.
    """

    litres: float
    low: float
    high: float
    source: str
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class WaterShare:
    """Easily available water as a share of the substrate's volume, with its range."""

    value: float
    low: float
    high: float
    source: str


def share_by_particle(size: float) -> WaterShare:
    """Return the easily available water of a mineral substrate by its particle size.

    Parameters
    ----------
    size
        Middle of the sieve range [mm], 0.5 to 12.

    Raises
    ------
    RangeError
        If the size is outside that.

    Notes
    -----
    Between 0.22 at 1 mm and 0.05 at 6 mm, on the logarithm of the size. A guess
    between the two ends: the range spans what was published for either.

    References
    ----------
    Santos Coello and Ríos Mesa (2023): 20 to 26 % of the volume in fine volcanic
    tuffs, below 5 % in coarse ones, 32 samples; the share below 1 mm decides.
    """
    refuse_outside(size, "particle size", 0.5, 12, "mm")
    fine = float(np.clip(np.log(COARSEST / size) / np.log(COARSEST / FINEST), 0, 1))
    return WaterShare(
        value=0.05 + 0.17 * fine,
        low=0.02 + 0.18 * fine,
        high=0.08 + 0.18 * fine,
        source="by particle size, after Santos Coello and Ríos Mesa 2023; between its ends a guess",
    )


def weighed_water(tree: Tree) -> EasyWater | None:
    """Return what the weighings since the last repotting say, or none.

    The heaviest, just watered and drained, less the lightest, when it wanted water.
    None if there are fewer than two, or if the difference is less than 2 % or more
    than 60 % of the pot's volume, which no substrate gives: the weighings or the
    pot's sizes are to be checked.

    References
    ----------
    Own design: mass lost between waterings is water.
    """
    masses = _masses(tree)
    if len(masses) < 2:
        return None
    litres = max(masses) - min(masses)
    low, high = _plausible(tree)
    if not low <= litres <= high:
        return None
    return EasyWater(
        litres=litres,
        low=litres * (1 - WEIGHING_SPREAD),
        high=litres * (1 + WEIGHING_SPREAD),
        source=f"{len(masses)} weighings of this pot",
    )


def doubtful_weighings(tree: Tree) -> str:
    """Return what weighings on record cannot be true, in words; empty if they can.

    References
    ----------
    Own design, as for `weighed_water`.
    """
    masses = _masses(tree)
    low, high = _plausible(tree)
    if len(masses) < 2 or low <= max(masses) - min(masses) <= high:
        return ""
    return (
        f"weighings differ by {max(masses) - min(masses):.2f} kg, "
        f"a pot of {tree.pot.volume:.2f} L by {low:.2f} to {high:.2f} kg"
    )


def _masses(tree: Tree) -> list[float]:
    repotted = tree.last("repotted", "collected")
    return [
        record.amount
        for record in tree.records
        if record.kind == "pot-weighed"
        and record.amount is not None
        and (repotted is None or record.on >= repotted.on)
    ]


def _plausible(tree: Tree) -> tuple[float, float]:
    low, high = PLAUSIBLE_SHARE
    return low * tree.pot.volume, high * tree.pot.volume


@dataclass(frozen=True, slots=True)
class DryCheck:
    """What a person found in a pot, beside what was reckoned.

    Parameters
    ----------
    used
        Water used since the pot was full, by the model [L].
    dry
        Whether it wanted water; else it was still wet.
    """

    used: float
    dry: bool


def dry_checks(tree: Tree, used: Callable[[date], float]) -> tuple[DryCheck, ...]:
    """Return the findings "it was dry" and "still wet" recorded since the last repotting.

    Parameters
    ----------
    tree
        With its records.
    used
        Water used by the model from the last filling to a day [L]; NaN or 0 leaves the
        finding out.

    References
    ----------
    Own design.
    """
    repotted = tree.last("repotted", "collected")
    found = (
        DryCheck(used(record.on), dry=record.kind == "dry-seen")
        for record in tree.records
        if record.kind in ("dry-seen", "wet-seen")
        and (repotted is None or record.on >= repotted.on)
    )
    return tuple(check for check in found if check.used > 0)


def checked_water(before: EasyWater, checks: Sequence[DryCheck]) -> EasyWater:
    """Return what a pot holds after it was found dry or still wet some times.

    A pot found dry after little use holds less than thought, one still wet after
    much use holds more. Bayes' rule on a grid of the logarithm, from the value and
    range before; a person calls a pot dry near the end of the easily available
    water, give or take 25 %.

    Parameters
    ----------
    before
        From the table or from weighings.
    checks
        Found dry or wet, in any order.

    Raises
    ------
    RangeError
        If a use is not above 0, or the value before is not within its range.

    References
    ----------
    Bayes' rule with a probit likelihood; the spreads are our own.
    """
    if not 0 < before.low <= before.litres <= before.high:
        msg = f"{before.litres:g} L must lie within {before.low:g} to {before.high:g} L, above 0"
        raise RangeError(msg)
    if not checks:
        return before
    for check in checks:
        if not check.used > 0:
            msg = f"a check after {check.used:g} L of use says nothing: it must be above 0"
            raise RangeError(msg)
    grid = np.linspace(-_SPAN, _SPAN, _POINTS)
    spread = max(np.log(before.high / before.low) / 2, 0.02)
    weight = np.exp(-((grid / spread) ** 2) / 2)
    for check in checks:
        score = (np.log(check.used / before.litres) - grid) / JUDGING_SPREAD
        dry = np.array([0.5 * (1 + erf(value / sqrt(2))) for value in score.tolist()])
        weight *= dry if check.dry else 1 - dry
    low, middle, high = _quantiles(grid, weight, (0.16, 0.5, 0.84))
    return EasyWater(
        litres=before.litres * float(np.exp(middle)),
        low=before.litres * float(np.exp(low)),
        high=before.litres * float(np.exp(high)),
        source=f"{before.source}; found dry or wet {len(checks)} times",
        doubt=before.doubt,
    )


def _quantiles(grid: Floats, weight: Floats, levels: tuple[float, ...]) -> list[float]:
    # every weight gets a little, so that contradictory checks still have an answer
    total = np.cumsum(weight + 1e-12 * weight.max() + 1e-300)
    return [float(np.interp(level, total / total[-1], grid)) for level in levels]


def table_water(litres: float, source: str) -> EasyWater:
    """Return the table's value [L] with the wide range that a table deserves.

    References
    ----------
    Own design: substrates of one name differ by half and more.
    """
    if not litres > 0:
        msg = f"a pot holds more than {litres:g} L of water"
        raise RangeError(msg)
    factor = float(np.exp(TABLE_SPREAD))
    return EasyWater(litres, litres / factor, litres * factor, source)
