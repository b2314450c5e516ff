"""What is remembered about readers: marks, tallies, what is dropped."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.memory import LONGEST_LIST, Mark, Memory, remembered, sign
from mebuki.rules.risk import NOTICE_LEVELS

ON = date(2013, 3, 27)


@given(st.frozensets(st.text(min_size=1, max_size=12), max_size=30), st.integers(0, 4))
def test_a_mark_is_read_back_as_it_was_written(trees: frozenset[str], severity: int) -> None:
    """For every level, under its danger and day."""
    mark = Mark("frost", ON, acted=True, severity=severity, trees=frozenset(map(sign, trees)))
    for level in NOTICE_LEVELS:
        memory = Memory.of([mark.text(level)], level, ON)
        assert memory.marks == {("frost", ON): mark}
        assert all(mark.knows(tree) for tree in trees)
        others = [each for each in NOTICE_LEVELS if each != level]
        assert not any(Memory.of([mark.text(level)], other, ON).marks for other in others)


def test_a_mark_of_very_many_trees_stays_short_and_knows_them_all() -> None:
    """A key of a database has room for some two thousand letters."""
    trees = frozenset(sign(f"tree-{number}") for number in range(5 * LONGEST_LIST))
    text = Mark("frost", ON, acted=True, severity=2, trees=trees).text("few")
    assert len(text) < 100
    assert Memory.of([text], "few", ON).marks["frost", ON].knows("any tree")
    some = frozenset(sorted(trees)[:LONGEST_LIST])
    assert len(Mark("frost", ON, acted=True, severity=2, trees=some).text("few")) < 2000


def test_a_newer_mark_takes_the_place_of_the_older() -> None:
    """One for each danger, day and level."""
    old = Mark("frost", ON, acted=False, severity=1, trees=frozenset({sign("a")}))
    new = Mark("frost", ON, acted=True, severity=2, trees=frozenset({sign("a"), sign("b")}))
    kept = remembered((old.text("few"), old.text("balanced")), (), (new.text("few"),), ON)
    assert set(kept) == {new.text("few"), old.text("balanced")}


def test_what_was_told_stays_and_the_rest_is_dropped_in_time() -> None:
    """Marks of long ago and the mails of yesterday; keys of notices never."""
    mark = Mark("frost", ON, acted=True, severity=1, trees=frozenset()).text("balanced")
    texts = ("frost:2013-03-27:act", mark, "mail:2013-03-27:call")
    assert remembered(texts, (), (), ON) == texts
    assert remembered(texts, (), (), ON + timedelta(days=1)) == texts[:2]
    assert remembered(texts, (), (), ON + timedelta(days=40)) == texts[:1]
