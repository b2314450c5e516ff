"""Requests for observations: two a week at most."""

from __future__ import annotations

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.build import build
from mebuki.agenda.requests import chosen
from mebuki.domain.advice import Advice, CareKind, Days
from tests.builders import a_garden, a_situation, a_tree, an_advice

WEEK = Days(date(2013, 3, 25), date(2013, 3, 31))


def a_request(tree: str, action: str, weight: float = 1, week: str = "2013-W13") -> Advice:
    """Return a request for an observation."""
    return an_advice(
        tree, kind=CareKind.OBSERVE, action=action, cycle=week, span=WEEK, weight=weight,
        probability=None,
    )  # fmt: skip


def test_the_heaviest_questions_about_buds_are_asked() -> None:
    """Three trees of five, by weight, then by id."""
    advice = [a_request(name, "observe-buds", weight) for name, weight in
              (("a", 1), ("b", 5), ("c", 3), ("d", 3), ("e", 2))]  # fmt: skip
    assert [each.tree for each in chosen(advice)] == ["b", "c", "d"]
    assert [each.tree for each in chosen(advice[::-1])] == ["b", "c", "d"]


def test_one_week_asks_for_a_thermometer_the_next_for_a_weighing() -> None:
    """Odd weeks and even weeks; the tree that helps most."""
    for week, action in (("2013-W13", "observe-minimum"), ("2013-W14", "observe-weigh")):
        advice = [
            a_request(tree, each, weight, week)
            for each in ("observe-minimum", "observe-weigh")
            for tree, weight in (("a", 1.0), ("b", 2.0))
        ]
        (kept,) = chosen(advice)
        assert (kept.action, kept.tree) == (action, "b")


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["a", "b", "c", "d"]),
            st.sampled_from(["observe-buds", "observe-minimum", "observe-weigh"]),
            st.floats(0, 100),
        ),
        unique_by=lambda each: each[:2],
    )
)
def test_a_garden_is_never_asked_for_more_than_two_things_in_a_week(
    asked: list[tuple[str, str, float]],
) -> None:
    """Law: at most two entries, whatever the rules ask for; the same for any order."""
    garden = a_garden([a_tree(name.upper()) for name in "abcd"])
    advice = tuple(a_request(*each) for each in asked)
    entries = build(a_situation(garden, advice))
    assert len(entries) <= 2
    assert entries == build(a_situation(garden, advice[::-1]))


def test_other_advice_is_left_alone() -> None:
    """Only requests are counted."""
    assert chosen([an_advice()]) == ()
    assert len(build(a_situation(advice=(an_advice(), a_request("maple", "observe-buds"))))) == 2
