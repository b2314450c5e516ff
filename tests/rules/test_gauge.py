"""Which wire for which branch, and what a bend in the cold asks for."""

from __future__ import annotations

from datetime import date

import pytest

from mebuki.domain.advice import Advice, Case, Days
from mebuki.rulebook import read_rulebook, read_taxa
from mebuki.rules import frost, wire
from mebuki.rules.gauge import gauge_reasons, nearest
from tests.builders import (
    a_case,
    a_growth_clock,
    a_night,
    a_record,
    a_refuge,
    a_southern_site,
    a_tree,
    a_tropical_taxon,
)

BOOK = read_rulebook()
TAXA = read_taxa()


def case_of(taxon: str, *records: object) -> Case:
    """Return the case of a wired tree of a shipped taxon with the shipped rules."""
    return a_case(a_tree(taxon=taxon, records=list(records)), taxon=TAXA[taxon], rulebook=BOOK)


@pytest.mark.parametrize(
    ("branch", "aluminium", "copper"),
    [(3, "aluminium, 1.0 mm", "copper, 0.8 mm"), (9, "aluminium, 3.0 mm", "copper, 2.3 mm"),
     (12, "aluminium, 4.0 mm", "copper, 3.2 mm")],
)  # fmt: skip
def test_wire_is_a_third_as_thick_as_the_branch(branch: float, aluminium: str, copper: str) -> None:
    """Common practice: one third, in aluminium; copper holds like aluminium 1.35 times thicker."""
    (first, *_) = gauge_reasons(case_of("acer-palmatum"), branch)
    assert first.value == f"{aluminium} or {copper} for a branch of {branch} mm"


def test_a_conifer_is_offered_copper_first() -> None:
    """The taxon file names annealed copper for pines."""
    first = gauge_reasons(case_of("pinus-thunbergii"), 9)[0]
    assert first.value.startswith("copper, 2.3 mm")


def test_a_branch_too_thick_for_wire_is_told() -> None:
    """A branch of 40 mm wants 13 mm of aluminium; 8 mm is the thickest sold."""
    assert "guy wire" in gauge_reasons(case_of("acer-palmatum"), 40)[0].value
    assert "guy wire" not in gauge_reasons(case_of("acer-palmatum"), 24)[0].value


def test_without_a_thickness_or_a_table_no_wire_is_named() -> None:
    """Nothing is guessed."""
    assert gauge_reasons(case_of("acer-palmatum"), 0) == ()
    assert gauge_reasons(a_case(), 9) == ()
    assert nearest(a_case(), "copper", 2) is None


def test_the_thickness_on_record_is_used_by_the_check() -> None:
    """The record of the wiring holds the thickness of the branch in mm."""
    tree = case_of("juniperus-chinensis", a_record("wired", "2013-03-01", amount=9))
    (check,) = [each for each in wire.advise(tree) if each.action == "wire-check"]
    told = {reason.what: reason.value for reason in check.reasons}
    assert told["wire to use"].endswith("for a branch of 9 mm")
    assert told["usual shortest time"]


def guards(case: Case) -> list[Advice]:
    """Return the care after a bend."""
    return [each for each in wire.advise(case) if each.action == "bend-guard"]


def test_a_tree_bent_in_autumn_is_kept_from_frost_for_four_weeks() -> None:
    """Rule R19, with the place that would keep frost out."""
    tree = a_tree(records=[a_record("major-bend", "2012-10-20")])
    (advice,) = guards(a_case(tree, on="2012-10-22", shelters=[a_refuge("Shed")]))
    assert advice.span == Days(date(2012, 10, 20), date(2012, 11, 17))
    assert "such as Shed" in advice.deed
    assert guards(a_case(tree, on="2012-11-17")) != []
    assert guards(a_case(tree, on="2012-11-18")) == []


def test_a_tree_bent_in_summer_needs_no_guard() -> None:
    """In growth the wood closes; in the south July is winter."""
    tree = a_tree(records=[a_record("major-bend", "2013-07-01")])
    assert guards(a_case(tree, on="2013-07-05")) == []
    assert guards(a_case(tree, on="2013-07-05", site=a_southern_site())) != []


def test_a_tropical_tree_bent_in_winter_stands_in_the_warm_anyway() -> None:
    """Nothing is said of frost to a tree indoors."""
    tree = a_tree(records=[a_record("major-bend", "2012-12-20")])
    assert guards(a_case(tree, taxon=a_tropical_taxon(), on="2012-12-22")) == []


def test_frost_on_bent_wood_asks_for_shelter_and_on_wired_twigs_does_not() -> None:
    """A strong bend in October and −2 °C a week later: bring in; light wiring makes no alarm."""
    night = [a_night("2012-10-27", -2)]
    bent = a_tree(records=[a_record("major-bend", "2012-10-20")])
    (advice,) = frost.advise(a_case(bent, on="2012-10-27", nights=night, stages=()))
    assert (advice.action, advice.rule) == ("frost-night", "frost R19")
    assert advice.fact.startswith("bent wood")
    wired = a_tree(records=[a_record("wired", "2012-10-20")])
    assert frost.advise(a_case(wired, on="2012-10-27", nights=night, stages=())) == ()


def test_wire_is_first_checked_well_before_four_months_of_growth() -> None:
    """Common practice: wired at the start of growth, the first look comes within weeks."""
    for taxon in TAXA.values():
        tree = a_tree(taxon=taxon.id, records=[a_record("wired", "2013-04-26")])
        case = a_case(
            tree, taxon=taxon, rulebook=BOOK, on="2013-04-27", growth=((2013, a_growth_clock()),)
        )
        (check,) = [each for each in wire.advise(case) if each.action == "wire-check"]
        assert isinstance(check.span, Days)
        assert (check.span.first - date(2013, 4, 26)).days < 70, taxon.id
