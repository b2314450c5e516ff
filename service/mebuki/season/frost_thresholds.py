"""Temperatures that hurt buds, flowers and young leaves, by stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.outlook import Milestone
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import Floats
from mebuki.season.parameters import BudLimits


class BudStage(StrEnum):
    """How far buds have come, as far as frost is concerned."""

    DORMANT = "dormant"
    SWELLING = "swelling"
    GREEN_TIP = "green tip"
    UNFOLDING = "unfolding leaves"
    FLOWERING = "flowers or soft leaves"


_AFTER: Mapping[Milestone | None, BudStage] = MappingProxyType(
    {
        None: BudStage.DORMANT,
        Milestone.SWELL: BudStage.SWELLING,
        Milestone.MODERATE_SWELL: BudStage.SWELLING,
        Milestone.FIRST_OPEN: BudStage.GREEN_TIP,
        Milestone.BREAK: BudStage.GREEN_TIP,
        Milestone.UNFOLDED: BudStage.UNFOLDING,
        Milestone.GROWN: BudStage.UNFOLDING,
        Milestone.FLOWERING: BudStage.FLOWERING,
    }
)


def bud_stage(newest: Milestone | None) -> BudStage:
    """Return the stage after the newest milestone of buds a tree has passed, none before any.

    Milestones that are none of opening buds (shoot growth ended, leaf fall, warm
    nights) leave them dormant.
    """
    return _AFTER.get(newest, BudStage.DORMANT)


@dataclass(frozen=True, slots=True)
class CriticalTemperature:
    """Tissue temperatures [°C] that kill 10 % and 90 % in half an hour, and their source."""

    ten_percent: float
    ninety_percent: float
    source: str


@dataclass(frozen=True, slots=True)
class FruitTable:
    """A published table of a fruit tree's buds.

    ``rows`` maps the stage as published to the temperatures [°F] that kill 10 %
    and 90 % of buds with normal hardening in 30 minutes; ``use`` says which row
    stands for each of our stages.
    """

    crop: str
    source: str
    rows: Mapping[str, tuple[float, float | None]]
    use: Mapping[BudStage, str]

    def at(self, stage: BudStage) -> CriticalTemperature | None:
        """Return the critical temperatures [°C] of a stage; none for dormant buds."""
        row = self.use.get(stage)
        if row is None:
            return None
        ten, ninety = self.rows[row]
        ninety = ten - 10 if ninety is None else ninety
        return CriticalTemperature(
            celsius(ten), celsius(ninety), f"{self.crop}, {row}: {self.source}"
        )


def celsius(fahrenheit: float) -> float:
    """Return a temperature [°C] from one in °F."""
    return (fahrenheit - 32) / 1.8


def _uses(swelling: str, green: str, unfolding: str, flowering: str) -> Mapping[BudStage, str]:
    stages = (BudStage.SWELLING, BudStage.GREEN_TIP, BudStage.UNFOLDING, BudStage.FLOWERING)
    return MappingProxyType(dict(zip(stages, (swelling, green, unfolding, flowering), strict=True)))


_PENNSYLVANIA = "Pennsylvania State University Extension, orchard frost critical temperatures"
_MICHIGAN = "Michigan State University Extension, spring freeze damage thresholds"

APPLE = FruitTable(
    "apple",
    _PENNSYLVANIA,
    {
        "silver tip": (15, 2), "green tip": (18, 10), "half-inch green": (23, 15),
        "tight cluster": (27, 21), "first pink": (28, 24), "full pink": (28, 25),
        "first bloom": (28, 25), "full bloom": (28, 25), "post bloom": (28, 25),
    },
    _uses("silver tip", "green tip", "tight cluster", "full bloom"),
)  # fmt: skip
CHERRY = FruitTable(
    "sweet cherry",
    _PENNSYLVANIA,
    {
        "first swelling": (17, 5), "side green": (22, 9), "green tip": (25, 14),
        "tight cluster": (26, 17), "open cluster": (27, 21), "first white": (27, 24),
        "first bloom": (28, 25), "full bloom": (28, 25), "post bloom": (28, 25),
    },
    _uses("first swelling", "green tip", "tight cluster", "full bloom"),
)  # fmt: skip
PEACH = FruitTable(
    "peach",
    _PENNSYLVANIA,
    {
        "first swelling": (18, 1), "calyx green": (21, 5), "calyx red": (23, 9),
        "first pink": (25, 15), "first bloom": (26, 21), "full bloom": (27, 24),
        "post bloom": (28, 25),
    },
    _uses("first swelling", "calyx green", "first pink", "full bloom"),
)  # fmt: skip
PLUM = FruitTable(
    "european plum",
    _MICHIGAN,
    {
        "first swelling": (14, 0), "side white": (17, 3), "tip green": (20, 7),
        "tight cluster": (24, 16), "first white": (26, 22), "first bloom": (27, 23),
        "full bloom": (28, 23), "post bloom": (28, 23),
    },
    _uses("first swelling", "tip green", "tight cluster", "full bloom"),
)  # fmt: skip
APRICOT = FruitTable(
    "apricot",
    _MICHIGAN,
    {
        "first swelling": (15, None), "tips separate": (20, 0), "calyx red": (22, 9),
        "first white": (24, 14), "first bloom": (25, 19), "full bloom": (27, 22),
        "in the shuck": (27, 24), "green fruit": (28, 25),
    },
    _uses("tips separate", "calyx red", "first white", "full bloom"),
)  # fmt: skip

_SPECIES_TABLE: Mapping[str, FruitTable] = MappingProxyType(
    {
        "prunus-mume": APRICOT, "prunus-armeniaca": APRICOT, "prunus-persica": PEACH,
        "prunus-domestica": PLUM, "prunus-cerasifera": PLUM, "prunus-spinosa": PLUM,
    }
)  # fmt: skip
_GENUS_TABLE: Mapping[str, FruitTable] = MappingProxyType({"malus": APPLE, "prunus": CHERRY})

_FLUSH_NOTE = "after Christersson and von Fircks 1988, as cited"
SHIPPED = BudLimits()
"""The limits as they are shipped."""

_SPANS: Mapping[BudStage, tuple[str, float]] = MappingProxyType(
    {
        BudStage.SWELLING: ("swelling", 5.0),
        BudStage.GREEN_TIP: ("green_tip", 4.0),
        BudStage.UNFOLDING: ("unfolding", 2.5),
        BudStage.FLOWERING: ("flowering", 2.0),
    }
)
"""The name of each default, and from there to heavy damage [K] (default)."""
_FLUSHING_CONIFERS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"picea": (-3.0, -6.0), "pinus": (-6.0, -9.0)}
)
DORMANT_SPAN, YOUNG_SPAN = 5.0, 2.5
"""From the first damage to heavy damage, for dormant buds and young leaves [K] (default)."""


def fruit_table(taxon_id: str) -> FruitTable | None:
    """Return the table of a taxon's fruit crop, or none for a taxon without one."""
    genus = taxon_id.split("-", maxsplit=1)[0]
    return _SPECIES_TABLE.get(taxon_id) or _GENUS_TABLE.get(genus)


