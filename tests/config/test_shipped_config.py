"""What is shipped: every number has a source, and the example garden is a garden."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from mebuki.domain.figure import Figure
from mebuki.domain.garden import Garden
from mebuki.domain.taxon import Taxon
from mebuki.rulebook import check_files, read_garden, read_rulebook, read_taxa, shipped_config
from mebuki.settings import Settings
from tests.builders import CAUTIONS, PRACTICE

CONFIG = shipped_config()
RECIPES = (".parts", ".parameters")
"""Tables of bare numbers: their source stands beside the table."""

EXAMPLE = CONFIG / "garden.example.toml"
DEMO_YEAR_ENDS = date(2013, 12, 31)
GARDENS = (EXAMPLE, CONFIG / "demo" / "hindcast.garden.toml")
RULES = sorted(path for path in CONFIG.rglob("*.toml") if path not in GARDENS)
TAXA = read_taxa()
RULEBOOK = read_rulebook()


@pytest.fixture(scope="module")
def garden() -> Garden:
    """Return the example garden."""
    return read_garden(EXAMPLE, TAXA, substrates=RULEBOOK.substrates, today=DEMO_YEAR_ENDS)


def _data(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text("utf-8"))


def _texts(data: object) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    for part in data.values() if isinstance(data, dict) else data if isinstance(data, list) else ():
        yield from _texts(part)


def _unsourced(data: object, where: str = "") -> Iterator[str]:
    """Yield the numbers that stand in a table without a source."""
    if isinstance(data, list):
        for part in data:
            yield from _unsourced(part, where)
    if not isinstance(data, dict):
        return
    for key, value in data.items():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if number and not data.get("source") and not where.endswith(RECIPES):
            yield f"{where}.{key}"
        yield from _unsourced(value, f"{where}.{key}")


def test_every_shipped_file_is_without_fault() -> None:
    """Rules and example garden pass the check that a keeper's own files must pass."""
    assert check_files(list(GARDENS), None, DEMO_YEAR_ENDS) == []


@pytest.mark.parametrize("path", RULES, ids=lambda path: path.name)
def test_every_number_has_a_source(path: Path) -> None:
    """No number stands in a rule file without saying where it comes from."""
    assert list(_unsourced(_data(path))) == []


@pytest.mark.parametrize("path", RULES, ids=lambda path: path.name)
def test_sources_are_written_out_for_a_reader(path: Path) -> None:
    """Codes of a table, half-made texts and doses have no place in a shipped file."""
    for text in _texts(_data(path)):
        assert not re.search(
            r"\b(ARN2?|KPU|HAVIS|STUDER|LIND94|VIT14|NZFROST|CP|PSU|TAXR71)\b", text
        )
        assert not re.search(r"\b\d[\d.]*\s*(ml|mL|g|oz|tsp|cc)\s*(per|/|in a)\s*\w", text)
        assert not re.search(r"dilut|one part .* to ", text.lower())


def test_the_taxa_are_those_of_the_trade() -> None:
    """At least 54 taxa in all groups, among them what a keeper would look for first."""
    assert len(TAXA) >= 54
    assert len({taxon.group for taxon in TAXA.values()}) == 6
    for wanted in (
        "acer-palmatum", "acer-buergerianum", "juniperus-chinensis", "pinus-thunbergii",
        "fagus-crenata", "ulmus-parvifolia", "rhododendron-indicum", "ficus-microcarpa",
        "olea-europaea", "prunus-yedoensis",
    ):  # fmt: skip
        assert wanted in TAXA


@pytest.mark.parametrize("taxon", TAXA.values(), ids=TAXA)
def test_the_alert_comes_well_before_roots_are_known_to_die(taxon: Taxon) -> None:
    """The root alert is at least 3 °C above any known killing value, its own or a relative's."""
    hardiness = taxon.hardiness
    known = [kill.value for kill in (hardiness.root_kill, hardiness.root_relative) if kill]
    if hardiness.root_alert is None:
        assert hardiness.keep_above is not None
    elif known:
        assert hardiness.root_alert.value >= max(known) + 3


