"""Pots as stores of water, and how thirsty their trees are through the year.

The balance that steps them through the hours is in `pot_water`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from mebuki.domain.practice import Substrate
from mebuki.domain.taxon import Group, Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.weather import Floats, Ints
from mebuki.errors import RangeError
from mebuki.season.parameters import PotWater
from mebuki.season.pot_calibration import EasyWater, table_water, weighed_water

RESERVE = 0.25
"""Water beyond the easily available, 5 to 10 kPa, as a share of it (default).

De Boodt and Verdonck (1972) give 4 to 10 % beside 20 to 30 % (from memory).
"""

READY_SHARE = 0.5
"""Share of all available water that is used before the tree slows down.

FAO-56 table 22 gives 0.5 for deciduous fruit and citrus (from memory).
"""

POT_BOUND_YEARS = 3
"""Years after repotting from which a pot counts as full of roots (default)."""

RECORD_COUNTS = timedelta(days=3)
"""How long a record of watering stands before the daily routine is assumed again (default)."""

FALL_RAMP_DAYS = 21
"""Days from the beginning of leaf fall to its end (default)."""

SHIPPED = PotWater()
"""The figures as they are shipped."""


def full_and_bare(taxon: Taxon, figures: PotWater = SHIPPED) -> tuple[float, float]:
    """Return the basal coefficients of a taxon in full leaf, and leafless or in winter.

    Those of its group times the share for its class of need.

    References
    ----------
    Our own defaults, anchored on the measured water use of container shrubs (Beeson
    2010; Schuch and Burger 1997).
    """
    by_group: Mapping[Group, tuple[float, float]] = {
        "deciduous-broadleaf": (figures.deciduous, figures.leafless),
        "deciduous-conifer": (figures.deciduous, figures.leafless),
        "evergreen-broadleaf": (figures.evergreen, figures.evergreen_winter),
        "needle-evergreen": (figures.conifer, figures.evergreen_winter),
        "scale-juniper": (figures.conifer, figures.evergreen_winter),
        "tropical": (figures.evergreen, figures.evergreen),
    }
    need = {"low": figures.low, "medium": figures.medium, "high": figures.high}
    full, bare = by_group[taxon.group]
    share = need[taxon.upkeep.water_class]
    return full * share, bare * share


@dataclass(frozen=True, slots=True, eq=False)
class Leaves:
    """The course of the leaves, one value a tree.

    Parameters
    ----------
    full, bare
        Basal crop coefficient in full leaf, and leafless or in winter rest.
    break_day, fall_day
        Ordinals of bud break and of the beginning of leaf fall or winter rest;
        NaN where unknown, which counts as in full leaf, so that no pot dries
        unnoticed.
    ramp_days
        Days from bud break to full leaf.
    """

    full: Floats
    bare: Floats
    break_day: Floats
    fall_day: Floats
    ramp_days: float = SHIPPED.leaf_ramp_days

    @classmethod
    def of(
        cls,
        taxa: Sequence[Taxon],
        break_days: Sequence[date | None],
        fall_days: Sequence[date | None],
        figures: PotWater = SHIPPED,
    ) -> Leaves:
        """Return the course of the leaves of trees from their taxa and dates."""
        coefficients = [full_and_bare(taxon, figures) for taxon in taxa]
        return cls(
            full=np.array([full for full, _ in coefficients]),
            bare=np.array([bare for _, bare in coefficients]),
            break_day=np.array([_ordinal(day) for day in break_days]),
            fall_day=np.array([_ordinal(day) for day in fall_days]),
            ramp_days=figures.leaf_ramp_days,
        )


def _ordinal(day: date | None) -> float:
    return float("nan") if day is None else float(day.toordinal())


def basal_coefficient(leaves: Leaves, days: Ints) -> Floats:
    """Return the basal crop coefficient, shape (trees, days).

    It rises over 30 days (`Leaves.ramp_days`) from bud break and falls over 21 from the
    beginning of leaf fall; before bud break and after leaf fall the tree is bare.

    References
    ----------
    Allen et al. (1998), FAO-56, chapter 7 for the form; the numbers are defaults.
    """
    day = np.asarray(days, dtype=np.float64)[None, :]
    opening = (day - leaves.break_day[:, None]) / max(leaves.ramp_days, 1.0)
    closing = 1 - (day - leaves.fall_day[:, None]) / FALL_RAMP_DAYS
    opening = np.where(np.isnan(opening), 1.0, np.clip(opening, 0, 1))
    closing = np.where(np.isnan(closing), 1.0, np.clip(closing, 0, 1))
    leafy = np.minimum(opening, closing)
    return np.asarray(leaves.bare[:, None] + (leaves.full - leaves.bare)[:, None] * leafy)


@dataclass(frozen=True, slots=True, eq=False)
class Pots:
    """Pots as the water balance sees them, one value a pot.

    Parameters
    ----------
    top_area, canopy_area
        [m2].
    easy_water
        Easily available water when full [L].
    watered
        The day on which the pot was last watered, or none for a pot that is
        filled every morning.
    figures
        What fills and empties them; the same for all.
    """

    top_area: Floats
    canopy_area: Floats
    easy_water: Floats
    watered: tuple[date | None, ...]
    figures: PotWater = SHIPPED

    def __post_init__(self) -> None:
        for name in ("top_area", "canopy_area", "easy_water"):
            if not np.all(getattr(self, name) > 0):
                msg = f"{name} of a pot must be above 0"
                raise RangeError(msg)

    @property
    def total_water(self) -> Floats:
        """All available water when full [L]: the easily available and the reserve."""
        return np.asarray(self.easy_water * (1 + RESERVE))

    @classmethod
    def joined(cls, places: Sequence[Pots]) -> Pots:
        """Return the pots of several places, one place after the other."""
        return cls(
            top_area=np.concatenate([pots.top_area for pots in places]),
            canopy_area=np.concatenate([pots.canopy_area for pots in places]),
            easy_water=np.concatenate([pots.easy_water for pots in places]),
            watered=tuple(day for pots in places for day in pots.watered),
            figures=places[0].figures,
        )

    def repeated(self, times: int) -> Pots:
        """Return the same pots several times over, for members of an ensemble."""
        return Pots.joined([self] * times)

    @classmethod
    def of(
        cls,
        trees: Sequence[Tree],
        substrates: Mapping[str, Substrate],
        on: date,
        figures: PotWater = SHIPPED,
    ) -> Pots:
        """Return the pots of trees as they are on a day.

        Raises
        ------
        KeyError
            If a tree stands in a substrate that is not among the given ones.
        """
        return cls(
            top_area=np.array([tree.pot.top_area for tree in trees]),
            canopy_area=np.array([tree.canopy_area for tree in trees]),
            easy_water=np.array(
                [easy_water(tree, substrates[tree.substrate], on, figures) for tree in trees]
            ),
            watered=tuple(_watered(tree, on) for tree in trees),
            figures=figures,
        )


def easy_water(tree: Tree, substrate: Substrate, on: date, figures: PotWater = SHIPPED) -> float:
    """Return the easily available water [L] of a full pot on a day; see `easy_water_range`."""
    return easy_water_range(tree, substrate, on, figures).litres


def easy_water_range(
    tree: Tree, substrate: Substrate, on: date, figures: PotWater = SHIPPED
) -> EasyWater:
    """Return the easily available water [L] of a full pot on a day, with its range.

    What two weighings since the last repotting say; without them the substrate's
    share of the pot's volume, cut by the room that roots take: by 15 % a year after
    repotting, by 30 % from the third year; 15 % if no repotting is known.

    References
    ----------
    De Boodt and Verdonck (1972) for the share; the cuts are our own.
    """
    weighed = weighed_water(tree)
    if weighed is not None:
        return weighed
    repotted = tree.last("repotted", "collected")
    years = 1.0 if repotted is None else (on - repotted.on).days / 365.25
    share = substrate.easily_available_water
    grown = figures.roots_bound if years >= POT_BOUND_YEARS else figures.roots_one_year
    room = tree.pot.volume * (1.0 if years < 1 else grown)
    wide = table_water(share.value * room, f"{substrate.name}: {share.source}")
    if share.low is None or share.high is None:
        return wide
    low, high = (room * min(max(end, 0.01), 1) for end in (share.low, share.high))
    return EasyWater(wide.litres, min(low, wide.litres), max(high, wide.litres), wide.source)


def water_between_weighings(watered_kg: float, dry_kg: float) -> float:
    """Return the easily available water [L] from two weighings of a pot.

    The first after watering and draining, the second when it would be watered
    again. This is the best value there is: it replaces the substrate table.

    Raises
    ------
    RangeError
        If the second is not lighter than the first, or a mass is not above 0.
    """
    if not 0 < dry_kg < watered_kg:
        msg = (
            f"the pot weighed {dry_kg:g} kg before watering and {watered_kg:g} kg after: "
            "the first must be above 0 and below the second"
        )
        raise RangeError(msg)
    return watered_kg - dry_kg


def _watered(tree: Tree, on: date) -> date | None:
    record = tree.last("watered")
    if record is None or not on - RECORD_COUNTS <= record.on <= on:
        return None
    return record.on
