"""Rest between heavy operations."""

from __future__ import annotations

from datetime import date

from mebuki.agenda.conflicts import settle
from mebuki.domain.advice import Advice, CareKind, Days
from mebuki.domain.tree import Tree
from tests.builders import a_garden, a_record, a_rulebook, a_tree, an_advice


def settled(tree: Tree, advice: Advice | None = None) -> Advice:
    """Return the repotting advice of a tree after conflicts are settled."""
    chosen = advice or an_advice()
    (found,) = settle([chosen], a_garden([tree]), a_rulebook().practice)
    return found


def test_half_a_year_lies_between_a_major_bend_and_a_repotting() -> None:
    """Rule R02: bent in December, no repotting in March, until June."""
    advice = settled(a_tree(records=[a_record("major-bend", "2012-12-01")]))
    assert "major bend on 1 Dec 2012" in advice.blocked
    assert "until 2 Jun 2013" in advice.blocked


def test_a_rest_that_ends_within_the_window_only_shortens_it() -> None:
    """Pruned hard on 27 September, rest ends on 29 March: the window begins there."""
    advice = settled(a_tree(records=[a_record("hard-pruned", "2012-09-27")]))
    assert advice.blocked == ""
    assert advice.span == Days(date(2013, 3, 29), date(2013, 4, 4), date(2013, 3, 29))


def test_a_rest_that_has_ended_changes_nothing() -> None:
    """The same advice comes back, untouched."""
    assert settled(a_tree(records=[a_record("hard-pruned", "2012-06-01")])) == an_advice()


def test_defoliation_asks_for_a_year() -> None:
    """Rule R05: the second flush was paid from reserves."""
    advice = settled(a_tree(records=[a_record("defoliated", "2012-06-01")]))
    assert "until 1 Jun 2013" in advice.blocked


def test_a_tree_bought_last_month_settles_first() -> None:
    """Rule R04; a tree its keeper has repotted since is judged fit."""
    bought = a_record("acquired", "2013-02-20")
    assert "acquired" in settled(a_tree(records=[bought])).blocked
    since = a_record("repotted", "2013-02-25")
    assert settled(a_tree(records=[bought, since])).blocked == ""


def test_nothing_heavy_on_a_weak_tree() -> None:
    """Weak trees wait, and light work does not."""
    weak = a_tree(vigour="weak")
    assert "weak" in settled(weak).blocked
    light = an_advice(kind=CareKind.WIRE, action="wire-check")
    assert settled(weak, light) == light


def test_a_reason_given_by_the_rule_is_kept() -> None:
    """What is blocked already keeps its own words."""
    advice = an_advice(blocked="no shelter")
    tree = a_tree(records=[a_record("major-bend", "2012-12-01")])
    assert settled(tree, advice).blocked == "no shelter"