@pytest.mark.parametrize("taxon", TAXA.values(), ids=TAXA)
def test_the_clocks_of_a_taxon_are_in_order(taxon: Taxon) -> None:
    """Swelling comes before the first open bud, that before half, unfolded and grown leaves."""
    phenology = taxon.phenology
    order = [
        phenology.swell.value if phenology.swell else 0.29,
        phenology.first_open.value if phenology.first_open else 0.89,
        1.0,
        phenology.unfolded.value if phenology.unfolded else 1.09,
        phenology.grown.value if phenology.grown else 1.82,
    ]
    assert order == sorted(order)
    assert phenology.bud_break.cwtt.value > 0
    assert 0.05 < phenology.bud_break.sd_ln.value < 1
    assert phenology.bud_break.quality
    if phenology.flowering is not None:
        assert phenology.flowering.cwtt.value > phenology.bud_break.cwtt.value


@pytest.mark.parametrize(
    ("taxon", "requirement", "source"),
    [
        ("fagus-sylvatica", 415, "Menzel 1997"),
        ("quercus-robur", 381, "Menzel 1997"),
        ("pinus-sylvestris", 484, "Menzel 1997"),
        ("tsuga-canadensis", 468, "HF003"),
        ("fagus-crenata", 295, "HF003"),
        ("prunus-yedoensis", 135, "KMA"),
        ("zelkova-serrata", 230, "default"),
        ("ginkgo-biloba", 260, "default"),
    ],
)
def test_a_heat_requirement_says_whether_it_was_measured(
    taxon: str, requirement: float, source: str
) -> None:
    """Fitted values name the data; where none are published the file says default."""
    figure = TAXA[taxon].phenology.bud_break.cwtt
    assert figure.value == requirement
    assert source in figure.source


def test_killing_temperatures_are_the_published_ones() -> None:
    """Havis 1976 and Lindström and Stattin 1994: mature roots, °C, rounded from °F."""
    published = {
        "picea-glauca": (-10 - 32) / 1.8, "cryptomeria-japonica": (16 - 32) / 1.8,
        "acer-palmatum": (14 - 32) / 1.8, "cotoneaster-horizontalis": (15 - 32) / 1.8,
        "buxus-sempervirens": (15 - 32) / 1.8, "ilex-crenata": (20 - 32) / 1.8,
        "picea-abies": -25, "pinus-sylvestris": -20,
    }  # fmt: skip
    for name, celsius in published.items():
        kill = TAXA[name].hardiness.root_kill
        assert kill is not None
        assert kill.value == pytest.approx(celsius, abs=0.05)


def test_the_poisonous_are_marked() -> None:
    """Yew, savin, wisteria seeds, azalea and box carry a warning."""
    for name in (
        "taxus-baccata", "juniperus-sabina", "wisteria-floribunda", "rhododendron-indicum",
        "buxus-sempervirens",
    ):  # fmt: skip
        harm = TAXA[name].upkeep.toxicity
        assert harm is not None
        assert "toxic" in harm.value


def test_practice_has_the_figures_that_the_rules_use() -> None:
    """The figures the care rules are tested with are the shipped ones."""
    assert {key: RULEBOOK.practice.value(key) for key in PRACTICE} == PRACTICE


@pytest.mark.parametrize(
    ("key", "figure"), RULEBOOK.practice.figures.items(), ids=RULEBOOK.practice.figures
)
def test_a_practice_figure_tells_its_rule(key: str, figure: Figure) -> None:
    """Each figure says in a sentence what it is for, and lies in its own range."""
    assert len(figure.note) > 20, key
    assert figure.note.endswith(".")
    assert figure.confidence is not None
    if figure.low is not None:
        assert figure.low <= figure.value
    if figure.high is not None:
        assert figure.value <= figure.high


def test_cautions_name_who_stands_behind_them() -> None:
    """Every caution that a rule may name is there, with an authority."""
    assert set(CAUTIONS) <= set(RULEBOOK.cautions)
    for caution in RULEBOOK.cautions.values():
        assert len(caution.authority) > 10
        assert len(caution.text) > 40
    preservatives = RULEBOOK.cautions["pesticides-and-preservatives"]
    assert "label" in preservatives.text
    assert not re.search(r"\d+ ?(ml|g|%|oz)", preservatives.text)


