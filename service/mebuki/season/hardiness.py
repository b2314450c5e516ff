"""How much cold the roots in a pot take, through the year."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import MappingProxyType

from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.season.humidity import refuse_outside
from mebuki.season.parameters import RootCold
from mebuki.season.root_studies import KillingRange, killing_range

SHIPPED = RootCold()
"""The figures as they are shipped."""

HIGHEST_LIMIT = -0.5
"""Highest limit of a hardy tree [°C]: freezing itself, below the plateau at 0 (default)."""

MONTH_DAYS = 365.25 / 12

_CLASS_SOURCE = "default after the range of Havis 1976, −5 to −23 °C in 38 taxa"


@dataclass(frozen=True, slots=True)
class RootClass:
    """A default class of root hardiness [°C]: mature roots, and young ones at the wall.

    ``span`` is the coldest and the warmest killing temperature published for mature
    roots of taxa in the class, or our own guess of it.
    """

    name: str
    mature: float
    young: float
    span: tuple[float, float]
    source: str = _CLASS_SOURCE

    def by(self, figures: RootCold) -> RootClass:
        """Return the class with the temperatures of a practice file."""
        mature, young, name = {
            "A": (figures.a_mature, figures.a_young, "a_mature"),
            "B": (figures.b_mature, figures.b_young, "b_mature"),
            "C": (figures.c_mature, figures.c_young, "c_mature"),
        }[self.name[0]]
        source = figures.sources.get(name, self.source)
        return replace(self, mature=mature, young=young, source=source)


CLASS_A = RootClass("A, least hardy", -5.0, -3.0, (-13.0, -4.4))
CLASS_B = RootClass("B, middling or unknown", -7.0, -4.0, (-20.0, -5.0))
CLASS_C = RootClass("C, hardiest", -12.0, -7.0, (-25.0, -10.0))

ONE_STUDY_SPAN = 3.0
"""Added on both sides where one value stands alone [K] (default).

