"""What rules look at: sound records only, and shelters that suit each tree."""

from __future__ import annotations

from mebuki.rounds.cases import Rules, cases, sound_garden
from tests.builders import (
    ON,
    a_frost_free_place,
    a_garden,
    a_place,
    a_record,
    a_rulebook,
    a_taxon,
    a_tree,
    a_tropical_taxon,
    an_outlook,
    by_tree,
)
from tests.plans import a_picture

TAXA = {"acer-palmatum": a_taxon(), "ficus-microcarpa": a_tropical_taxon()}
WINDOW = a_place("window", name="Window", kind="indoors", minimum_held=15)


def test_a_windowsill_shelters_the_fig_and_the_shed_the_maple() -> None:
    """Each tree's case names only the places that suit it."""
    trees = [a_tree("Maple"), a_tree("Fig", taxon="ficus-microcarpa")]
    garden = a_garden(trees, [a_place(), a_frost_free_place(), WINDOW])
    outlooks = by_tree([an_outlook(tree.id) for tree in trees])
    maple, fig = cases(garden, Rules(TAXA, a_rulebook()), outlooks, a_picture(), ON)
    assert [each.place for each in maple.shelters] == ["Shed"]
    assert [each.place for each in fig.shelters] == ["Window"]
    assert maple.shelter_available
    assert fig.shelter_available


def test_a_windowsill_alone_is_no_shelter_for_a_maple() -> None:
    """The garden holds frost out only where a maple would wake."""
    garden = a_garden([a_tree("Maple")], [a_place(), WINDOW])
    outlooks = by_tree([an_outlook("maple")])
    (case,) = cases(garden, Rules(TAXA, a_rulebook()), outlooks, a_picture(), ON)
    assert case.shelters == ()
    assert not case.shelter_available


def test_records_in_doubt_are_named_and_not_seen_by_rules() -> None:
    """Repotted twice in a week: the second is in doubt, the garden keeps both."""
    records = [a_record("repotted", "2013-03-01"), a_record("repotted", "2013-03-04")]
    garden = a_garden([a_tree("Maple", records=records)])
    outlooks = by_tree([an_outlook("maple")])
    (case,) = cases(garden, Rules(TAXA, a_rulebook()), outlooks, a_picture(), ON)
    assert len(case.tree.records) == 1
    assert case.doubts == ("repotted on 4 Mar 2013: it was repotted on 1 Mar 2013, days before",)
    assert len(garden.trees[0].records) == 2
    assert len(sound_garden(garden).trees[0].records) == 1
