"""Entries of seasonal work: few, garden-wide, under keys that outlast a moved window."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from mebuki.agenda.build import build
from mebuki.agenda.changes import revise, shown
from mebuki.agenda.done import done_keys, held_keys
from mebuki.agenda.entry import Published
from mebuki.agenda.notices import notices
from mebuki.domain.advice import Advice, CareKind, Days
from tests.builders import AT, a_garden, a_record, a_situation, a_tree, an_advice

TREES = ("Alba", "Bo", "Cy")
GARDEN = a_garden([a_tree(name) for name in TREES])
APRIL = Days(date(2013, 4, 12), date(2013, 5, 10))


def work(tree: str, action: str = "pinch", cycle: str = "2013/opening", **changes: Any) -> Advice:
    """Return advice on seasonal work for one tree."""
    start: dict[str, Any] = {
        "kind": CareKind.PRUNE, "action": action, "cycle": cycle, "span": APRIL, "fact": "as usual",
        "probability": None,
    }  # fmt: skip
    return replace(an_advice(tree), **(start | changes))


def test_one_entry_tells_the_same_work_on_many_trees() -> None:
    """Each tree with its own window in the text, the widest span on the calendar."""
    later = Days(date(2013, 4, 20), date(2013, 5, 20))
    advice = (work("alba"), work("bo", span=later), work("cy"))
    (entry,) = build(a_situation(GARDEN, advice))
    assert entry.key == "home/prune/shoot-work/all/2013"
    assert entry.title == "Pinch new shoots: 3 trees, each in its window"
    assert entry.span == Days(date(2013, 4, 12), date(2013, 5, 20))
    assert "- Bo: as usual (20 Apr – 20 May)" in entry.body


def test_feeding_is_one_entry_a_season() -> None:
    """Early and late trees are fed for most of the year: each in its window, in one entry."""
    advice = (
        work("alba", "feed-season", "2013/early", kind=CareKind.FEED),
        work("bo", "feed-season", "2013/late", kind=CareKind.FEED),
    )
    (entry,) = build(a_situation(GARDEN, advice))
    assert entry.key == "home/feed/feed-season/all/2013"
    assert entry.trees == ("alba", "bo")


def test_a_single_window_is_left_to_the_days_of_the_entry() -> None:
    """One tree, or several with the same days."""
    (one,) = build(a_situation(GARDEN, (work("bo"),)))
    assert one.title == "Pinch new shoots: Bo"
    (two,) = build(a_situation(GARDEN, (work("bo"), work("cy"))))
    assert two.title == "Pinch new shoots: 2 trees"


def test_cutting_branches_is_one_entry_a_season() -> None:
    """Whichever part of the year each taxon bears; put-off trees are named with their reason."""
    advice = (
        work("alba", "prune-structure", "2013/late-winter"),
        work("bo", "prune-structure", "2013/early-summer"),
        work("cy", "prune-structure", "2013/summer", blocked="repotting comes first"),
    )
    (entry,) = build(a_situation(GARDEN, advice))
    assert entry.key == "home/prune/prune-structure/all/2013"
    assert entry.title.startswith("Cut branches where due: 2 trees")
    assert "- Cy: repotting comes first" in entry.body


def test_cues_for_pests_share_an_entry_by_the_part_of_the_season() -> None:
    """Two pests on two trees: one entry, the pests in its title."""

    def cue(tree: str, pest: str, day: int) -> Advice:
        return work(
            tree, "scout", f"2013/spring/{pest}", kind=CareKind.SCOUT,
            fact=f"{pest}: look at leaves", span=Days(date(2013, 5, day), date(2013, 5, 28)),
        )  # fmt: skip

    few = (cue("alba", "red mite", 9), cue("bo", "birch scale", 8))
    (entry,) = build(a_situation(GARDEN, few))
    assert entry.key == "home/scout/scout/all/2013-spring"
    assert entry.title == "Look for birch scale and red mite: 2 trees"
    many = (*few, cue("alba", "leafminer", 10), cue("alba", "weevil", 11))
    (entry,) = build(a_situation(GARDEN, many))
    assert entry.title == "Look for birch scale, red mite and 2 more: 2 trees"


@pytest.mark.parametrize(
    ("action", "kind", "title"),
    [
        ("feed-season", CareKind.FEED, "Feeding begins: Bo"),
        ("feed-stop", CareKind.FEED, "Last feed of the season: Bo"),
        ("decandle", CareKind.PRUNE, "Cut candles: Bo"),
        ("deadwood-season", CareKind.DEADWOOD, "Deadwood season begins, on dry warm days: Bo"),
    ],
)
def test_titles_say_what_and_when(action: str, kind: CareKind, title: str) -> None:
    """Plain words for each kind of work."""
    (entry,) = build(a_situation(GARDEN, (work("bo", action, "2013/early", kind=kind),)))
    assert entry.title == title


def test_what_is_put_off_says_what_it_is() -> None:
    """No code of an action reaches a reader."""
    (entry,) = build(a_situation(GARDEN, (work("bo", "decandle", blocked="it was repotted"),)))
    assert entry.title == "Put off: cutting candles, Bo"


def test_work_on_record_for_every_tree_ends_its_entry() -> None:
    """Pinched: the entry vanishes without a word."""
    (entry,) = build(a_situation(GARDEN, (work("bo"),)))
    done = a_garden([a_tree("Bo", records=[a_record("pinched", "2013-04-20")])])
    assert done_keys((entry,), done) == {entry.key}
    assert shown(revise((entry,), (), AT, 3, done={entry.key}), AT, 7) == ()


def test_a_request_stands_until_its_week_ends_or_it_is_answered() -> None:
    """Asked on Wednesday, not needed on Thursday: it stays as it is, and goes with the week."""
    week = Days(date(2013, 3, 25), date(2013, 3, 31))
    advice = work("bo", "observe-weigh", "2013-W14", kind=CareKind.OBSERVE, span=week)
    (entry,) = build(a_situation(GARDEN, (advice,)))
    held = held_keys((entry,), a_situation(GARDEN))
    assert revise((entry,), (), AT, 3, held=held) == (entry,)
    assert revise((entry,), (), AT + timedelta(days=7), 3, held=held) == ()
    answered = a_garden([a_tree("Bo", records=[a_record("pot-weighed", "2013-03-28", amount=5)])])
    done = done_keys((entry,), answered)
    assert shown(revise((entry,), (), AT, 3, done=done, held=held), AT, 7) == ()


def test_the_digest_does_not_repeat_what_rests_for_months() -> None:
    """Cutting that is put off for months is in the calendar, not in every day's mail."""
    advice = (
        work("bo", "prune-structure", "2013/summer", blocked="repotting comes first",
             span=Days(date(2013, 3, 1), date(2013, 9, 1))),
    )  # fmt: skip
    situation = a_situation(GARDEN, advice)
    assert notices(situation, build(situation), Published.nothing()).notices == ()