The same taxon differs by 5 to 8 K between studies.
"""

_GENUS_CLASS: Mapping[str, RootClass] = MappingProxyType(
    dict.fromkeys(
        ("camellia", "buxus", "ilex", "cornus", "magnolia", "pyracantha", "cotoneaster",
         "viburnum", "cedrus"),
        CLASS_A,
    )
    | dict.fromkeys(("juniperus", "larix", "picea", "potentilla", "betula"), CLASS_C)
)  # fmt: skip
_SPECIES_CLASS: Mapping[str, RootClass] = MappingProxyType(
    dict.fromkeys(("pinus-mugo", "pinus-sylvestris"), CLASS_C)
)


def root_class(taxon_id: str, figures: RootCold = SHIPPED) -> RootClass:
    """Return the default class of a taxon without a published value of its own.

    References
    ----------
    Our own grouping. Havis (1976) gives −5 to −23 °C for mature roots of 38 taxa
    in containers; the same taxon differs by 5 to 8 K between studies.
    """
    genus = taxon_id.split("-", maxsplit=1)[0]
    return _SPECIES_CLASS.get(taxon_id, _GENUS_CLASS.get(genus, CLASS_B)).by(figures)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What makes roots less hardy than their season says."""

    early_winter: bool = False
    buds_swelling: bool = False
    repotted: bool = False
    dry: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The circumstances that hold, in words."""
        words = {
            "early winter": self.early_winter,
            "buds swelling": self.buds_swelling,
            "repotted within a year": self.repotted,
            "dry substrate": self.dry,
        }
        return tuple(word for word, holds in words.items() if holds)


def circumstances(
    tree: Tree,
    on: date,
    southern: bool,
    buds_swelling: bool = False,
    dry: bool = False,
    figures: RootCold = SHIPPED,
) -> Circumstances:
    """Return what holds for a tree on a day; winter begins on 1 December or 1 June."""
    month = 6 if southern else 12
    begins = date(on.year if on.month >= month else on.year - 1, month, 1)
    repotted = tree.last("repotted", "collected")
    young = timedelta(days=round(MONTH_DAYS * figures.repotted_months))
    return Circumstances(
        early_winter=begins <= on < begins + timedelta(weeks=figures.early_weeks),
        buds_swelling=buds_swelling,
        repotted=repotted is not None and on - repotted.on < young,
        dry=dry,
    )


@dataclass(frozen=True, slots=True)
class RootLimit:
    """Root-ball temperatures [°C] at or below which to act.

    ``mature`` is held against the mean of the root-ball, ``young`` against its
    wall, where young roots sit. ``killing`` is the span of what studies say kills
    mature roots as hardened as today, with its sources: a range to show, since no
    single number is sure. None for trees that are kept above a temperature.
    """

    mature: float
    young: float
    source: str
    killing: KillingRange | None = None


def root_limit(
    taxon: Taxon, acclimation: float, now: Circumstances, figures: RootCold = SHIPPED
) -> RootLimit:
    """Return the limits of a tree's roots on a day.

    The midwinter limit is the taxon's alert temperature; or its killing
    temperature, or that of its default class, plus 2 K. It is reached with full
    hardening and rises to −2 °C without: limit = L + (−2 − L)(1 − a). Any of the
    circumstances adds 3 K once; no limit of a hardy tree rises above −0.5 °C. A
    tree that must be kept above some temperature has that as its limit all year. These
    are the shipped figures; ``figures`` holds those of the practice file.

    Parameters
    ----------
    taxon
        The taxon's file.
    acclimation
        Share [0..1] of midwinter hardiness that the roots have.
    now
        What makes them less hardy.
    figures
        The figures of the practice file.

    Raises
    ------
    RangeError
        If the acclimation is outside 0 to 1.

    References
    ----------
    The scaling and the margins are our own; they follow Havis (1976) on young and
    mature roots and Lindström and Stattin (1994) on roots that October frost
    kills and January frost does not.
    """
    refuse_outside(acclimation, "acclimation", 0, 1, "")
    if taxon.hardiness.keep_above is not None:
        kept = taxon.hardiness.keep_above
        return RootLimit(kept.value, kept.value, f"keep above {kept.value:g} °C: {kept.source}")
    if taxon.group == "tropical":
        kept_above = f"tropical tree, kept above {figures.tender:g} °C: {figures.source('tender')}"
        return RootLimit(figures.tender, figures.tender, kept_above)
    midwinter, young, source = _midwinter(taxon, figures)
    extra = figures.extra if now.names else 0.0
    limits = [
        min(max(low + (figures.unhardened - low) * (1 - acclimation), low) + extra, HIGHEST_LIMIT)
        for low in (midwinter, young)
    ]
    told = f"; +{extra:g} °C for {', '.join(now.names)} ({figures.source('extra')})"
    why = told if extra else ""
    killing = killing_today(taxon, acclimation, figures)
    return RootLimit(limits[0], limits[1], f"{source}{why}", killing)


def killing_today(taxon: Taxon, acclimation: float, figures: RootCold = SHIPPED) -> KillingRange:
    """Return the span of killing temperatures of a hardy taxon's mature roots on a day [°C].

    In midwinter the range of the taxon's file and of all studies of it, of its genus
    where there is none; else the range of its class. One value alone is widened by 3 K
    either way. Both ends rise to −2 °C without hardening, as the limit does.

    Parameters
    ----------
    taxon
        The taxon's file.
    acclimation
        Share [0..1] of midwinter hardiness that the roots have.
    figures
        The figures of the practice file.

    References
    ----------
    Those named in the answer's ``source``; the widening is our own.
    """
    midwinter = _midwinter_span(taxon)
    coldest, warmest = (
        low + (figures.unhardened - low) * (1 - acclimation)
        for low in (midwinter.coldest, midwinter.warmest)
    )
    return KillingRange(coldest, max(warmest, coldest), midwinter.source, midwinter.single)


def _midwinter_span(taxon: Taxon) -> KillingRange:
    spans = [span for span in (_own_span(taxon), killing_range(taxon.id)) if span is not None]
    if not spans:
        group = root_class(taxon.id)
        source = f"no study of this taxon; class {group.name}: {_CLASS_SOURCE}"
        return KillingRange(*group.span, source, single=False)
    coldest, warmest = min(s.coldest for s in spans), max(s.warmest for s in spans)
    source = "; ".join(dict.fromkeys(span.source for span in spans))
    if coldest < warmest:
        return KillingRange(coldest, warmest, source, single=False)
    source += f"; ±{ONE_STUDY_SPAN:g} °C, since studies of one taxon differ by 5 to 8 °C"
    return KillingRange(coldest - ONE_STUDY_SPAN, warmest + ONE_STUDY_SPAN, source, single=True)


def _own_span(taxon: Taxon) -> KillingRange | None:
    kill = taxon.hardiness.root_kill
    if kill is None:
        return None
    low = kill.value if kill.low is None else min(kill.low, kill.value)
    high = kill.value if kill.high is None else max(kill.high, kill.value)
    return KillingRange(low, high, kill.source, single=low == high)


def _midwinter(taxon: Taxon, figures: RootCold) -> tuple[float, float, str]:
    hardiness = taxon.hardiness
    group = root_class(taxon.id, figures)
    margin = figures.margin
    softness = group.young - group.mature
    if hardiness.root_alert is not None:
        mature, source = hardiness.root_alert.value, hardiness.root_alert.source
    elif hardiness.root_kill is not None:
        mature = hardiness.root_kill.value + margin
        above = f"{margin:g} °C above ({figures.source('margin')})"
        source = f"{hardiness.root_kill.source}, {above}"
    else:
        mature, source = group.mature + margin, f"class {group.name}: {group.source}"
    if hardiness.root_kill_young is not None:
        return mature, hardiness.root_kill_young.value + margin, source
    return mature, mature + softness, source
