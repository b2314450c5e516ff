"""What is published on cold roots and leaves, row by row, and the ranges made of it."""

from __future__ import annotations

import pytest

from mebuki.domain.taxon import Group
from mebuki.rulebook import read_rulebook, read_taxa
from mebuki.season.frost_thresholds import BudStage, critical_temperature
from mebuki.season.hardiness import Circumstances, killing_today, root_class, root_limit
from mebuki.season.leaf_studies import growth_range, leaf_killing_range
from mebuki.season.pot_calibration import share_by_particle
from mebuki.season.pot_store import RESERVE
from mebuki.season.root_studies import STUDIES, Roots, killing_range, studies_of
from tests.builders import a_figure, a_taxon
from tests.published_tables import published_rows

ROOT_ROWS = published_rows("root_hardiness.csv")
LEAF_ROWS = published_rows("young_leaf_frost.csv")
BARE: dict[str, object] = {"root_alert": "unknown", "root_kill": "unknown"}
WORDS = {
    "botanicalgarden.ubc": "UBC", "growingfruit": "Mathers", "ehow": "Rutgers",
    "30cc116": "Society", "eurekamag": "Lindström and Stattin", "discovery": "Lindström,",
    "auf.isa": "Santamour", "bayweekly": "Maryland", "Havis": "Havis", "Studer": "Studer",
}  # fmt: skip
"""A piece of the source in the table, and the name it has with us."""


def source_of(index: int) -> str:
    """Return our name of the source of a row; "same" is that of the row above."""
    while ROOT_ROWS[index]["source"] == "same":
        index -= 1
    return next(word for piece, word in WORDS.items() if piece in ROOT_ROWS[index]["source"])


def roots_of(row: dict[str, str]) -> Roots:
    """Return which roots a row is about."""
    state = row["root_state"].casefold()
    if "october" in state or "late fall" in state:
        return Roots.AUTUMN
    return Roots.YOUNG if "immature" in state or "young" in state else Roots.MATURE


def test_every_study_of_roots_is_there() -> None:
    """87 rows, as many as the published table has; Havis (1976) has 38 of them."""
    assert len(STUDIES) == len(ROOT_ROWS) == 87
    assert sum(study.source.startswith("Havis") for study in STUDIES) == 38


@pytest.mark.parametrize("index", range(len(ROOT_ROWS)), ids=lambda i: ROOT_ROWS[i]["taxon"])
def test_every_row_of_root_hardiness_is_told_with_its_source(index: int) -> None:
    """Havis 1976, Studer et al. 1978, Santamour 1979, Lindström and others: °C within 0.05."""
    row = ROOT_ROWS[index]
    genus = "cedrus" if "Atlas cedar" in row["taxon"] else row["genus"].casefold()
    ends = [float(end) for end in row["T_C"].split("..")] if row["T_C"] else [-25.0, -15.0]
    found = [
        study
        for study in STUDIES
        if study.taxon.split()[0] == genus
        and study.roots is roots_of(row)
        and source_of(index) in study.source
        and study.coldest - 0.05 <= min(ends)
        and max(ends) <= study.warmest + 0.05
    ]
    assert found
    assert ("survived" in row["criterion"] or "tolerate" in row["criterion"]) <= found[0].survived


@pytest.mark.parametrize(
    "row", [row for row in ROOT_ROWS if roots_of(row) is Roots.MATURE], ids=lambda r: r["taxon"]
)
def test_every_published_killing_temperature_lies_in_the_range_shown(row: dict[str, str]) -> None:
    """Without a value of its own a taxon shows all that was published of it, or more."""
    genus = "cedrus" if "Atlas cedar" in row["taxon"] else row["genus"].casefold()
    epithet = row["taxon"].replace(" x ", " ").split()[1].strip("(").casefold()
    epithet = "atlantica" if genus == "cedrus" else epithet
    taxon = a_taxon(f"{genus}-{epithet}" if epithet.isalpha() else f"{genus}-x", hardiness=BARE)
    shown = killing_today(taxon, 1.0)
    assert shown.coldest - 0.05 <= float(row["T_C"]) <= shown.warmest + 0.05


