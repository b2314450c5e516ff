"""Records that contradict others: each named, kept, and left out of what rules see."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.history import contradictions, sound
from mebuki.domain.tree import Record, Tree
from tests.builders import a_pot, a_record, a_tree


def doubts(*records: Record, **changes: Any) -> list[str]:
    """Return what is told of a tree with some records."""
    return [str(each) for each in contradictions(a_tree(records=list(records), **changes))]


def test_a_whole_history_has_no_contradiction() -> None:
    """Collected, repotted, wired, looked at, wire off, seen to open: all in order."""
    assert doubts(
        a_record("collected", "2009-03-01"), a_record("repotted", "2011-03-20"),
        a_record("wired", "2012-05-01"), a_record("wire-checked", "2012-06-01"),
        a_record("wire-removed", "2012-07-01"), a_record("wired", "2012-10-01"),
        a_record("bud-swell-seen", "2013-03-20"), a_record("buds-closed-seen", "2013-03-25"),
        a_record("bud-break-seen", "2013-04-10"), a_record("leaves-open-seen", "2013-04-16"),
        a_record("pot-weighed", "2013-06-01", amount=4.1),
    ) == []  # fmt: skip


def test_wire_taken_off_before_it_was_set_is_named() -> None:
    """Removed in April, set in May: the removal cannot be of that wire."""
    told = doubts(a_record("wired", "2013-05-01"), a_record("wire-removed", "2013-04-01"))
    assert told == ["wire removed on 1 Apr 2013: the wire was set later, on 1 May 2013"]


def test_wire_that_came_with_the_tree_may_be_taken_off() -> None:
    """Nothing says when it was set, so nothing contradicts its removal."""
    assert doubts(a_record("acquired", "2013-03-01"), a_record("wire-removed", "2013-04-01")) == []


@pytest.mark.parametrize(("apart", "named"), [(1, True), (7, True), (8, False), (365, False)])
def test_two_repottings_within_a_week_are_one(apart: int, named: bool) -> None:
    """The edge is the seventh day; the later record is the one in doubt."""
    first = date(2013, 3, 20)
    told = doubts(a_record("repotted", first), a_record("repotted", first + timedelta(days=apart)))
    assert bool(told) is named
    assert not named or "20 Mar 2013, days before" in told[0]


def test_three_repottings_in_three_weeks_leave_the_first_and_the_third() -> None:
    """Days are counted from the last one that stands, not from one in doubt."""
    days = ("2013-03-01", "2013-03-06", "2013-03-12")
    tree = a_tree(records=[a_record("repotted", day) for day in days])
    assert [str(each.on) for each in sound(tree).records] == ["2013-03-01", "2013-03-12"]


def test_a_record_before_the_tree_came_is_named_unless_its_keeper_may_have_told() -> None:
    """The last repotting may be known from the keeper before; a reading of one's own is not."""
    acquired = a_record("acquired", "2012-05-01")
    assert doubts(acquired, a_record("repotted", "2010-03-01")) == []
    (told,) = doubts(acquired, a_record("fed", "2012-04-01"))
    assert "came to you on 1 May 2012" in told


def test_nothing_was_done_to_a_tree_before_it_was_dug() -> None:
    """A repotting before it was collected from the ground cannot be."""
    (told,) = doubts(a_record("collected", "2012-05-01"), a_record("repotted", "2012-03-01"))
    assert "collected from the ground on 1 May 2012" in told


def test_a_record_before_the_tree_was_born_is_named() -> None:
    """Born in 2000, wired in 1999."""
    (told,) = doubts(a_record("wired", "1999-05-01"), born=2000)
    assert "born in 2000" in told


def test_leaves_do_not_open_before_the_buds() -> None:
    """Leaves open on 1 April, buds breaking on 10 April of the same spring: one is wrong."""
    (told,) = doubts(
        a_record("leaves-open-seen", "2013-04-01"), a_record("bud-break-seen", "2013-04-10")
    )
    assert told.startswith("bud break seen on 10 Apr 2013")
    assert doubts(
        a_record("leaves-open-seen", "2012-04-01"), a_record("bud-break-seen", "2013-04-10")
    ) == []  # fmt: skip


@pytest.mark.parametrize(
    ("mass", "named"), [(0.2, "less than"), (3.9, ""), (12.9, ""), (25, "more than")]
)
def test_a_mass_that_does_not_fit_the_pot_doubts_the_size(mass: float, named: str) -> None:
    """A pot of 3.3 L, wet with its tree and stoneware, weighs neither 200 g nor 25 kg."""
    told = doubts(a_record("pot-weighed", "2013-06-01", amount=mass), pot=a_pot())
    assert bool(told) is bool(named)
    assert not named or (named in told[0] and "check its size" in told[0])


KINDS = st.sampled_from(
    ["acquired", "collected", "repotted", "wired", "wire-removed", "bud-break-seen",
     "leaves-open-seen", "pot-weighed", "note"]
)  # fmt: skip
DAYS = st.dates(date(2009, 1, 1), date(2013, 12, 31))


@given(st.lists(st.tuples(KINDS, DAYS), max_size=12), st.none() | st.integers(2008, 2014))
def test_a_sound_tree_holds_no_record_in_doubt_and_loses_no_other(
    drawn: list[tuple[str, date]], born: int | None
) -> None:
    """Every record is either kept or named, never both, never neither."""
    records = [a_record(kind, on, note=str(number)) for number, (kind, on) in enumerate(drawn)]
    tree: Tree = a_tree(records=records, born=born)
    kept = [each.note for each in sound(tree).records]
    doubted = [each.record.note for each in contradictions(tree)]
    assert sorted(kept + doubted) == sorted(each.note for each in tree.records)
    assert kept == [each.note for each in tree.records if each.note in kept]
