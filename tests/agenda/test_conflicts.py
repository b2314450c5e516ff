"""Rest between heavy operations."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import combinations
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.conflicts import HEAVY, settle
from mebuki.domain.advice import Advice, CareKind, Days, Urgency
from mebuki.domain.tree import Tree
from tests.builders import a_day, a_garden, a_record, a_rulebook, a_tree, an_advice


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


def a_pruning(first: str, last: str, **changes: Any) -> Advice:
    """Return advice to cut branches in a window."""
    return an_advice(
        kind=CareKind.PRUNE, action="prune-structure", cycle="2013/late-winter",
        span=Days(a_day(first), a_day(last)), fact="late winter", **changes,
    )  # fmt: skip


def both(*advice: Advice, tree: Tree | None = None) -> tuple[Advice, ...]:
    """Return advice of one tree after conflicts are settled, in the order given."""
    return settle(advice, a_garden([tree or a_tree()]), a_rulebook().practice)


def test_a_repotting_that_is_due_puts_off_the_pruning_of_the_same_spring() -> None:
    """Rules R01 and R02: one heavy operation, reason, end and what may be combined are told."""
    prune, repot = both(a_pruning("2013-02-20", "2013-03-20"), an_advice())
    assert repot.blocked == ""
    assert "repotting comes first (22 Mar – 4 Apr)" in prune.blocked
    assert "heavy pruning waits until 28 Sep 2013" in prune.blocked
    assert "up to 15 % of the foliage" in prune.blocked


def test_what_lies_half_a_year_apart_is_left_alone() -> None:
    """Repotted in March, cut in October: both may be done."""
    advice = (an_advice(), a_pruning("2013-09-20", "2013-10-20"))
    assert both(*advice) == advice


def test_a_repotting_that_must_wait_puts_nothing_off() -> None:
    """Blocked by frost, it takes no place from the pruning."""
    advice = (an_advice(blocked="no shelter"), a_pruning("2013-02-20", "2013-03-20"))
    assert both(*advice) == advice


def test_a_window_that_has_passed_puts_nothing_off() -> None:
    """It was not used: the next season's counts."""
    advice = (an_advice(urgency=Urgency.PAST), a_pruning("2013-05-01", "2013-06-01"))
    assert both(*advice) == advice


def test_candles_are_not_cut_in_the_year_of_a_repotting() -> None:
    """Repotting goes first; decandling two months later waits, and no other tree is touched."""
    span = Days(date(2013, 6, 15), date(2013, 7, 10))
    cut = an_advice(kind=CareKind.PRUNE, action="decandle", span=span)
    other = an_advice("bo", kind=CareKind.PRUNE, action="decandle", span=span)
    garden = a_garden([a_tree(), a_tree("Bo")])
    repot, mine, theirs = settle([an_advice(), cut, other], garden, a_rulebook().practice)
    assert repot.blocked == ""
    assert "cutting the candles waits until" in mine.blocked
    assert theirs.blocked == ""


def test_cut_candles_rest_a_year_and_cut_branches_half_of_one() -> None:
    """Rule R05: a repotting nine months after decandling is too early."""
    span = Days(date(2013, 6, 15), date(2013, 6, 30))
    cut = an_advice(kind=CareKind.PRUNE, action="decandle", span=span)
    later = a_pruning("2014-03-01", "2014-03-20")
    assert "waits until" in both(cut, later)[1].blocked
    assert both(a_pruning("2013-06-15", "2013-06-30"), later)[1].blocked == ""


def test_autumn_and_next_spring_are_two_offers_of_one_repotting() -> None:
    """The keeper takes one of them: neither puts off the other."""
    autumn = an_advice(action="repot-autumn", span=Days(date(2013, 9, 1), date(2013, 9, 20)))
    spring = an_advice(cycle="2014", span=Days(date(2014, 3, 10), date(2014, 3, 25)))
    assert both(autumn, spring) == (autumn, spring)


def test_a_repotting_on_record_puts_off_cutting_and_not_the_next_repotting() -> None:
    """The interval of the taxon decides when roots are next seen to."""
    tree = a_tree(records=[a_record("repotted", "2013-03-01")])
    prune, repot = both(a_pruning("2013-06-01", "2013-06-20"), an_advice(), tree=tree)
    assert "repotted on 1 Mar 2013: the tree rests until" in prune.blocked
    assert repot.blocked == ""


def test_a_tree_dug_last_year_is_not_styled_yet() -> None:
    """Rule R03: a year at least; its roots may be seen to."""
    tree = a_tree(records=[a_record("collected", "2012-06-01")])
    prune, repot = both(a_pruning("2013-02-20", "2013-03-20"), an_advice(), tree=tree)
    assert "collected on 1 Jun 2012" in prune.blocked
    assert repot.blocked == ""


HEAVY_ACTIONS = st.sampled_from(sorted(HEAVY))
STARTS = st.dates(date(2013, 1, 1), date(2014, 6, 1))


@given(st.lists(st.tuples(HEAVY_ACTIONS, STARTS, st.integers(0, 40)), max_size=6))
def test_what_is_left_open_can_be_done_with_its_rest(
    drawn: list[tuple[str, date, int]],
) -> None:
    """Of any advice for one tree, what stays open leaves half a year between two operations."""
    advice = [
        an_advice(action=action, cycle=str(number), span=Days(first, first + timedelta(days=long)))
        for number, (action, first, long) in enumerate(drawn)
    ]
    found = both(*advice)
    assert [each.cycle for each in found] == [each.cycle for each in advice]
    free = [each for each in found if not each.blocked]
    assert bool(free) is bool(advice)
    for one, other in combinations(free, 2):
        if {one.action, other.action} <= {"repot-window", "repot-autumn"}:
            continue
        assert isinstance(one.span, Days)
        assert isinstance(other.span, Days)
        first, last = sorted((one.span, other.span), key=lambda each: each.first)
        assert (last.last - first.first).days >= 182