def test_a_conflict_between_studies_is_shown() -> None:
    """Magnolia stellata: −13 °C in one study, −5 in another (Havis 1976, from memory)."""
    found = killing_range("magnolia-stellata")
    assert found is not None
    assert (found.coldest, found.warmest, found.single) == (-13, -5, False)
    assert "Havis 1976" in found.source
    assert "from memory" in found.source


def test_one_study_alone_is_widened_and_says_so() -> None:
    """±3 °C, since studies of one taxon differ by 5 to 8 °C."""
    found = killing_today(a_taxon("daphne-cneorum", hardiness=BARE), 1.0)
    assert (found.coldest, found.warmest) == pytest.approx((-9.7, -3.7))
    assert "studies of one taxon differ" in found.source
    own = a_taxon("zelkova-serrata", hardiness=BARE | {"root_kill": a_figure(-9, "a trial")})
    assert killing_today(own, 1.0).coldest == -12
    ranged = a_figure(-9, "two trials", low=-12, high=-8)
    both = a_taxon("zelkova-serrata", hardiness=BARE | {"root_kill": ranged})
    assert (killing_today(both, 1.0).coldest, killing_today(both, 1.0).warmest) == (-12, -8)


def test_a_taxon_without_a_study_says_so() -> None:
    """Zelkova: the range of its class, named as such; genus before class where there is one."""
    assert studies_of("zelkova-serrata") == ()
    found = killing_today(a_taxon("zelkova-serrata", hardiness=BARE), 1.0)
    assert found.source.startswith("no study of this taxon")
    assert (found.coldest, found.warmest) == root_class("zelkova-serrata").span
    assert {study.taxon for study in studies_of("acer-buergerianum")} == {
        "acer palmatum", "acer ginnala",
    }  # fmt: skip


def test_the_range_rises_with_lost_hardening_and_ends_at_two_below() -> None:
    """Both ends scale as the limit does: L + (−2 − L)(1 − a)."""
    taxon = a_taxon("magnolia-stellata", hardiness=BARE)
    half, soft = killing_today(taxon, 0.5), killing_today(taxon, 0.0)
    assert (half.coldest, half.warmest) == (-7.5, -3.5)
    assert (soft.coldest, soft.warmest) == (-2, -2)
    assert root_limit(taxon, 1.0, Circumstances()).killing == killing_today(taxon, 1.0)


@pytest.mark.parametrize("taxon", sorted(read_taxa()))
def test_every_shipped_hardy_taxon_acts_above_the_middle_of_what_kills(taxon: str) -> None:
    """The limit at which to act lies above the middle of the published killing range."""
    limit = root_limit(read_taxa()[taxon], 1.0, Circumstances())
    if limit.killing is not None:
        assert limit.mature > (limit.killing.coldest + limit.killing.warmest) / 2


GROUPS: dict[str, Group] = {
    "Fraxinus excelsior": "deciduous-broadleaf", "Prunus avium": "deciduous-broadleaf",
    "Fagus sylvatica": "deciduous-broadleaf", "Picea abies": "needle-evergreen",
    "Pinus sylvestris": "needle-evergreen",
}  # fmt: skip


@pytest.mark.parametrize("row", LEAF_ROWS[:8], ids=lambda row: row["taxon"])
def test_every_row_of_young_leaf_frost_lies_in_its_range(row: dict[str, str]) -> None:
    """Vitasse et al. 2014, Lenz et al. 2013, Christersson and von Fircks 1988."""
    group = GROUPS.get(row["taxon"], "deciduous-broadleaf")
    known = row["taxon"] in GROUPS
    name = row["taxon"].casefold().replace(" ", "-") if known else "tilia-cordata"
    shown = leaf_killing_range(name, group)
    ends = [float(end) for end in row["T_C"].split("..")]
    first = critical_temperature(a_taxon(name, group=group), BudStage.UNFOLDING)
    assert first is not None
    assert first.ten_percent >= max(ends)
    if "seedling" not in row["organ_stage"]:
        assert shown.coldest <= min(ends)
        assert max(ends) <= shown.warmest


