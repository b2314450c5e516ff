"""What studies say of the cold that kills roots in containers, study by study.

The same taxon differs by 5 to 8 K between studies, so nothing here is a promise:
`killing_range` returns the span of all that was published, with its sources.

References
----------
Named with each value. Values marked "from memory" are to be checked against the
paper before anybody quotes them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

HAVIS = "Havis 1976, HortScience 11:385 (from memory)"
STUDER = "Studer et al. 1978 (from memory, low confidence)"
SANTAMOUR = "Santamour 1979, Journal of Arboriculture 5:276"
LINDSTROM_STATTIN = "Lindström and Stattin 1994"
LINDSTROM = "Lindström, seasonal root hardiness of container-grown seedlings"
TAXUS = "Journal of the American Society for Horticultural Science 96:83, 1971"
UBC = "UBC Botanical Garden forum, quoting published figures"
MATHERS = "Mathers, Ohio State University, as quoted"
RUTGERS = "Rutgers NJAES FS528, as quoted"
MARYLAND = "University of Maryland, newspaper column on potted plants"


class Roots(StrEnum):
    """Which roots a study froze, and when."""

    MATURE = "mature, midwinter"
    YOUNG = "young"
    AUTUMN = "not yet hardened, autumn"


@dataclass(frozen=True, slots=True)
class RootStudy:
    """One published value.

    Parameters
    ----------
    taxon
        Genus, or genus and species, in lower case.
    roots
        Which roots.
    coldest, warmest
        Killing temperature [°C]; the two differ where a study gives a span.
    survived
        Whether roots lived at that temperature: they die below it.
    source
        The study.
    """

    taxon: str
    roots: Roots
    coldest: float
    warmest: float
    survived: bool
    source: str


@dataclass(frozen=True, slots=True)
class KillingRange:
    """Killing temperatures [°C] of one kind of roots over all studies, and the studies.

    ``single`` is true where one study stands alone.
    """

    coldest: float
    warmest: float
    source: str
    single: bool


def studies_of(taxon_id: str, roots: Roots = Roots.MATURE) -> tuple[RootStudy, ...]:
    """Return the studies of a species, or of its genus where there is none of the species.

    Parameters
    ----------
    taxon_id
        Such as ``magnolia-stellata``.
    roots
        Which roots.
    """
    genus, _, epithet = taxon_id.partition("-")
    names = {f"{genus} {epithet.replace('-', ' ')}"}
    kind = [study for study in STUDIES if study.roots is roots]
    of_species = tuple(study for study in kind if study.taxon in names)
    return of_species or tuple(study for study in kind if study.taxon.split()[0] == genus)


def killing_range(taxon_id: str, roots: Roots = Roots.MATURE) -> KillingRange | None:
    """Return the span of killing temperatures of a taxon's roots, or none without a study.

    Where roots survived the coldest that was tried, the true end lies below.

    References
    ----------
    Those named in the answer's ``source``.
    """
    found = studies_of(taxon_id, roots)
    if not found:
        return None
    return KillingRange(
        coldest=min(study.coldest for study in found),
        warmest=max(study.warmest for study in found),
        source="; ".join(dict.fromkeys(study.source for study in found)),
        single=len({study.source for study in found}) == 1,
    )


def _killed(source: str, roots: Roots, *pairs: tuple[str, float]) -> list[RootStudy]:
    return [RootStudy(taxon, roots, at, at, False, source) for taxon, at in pairs]


def _survived(source: str, *pairs: tuple[str, float]) -> list[RootStudy]:
    return [RootStudy(taxon, Roots.MATURE, at, at, True, source) for taxon, at in pairs]


# fmt: off
STUDIES: tuple[RootStudy, ...] = (
    *_killed(
        HAVIS, Roots.MATURE,
        ("magnolia soulangeana", -5), ("magnolia stellata", -5), ("cornus florida", -6.7),
        ("daphne cneorum", -6.7), ("ilex crenata", -6.7), ("ilex crenata", -6.7),
        ("ilex crenata", -6.7), ("ilex opaca", -6.7), ("pyracantha coccinea", -7.8),
        ("cryptomeria japonica", -8.9), ("cotoneaster horizontalis", -9.4),
        ("viburnum carlesii", -9.4), ("cytisus praecox", -9.4), ("buxus sempervirens", -9.4),
        ("ilex glabra", -9.4), ("euonymus fortunei", -9.4), ("euonymus fortunei", -9.4),
        ("hedera helix", -9.4), ("pachysandra terminalis", -9.4), ("vinca minor", -9.4),
        ("pieris japonica", -9.4), ("acer palmatum", -10), ("cotoneaster adpressus", -12.2),
        ("taxus media", -12.2), ("rhododendron", -12.2), ("rhododendron", -12.2),
        ("pieris japonica", -12.2), ("leucothoe fontanesiana", -15), ("pieris floribunda", -15),
        ("euonymus fortunei", -15), ("juniperus horizontalis", -17.8),
        ("juniperus horizontalis", -17.8), ("rhododendron carolinianum", -17.8),
        ("rhododendron catawbiense", -17.8), ("rhododendron", -23.3),
        ("potentilla fruticosa", -23.3), ("picea glauca", -23.3), ("picea omorika", -23.3),
    ),
    *_killed(
        STUDER, Roots.MATURE,
        ("buxus sempervirens", -9.4), ("cornus florida", -11.7), ("euonymus alatus", -13.9),
        ("koelreuteria paniculata", -20), ("mahonia bealei", -11.1),
        ("leucothoe fontanesiana", -15), ("stephanandra incisa", -17.8),
        ("viburnum plicatum", -13.9),
    ),
    *_killed(
        STUDER, Roots.YOUNG,
        ("buxus sempervirens", -2.8), ("cornus florida", -6.1), ("euonymus alatus", -7.2),
        ("koelreuteria paniculata", -8.9), ("mahonia bealei", -3.9),
        ("leucothoe fontanesiana", -7.2), ("stephanandra incisa", -7.8),
        ("viburnum plicatum", -7.2),
    ),
    *_killed(
        SANTAMOUR, Roots.MATURE,
        ("fraxinus pennsylvanica", -15),
    ),
    *_killed(
        SANTAMOUR, Roots.YOUNG,
        ("fraxinus pennsylvanica", -9),
    ),
    *_survived(
        LINDSTROM_STATTIN,
        ("pinus sylvestris", -20), ("picea abies", -25),
    ),
    RootStudy("pinus sylvestris", Roots.AUTUMN, -20, -10, False, LINDSTROM_STATTIN),
    RootStudy("picea abies", Roots.AUTUMN, -20, -10, False, LINDSTROM_STATTIN),
    RootStudy("pinus contorta", Roots.AUTUMN, -25, -15, True, LINDSTROM),
    *_survived(
        TAXUS,
        ("taxus cuspidata", -29),
    ),
    *_killed(
        UBC, Roots.MATURE,
        ("acer palmatum", -10), ("magnolia stellata", -13), ("magnolia stellata", -5),
    ),
    *_killed(
        UBC, Roots.YOUNG,
        ("magnolia stellata", -6),
    ),
    *_killed(
        MATHERS, Roots.MATURE,
        ("ilex opaca", -12.8),
    ),
    *_killed(
        MATHERS, Roots.YOUNG,
        ("ilex opaca", -5),
    ),
    *_killed(
        RUTGERS, Roots.MATURE,
        ("magnolia soulangeana", -5),
    ),
    *_killed(
        MARYLAND, Roots.MATURE,
        ("buxus", -4.4), ("camellia", -4.4), ("ilex cornuta", -4.4), ("ilex crenata", -4.4),
        ("cornus", -4.4), ("magnolia", -4.4), ("viburnum", -4.4), ("picea pungens", -4.4),
        ("cedrus atlantica", -4.4),
    ),
    *_survived(
        MARYLAND,
        ("picea glauca", -17.8), ("acer ginnala", -17.8), ("betula", -17.8),
        ("chamaecyparis", -17.8), ("kalmia latifolia", -17.8), ("juniperus", -17.8),
        ("juniperus virginiana", -17.8), ("rhododendron", -17.8), ("rhus", -17.8),
    ),
)
# fmt: on
"""Every value; the midwinter ones of Havis are killing temperatures of 38 taxa."""