def test_mixes_add_up_from_their_materials() -> None:
    """The parts of a mix make one, and give its capacity and wet density within 0.01."""
    for mix in RULEBOOK.substrates.values():
        parts = {RULEBOOK.materials[name]: share for name, share in mix.parts.items()}
        assert sum(parts.values()) == pytest.approx(1)
        capacity = sum(share * part.capacity.value for part, share in parts.items())
        density = sum(share * part.wet_density.value for part, share in parts.items())
        assert mix.capacity.value == pytest.approx(capacity, abs=0.01)
        assert mix.wet_density.value == pytest.approx(density, abs=0.01)
        assert mix.easily_available_water.value < mix.capacity.value


def test_wire_weighs_what_its_metal_weighs() -> None:
    """Mass of a metre from 2700 and 8960 kg m-3 within 3 % or 0.1 g; gauges as defined."""
    assert len(RULEBOOK.wire) >= 24
    for size in RULEBOOK.wire:
        density = {"aluminium": 2700, "copper": 8960}[size.metal]
        mass = density * math.pi / 4 * (size.diameter_mm.value / 1000) ** 2 * 1000
        assert size.mass_g_per_m.value == pytest.approx(mass, rel=0.03, abs=0.1)
        gauge = re.search(r"AWG (\d+)", size.label)
        if gauge:
            thick = 0.127 * 92 ** ((36 - int(gauge[1])) / 39)
            assert size.diameter_mm.value == pytest.approx(thick, abs=0.006)


def test_the_example_settings_name_every_setting() -> None:
    """Each setting is explained and none is made up."""
    text = (CONFIG / "settings.example.env").read_text("utf-8")
    named = set(re.findall(r"^# (MEBUKI_[A-Z_]+)=", text, re.MULTILINE))
    assert named == {f"MEBUKI_{name.upper()}" for name in Settings.model_fields}


def test_the_example_garden_is_invented_and_says_so(garden: Garden) -> None:
    """Nobody real is in it: addresses end where no mail is delivered."""
    assert garden.invented
    for subscriber in garden.subscribers:
        assert subscriber.email.endswith(("@example.org", ".invalid"))


def test_the_example_garden_is_a_garden(garden: Garden) -> None:
    """Many trees of many taxa in different pots and places, all in use."""
    assert len(garden.trees) >= 26
    assert len({tree.taxon for tree in garden.trees}) >= 12
    assert len({str(tree.pot) for tree in garden.trees}) >= 20
    assert {tree.place for tree in garden.trees} == {place.id for place in garden.places}
    assert len(garden.places) >= 5
    assert {tree.value for tree in garden.trees} == {"prized", "good", "ordinary"}
    assert {tree.development for tree in garden.trees} == {"training", "refined"}
    assert "weak" in {tree.vigour for tree in garden.trees}


def test_bigger_crowns_stand_in_bigger_pots(garden: Garden) -> None:
    """A crown is from as wide as its pot to three times as wide."""
    for tree in garden.trees:
        assert 1.0 <= tree.canopy_cm / tree.pot.length_cm <= 3.0


def test_the_example_year_gives_every_rule_something_to_say(garden: Garden) -> None:
    """Repotted before late frosts, wired in autumn and in May, due in spring, tender ones."""

    def kept(kind: str, first: date, last: date) -> set[str]:
        return {
            tree.name
            for tree in garden.trees
            for record in tree.records
            if record.kind == kind and first <= record.on <= last
        }

    assert len(kept("repotted", date(2013, 3, 1), date(2013, 3, 31))) == 2
    assert len(kept("wired", date(2012, 10, 1), date(2012, 10, 31))) == 2
    assert len(kept("wired", date(2013, 5, 1), date(2013, 5, 31))) >= 3
    tender = [tree for tree in garden.trees if TAXA[tree.taxon].hardiness.keep_above]
    assert len(tender) >= 2
    for tree in garden.trees:
        days = [record.on for record in tree.records]
        assert days == sorted(days)