def test_the_rows_on_evergreens_hold() -> None:
    """Soft growth −5 to −1; Juniperus chinensis unhurt at −19; Camellia is of the tender class."""
    soft, juniper, camellia = LEAF_ROWS[8:]
    shown = leaf_killing_range("taxus-baccata", "needle-evergreen")
    assert [shown.coldest, shown.warmest] == [float(end) for end in soft["T_C"].split("..")]
    shoot = read_taxa()["juniperus-chinensis"].hardiness.shoot
    assert shoot is not None
    assert shoot.value <= float(juniper["T_C"])
    assert root_class("camellia-japonica").span[0] >= float(camellia["T_C"])


@pytest.mark.parametrize("stage", [BudStage.UNFOLDING, BudStage.FLOWERING])
def test_what_is_shown_for_leaves_is_the_range_of_their_studies(stage: BudStage) -> None:
    """Hornbeam: the seven trees of Vitasse et al. 2014, who differ within one study."""
    found = growth_range(a_taxon("carpinus-betulus"), stage)
    assert found is not None
    assert (found.warmest, found.coldest) == (-3.5, -8.3)
    assert found.why == "trees differ within one study"
    assert "Vitasse" in found.source


def test_what_is_shown_for_buds_is_the_table_of_the_crop_or_of_all_crops() -> None:
    """Apple at silver tip 15 to 2 °F (Pennsylvania); a maple from the crops' 20 to 0 °F."""
    apple = growth_range(a_taxon("malus-halliana"), BudStage.SWELLING)
    assert apple is not None
    assert (apple.warmest, apple.coldest) == pytest.approx((-9.44, -16.67), abs=0.01)
    assert "a tenth" in apple.why
    maple = growth_range(a_taxon(), BudStage.SWELLING)
    assert maple is not None
    assert (maple.warmest, maple.coldest) == pytest.approx((-6.67, -17.78), abs=0.01)
    assert "a guess" in maple.why
    assert growth_range(a_taxon(), BudStage.DORMANT) is None


MATERIALS = read_rulebook().materials
MIXES = read_rulebook().substrates
POROSITY = {"perlite": 0.61, "pumice": 0.53, "lava": 0.61, "grit": 0.44}
"""As stated in the row on perlite, pumice, lava and granite."""


def capacity(name: str) -> float:
    """Return the water a material or mix holds after drainage, as a share of volume."""
    return (MIXES[name] if name in MIXES else MATERIALS[name]).capacity.value


def lowest(name: str) -> float:
    """Return the low end of the water a material holds; its value where it has no range."""
    figure = MATERIALS[name].capacity
    return figure.value if figure.low is None else figure.low


def easy(name: str) -> float:
    """Return the easily available water of a mix, as a share of volume."""
    return MIXES[name].easily_available_water.value


def from_density(name: str) -> float:
    """Return the pore space of a peat-type material by the published line on its density."""
    return 0.9672 - 0.00038 * 1000 * MATERIALS[name].dry_density.value


def air_in_tuff(easily_available: float) -> float:
    """Return the air at 1 kPa in tuff of an easily available water, as a share of volume.

    Pores as stated for lava, less that water with its reserve, less what lava holds
    tighter: its capacity without what a coarse one gives easily.
    """
    tight = capacity("lava") - share_by_particle(6).value * (1 + RESERVE)
    return POROSITY["lava"] - easily_available * (1 + RESERVE) - tight


def air_in_drained_pot(easily_available: float, height: float) -> float:
    """Return the mean air in a drained pot so many cm high, wet through at its bottom.

    Suction is the height above the bottom, 1 kPa at 10 cm, and air is taken to enter in
    proportion to it up to 1 kPa.
    """
    suctions = [(part + 0.5) / 100 * height / 10 for part in range(100)]
    return air_in_tuff(easily_available) * sum(min(each, 1.0) for each in suctions) / 100


