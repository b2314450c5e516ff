"""What studies say of the frost that kills emerging leaves and soft growth.

References
----------
Named with each value; Vitasse, Lenz, Hoch and Körner (2014), Journal of Ecology,
for the range over seven broadleaf trees.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mebuki.domain.taxon import Group, Taxon
from mebuki.season.frost_thresholds import (
    APPLE,
    APRICOT,
    CHERRY,
    PEACH,
    PLUM,
    BudStage,
    fruit_table,
)
from mebuki.season.root_studies import KillingRange

VITASSE = "Vitasse, Lenz, Hoch and Körner 2014, seven broadleaf trees"
_CHRISTERSSON = "Christersson and von Fircks 1988, as cited"
_EVERGREENS = "a study of the seasonal frost tolerance of ornamental evergreens, abstract"

_HALF_KILL: Mapping[str, tuple[float, str]] = MappingProxyType(
    {
        "fraxinus-excelsior": (-3.5, VITASSE),
        "prunus-avium": (-8.3, VITASSE),
        "fagus-sylvatica": (-4.8, "Lenz et al. 2013 (from memory)"),
        "picea-abies": (-3.0, _CHRISTERSSON),
        "pinus-sylvestris": (-6.0, _CHRISTERSSON),
    }
)

BROADLEAF = KillingRange(-8.3, -3.5, VITASSE, single=True)
EVERGREEN = KillingRange(-5.0, -1.0, _EVERGREENS, single=True)


def leaf_killing_range(taxon_id: str, group: Group) -> KillingRange:
    """Return the span of temperatures that kill half of a taxon's emerging leaves [°C].

    The value of the species or of its genus where there is one; it stands alone, so
    the range of its kind is shown with it: seven broadleaf trees, or the soft growth
    of hardy evergreens.

    Parameters
    ----------
    taxon_id
        Such as ``fagus-crenata``.
    group
        Of the taxon.

    Notes
    -----
    Trees that leaf out early stand more frost at the same stage.

    References
    ----------
    Those named in the answer's ``source``.
    """
    deciduous = group.startswith("deciduous")
    kind = BROADLEAF if deciduous else EVERGREEN
    own = _HALF_KILL.get(taxon_id)
    if own is None:
        genus = taxon_id.partition("-")[0]
        own = next((v for name, v in _HALF_KILL.items() if name.startswith(f"{genus}-")), None)
    if own is None:
        return kind
    at, source = own
    sources = dict.fromkeys((source, kind.source))
    return KillingRange(
        min(at, kind.coldest), max(at, kind.warmest), "; ".join(sources), single=len(sources) == 1
    )


FRUIT_TABLES = (APPLE, CHERRY, PEACH, PLUM, APRICOT)


@dataclass(frozen=True, slots=True)
class GrowthRange:
    """The span of what is published on frost on buds and leaves at a stage.

    Parameters
    ----------
    warmest, coldest
        Ends [°C] of the span.
    what
        What happens within it, such as ``kills half of such leaves``.
    why
        Why it is a span, such as ``studies differ``.
    source
        The studies.
    """

    warmest: float
    coldest: float
    what: str
    why: str
    source: str


def growth_range(taxon: Taxon, stage: BudStage) -> GrowthRange | None:
    """Return what is published on the frost that harms a taxon's growth at a stage.

    Leaves and soft growth: `leaf_killing_range`. Buds: from a tenth to nine tenths of
    them killed, by the table of the taxon's fruit crop; for a taxon without one the
    span over all fruit crops, which is a guess. None for dormant buds.

    References
    ----------
    Those named in the answer's ``source``.
    """
    if stage is BudStage.DORMANT:
        return None
    if stage in (BudStage.UNFOLDING, BudStage.FLOWERING):
        leaf = leaf_killing_range(taxon.id, taxon.group)
        why = "trees differ within one study" if leaf.single else "studies differ"
        return GrowthRange(
            leaf.warmest, leaf.coldest, "kills half of such growth", why, leaf.source
        )
    own = fruit_table(taxon.id)
    rows = [table.at(stage) for table in (FRUIT_TABLES if own is None else (own,))]
    known = [row for row in rows if row is not None]
    if not known:
        return None
    sources = dict.fromkeys(table.source for table in (FRUIT_TABLES if own is None else (own,)))
    why = "from a tenth of the buds to nine tenths"
    if own is None:
        why = "fruit trees differ; a guess for this taxon"
    return GrowthRange(
        max(row.ten_percent for row in known),
        min(row.ninety_percent for row in known),
        "kills buds at this stage",
        why,
        "; ".join(sources),
    )