def critical_temperature(
    taxon: Taxon, stage: BudStage, limits: BudLimits = SHIPPED
) -> CriticalTemperature | None:
    """Return the tissue temperatures that hurt a tree at a stage.

    In order: the taxon's own value (shoots for dormant buds, new growth for
    leaves and flowers), the table of its fruit crop, flushing conifers, the limits of
    the practice file.
    None for dormant buds of unknown hardiness.

    Notes
    -----
    The fruit tables hold for buds with normal hardening; after a warm spell they
    may be 1 to 2 K less hardy. Emerging leaves of seven broadleaf trees die to
    half at −3.5 to −8.3 °C (Vitasse et al. 2014); the defaults stay above.

    References
    ----------
    Extension tables as named in each value; Vitasse, Lenz, Hoch and Körner (2014);
    the defaults are our own.
    """
    own = _own(taxon, stage)
    if own is not None or stage is BudStage.DORMANT:
        return own
    table = fruit_table(taxon.id)
    if table is not None:
        return table.at(stage)
    genus = taxon.id.split("-", maxsplit=1)[0]
    if stage is BudStage.UNFOLDING and genus in _FLUSHING_CONIFERS:
        ten, ninety = _FLUSHING_CONIFERS[genus]
        return CriticalTemperature(ten, ninety, f"flushing {genus}, {_FLUSH_NOTE}")
    name, span = _SPANS[stage]
    ten = {
        "swelling": limits.swelling,
        "green_tip": limits.green_tip,
        "unfolding": limits.unfolding,
        "flowering": limits.flowering,
    }[name]
    return CriticalTemperature(ten, ten - span, f"{limits.source(name)} for {stage.value}")


def _own(taxon: Taxon, stage: BudStage) -> CriticalTemperature | None:
    if stage is BudStage.DORMANT:
        figure, span = taxon.hardiness.shoot, DORMANT_SPAN
    elif stage in (BudStage.UNFOLDING, BudStage.FLOWERING):
        figure, span = taxon.hardiness.new_growth_damage, YOUNG_SPAN
    else:
        return None
    if figure is None:
        return None
    return CriticalTemperature(figure.value, figure.value - span, figure.source)


def killed_share(temperature: ArrayLike, critical: CriticalTemperature) -> Floats:
    """Return the share [0..1] of buds killed in half an hour at a tissue temperature [°C].

    Linear through 10 % and 90 %, held within 0 and 1.

    References
    ----------
    The critical temperatures' own definition; between them our own straight line.
    """
    span = critical.ten_percent - critical.ninety_percent
    depth = (critical.ten_percent - np.asarray(temperature, np.float64)) / span
    return np.asarray(np.clip(0.1 + 0.8 * depth, 0, 1))
