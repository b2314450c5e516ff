"""Materials of a repotting: litres by the tree's own mix, the usual mix, mesh, tie wire."""

from __future__ import annotations

from typing import Any

import pytest

from mebuki.domain.advice import Case
from mebuki.rulebook import read_rulebook, read_taxa
from mebuki.rules import repot
from mebuki.rules.recipe import litres, materials
from tests.builders import a_case, a_pot, a_tree

BOOK = read_rulebook()
TAXA = read_taxa()


def told(case: Case) -> dict[str, str]:
    """Return the materials by name."""
    return {reason.what: reason.value for reason in materials(case)}


def case_of(taxon: str, **tree: Any) -> Case:
    """Return the case of a tree of a shipped taxon with the shipped rules."""
    return a_case(a_tree(taxon=taxon, **tree), taxon=TAXA[taxon], rulebook=BOOK)


def test_the_litres_are_the_parts_of_the_mix_and_fill_the_pot() -> None:
    """A pot of 30 × 20 × 10 cm, filled to nine tenths, takes 5.4 L: thirds of 1.8 L."""
    pot = a_pot(shape="rectangle", length_cm=30, width_cm=20, height_cm=10)
    parts = litres(case_of("juniperus-chinensis", pot=pot, substrate="mixed-mineral"))
    assert sum(parts.values()) == pytest.approx(5.4)
    assert parts["akadama"] == pytest.approx(5.4 * 0.34)


@pytest.mark.parametrize(
    ("taxon", "part"),
    [
        ("juniperus-chinensis", "akadama, pumice and lava, 33 % each"),
        ("acer-palmatum", "50 to 70 % akadama"),
        ("rhododendron-indicum", "70 to 100 % kanuma"),
        ("portulacaria-afra", "70 to 100 % pumice or grit"),
    ],
)
def test_the_usual_mix_of_a_group_is_common_practice(taxon: str, part: str) -> None:
    """Common practice: three mineral parts for conifers, more akadama for leaves, kanuma, grit."""
    reason = next(each for each in materials(case_of(taxon)) if each.what == "usual mix")
    assert part in reason.value
    assert reason.source == "practice"


def test_mesh_and_tie_wire_are_listed_with_their_sizes() -> None:
    """A mesh of 2 to 3 mm over every hole; two ties through a pot of 30 × 7 cm take 0.9 m."""
    found = told(case_of("acer-palmatum"))
    assert found["mesh over every hole, opening"] == "2.5 mm (usually 2 to 3)"
    assert found["tie wire"] == "about 0.9 m of 2 mm, 2 points"


def test_an_unknown_substrate_gives_no_litres() -> None:
    """Nothing is guessed."""
    case = case_of("acer-palmatum", substrate="secret")
    assert litres(case) == {}
    assert "substrate" not in told(case)


def test_a_repotting_names_its_materials() -> None:
    """The advice carries what to have at hand."""
    advice = repot.advise(case_of("acer-palmatum"))[0]
    assert {"substrate", "usual mix", "tie wire"} <= {reason.what for reason in advice.reasons}