SUBSTRATE_CHECKS: list[tuple[str, list[tuple[float, float, float]]]] = [
    ("Santos Coello and Ríos Mesa 2023, coarse tuff: EAW below 5 %",
     [(share_by_particle(6).low, 0, 0.05), (share_by_particle(12).value, 0, 0.05)]),
    ("Santos Coello and Ríos Mesa 2023, coarse tuff: air above 35 %",
     [(POROSITY["lava"] - capacity("coarse-mineral"), 0.35, 1)]),
    ("Santos Coello and Ríos Mesa 2023, fine tuff: EAW 20 to 26 %",
     [(share_by_particle(1).value, 0.20, 0.26), (share_by_particle(1).high, 0.20, 0.26)]),
    ("Santos Coello and Ríos Mesa 2023, fine tuff: air below 20 % at the wet end of our range, "
     "and in a drained pot 10 cm high at its middle",
     [(air_in_tuff(share_by_particle(1).high), 0, 0.20),
      (air_in_drained_pot(share_by_particle(1).value, 10), 0, 0.20)]),
    ("cup test, perlite 22 %, sieved: the low end",
     [(capacity("perlite"), 0.22, 0.5), (lowest("perlite"), 0.22, 0.22)]),
    ("cup test, pumice 17 %, sieved: the low end",
     [(capacity("pumice"), 0.17, 0.4), (lowest("pumice"), 0.17, 0.17)]),
    ("cup test, lava 18 %, sieved: the low end", [(capacity("lava"), 0.18, 0.4)]),
    ("cup test, granite 8 %, sieved: the low end",
     [(capacity("grit"), 0.08, 0.3), (lowest("grit"), 0.08, 0.08)]),
    ("porosity as stated: nothing holds more than its pores",
     [(capacity(name), 0, pores) for name, pores in POROSITY.items()]),
    ("pore space from density, peat types: nothing holds more than its pores",
     [(capacity(name), 0, from_density(name)) for name in ("peat", "coir", "pine-bark")]),
    ("greenhouse target, air 20 to 25 % of pores or more in an open mix",
     [(1 - capacity("bark-peat") / 0.85, 0.20, 0.6)]),
    ("De Boodt and Verdonck 1972 (from memory): EAW 20-30, WBC 4-10",
     [(easy("bark-peat"), 0.20, 0.30), (easy("bark-peat") * RESERVE, 0.04, 0.10)]),
    ("Yeager et al., BMP guide (from memory): CC 45-65, available 25-35 with the reserve",
     [(capacity("bark-peat"), 0.45, 0.65), (easy("bark-peat") * (1 + RESERVE), 0.25, 0.35)]),
    ("pumice, order of magnitude (from memory): CC 25-40, EAW 5-12, density 0.4-0.7",
     [(capacity("pumice"), 0.25, 0.40), (easy("coarse-mineral"), 0.05, 0.12),
      (MATERIALS["pumice"].dry_density.value, 0.4, 0.7)]),
    ("fired clay, order of magnitude (from memory): CC 35-45, EAW 8-15, density 0.55-0.75",
     [(capacity("fired-clay"), 0.35, 0.45), (easy("fine-mineral"), 0.08, 0.15),
      (MATERIALS["fired-clay"].dry_density.value, 0.55, 0.75)]),
]  # fmt: skip
"""A check for each row of the published table: our values, and the ends they must lie within."""


def test_every_row_on_substrates_has_its_check() -> None:
    """15 rows, in the order of the table."""
    assert len(SUBSTRATE_CHECKS) == len(published_rows("substrates.csv"))


@pytest.mark.parametrize(
    ("source", "values"), SUBSTRATE_CHECKS, ids=[source for source, _ in SUBSTRATE_CHECKS]
)
def test_substrates_lie_within_what_is_published(
    source: str, values: list[tuple[float, float, float]]
) -> None:
    """Shipped materials, mixes and the rule by particle size against each source."""
    for ours, least, most in values:
        assert least <= ours <= most, source
