"""What people may write, and what becomes of their trees: never an invalid calendar."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from mebuki.agenda.changes import revise, shown
from mebuki.agenda.entry import Entry
from mebuki.domain.feed import FeedChoice, FeedForm
from mebuki.domain.text import one_line, plain
from mebuki.feeds.calendar import IcsWriter
from tests.builders import AT, a_garden, a_place, a_tree, an_entry
from tests.feeds import programs
from tests.feeds.rich_feeds import HOST

DAY = timedelta(days=1)

NAMES = {
    "emoji": "Momiji 🍁👩🏽‍🌾🏳️‍🌈",
    "right to left": "\u202eעץ الشجرة\u202c (maple)",
    "line breaks": "One\r\ntwo\rthree\n\nfour\u2028five\x85six",
    "control characters": "a\x00b\x07c\x1bd\x7fe\x9ff\ufeffg",
    "half a sign": "half \ud83c of a maple",
    "delimiters": ';,\\:"=;,\\N\\n\\;' * 9,
    "a component": "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:other",
    "long words of three octets": "木" * 600,
    "white space": "  \t  ",
    "combining": "e\u0301" * 300,
}


@pytest.mark.parametrize("form", list(FeedForm))
@pytest.mark.parametrize("text", NAMES.values(), ids=NAMES)
def test_any_name_gives_a_right_calendar(text: str, form: FeedForm, tmp_path: Path) -> None:
    """As name of garden, place, tree, feed and credit: one entry, its words, short lines."""
    entry = an_entry(title=f"Repot {text}", body=f"{text}\n\n{text}", place="bench", alarm=True)
    kept = text.encode("utf-8", "replace").decode()[:80]  # a garden's own name is checked already
    garden = a_garden(
        [a_tree(name=one_line(text)[:80] or "x")],
        [a_place(name=one_line(text)[:60] or "x")],
        name=kept,
    )
    choice = FeedChoice(name=kept, form=form)
    feed = IcsWriter(HOST).write(garden, [entry], [text], choice)
    assert all(len(line) <= 75 for line in feed.split(b"\r\n"))
    assert feed.count(b"\n") == feed.count(b"\r") == feed.count(b"\r\n")
    (read,) = Calendar.from_ical(feed).walk("VTODO" if form is FeedForm.TASKS else "VEVENT")
    assert str(read["SUMMARY"]) == one_line(entry.title)
    assert str(read["DESCRIPTION"]) == plain(entry.body)
    if form is FeedForm.EVENTS:
        (seen,) = programs.by_vobject(feed, tmp_path)
        assert seen[1] == one_line(entry.title)


def test_a_note_of_ten_thousand_signs_is_kept_whole(tmp_path: Path) -> None:
    """Every sign of it, of one octet to four, comes back."""
    note = "".join("aé木🌱;,\\\n"[number % 8] for number in range(10_000))
    feed = IcsWriter(HOST).write(a_garden(), [an_entry(body=note)], [])
    (read,) = Calendar.from_ical(feed).walk("VEVENT")
    assert str(read["DESCRIPTION"]) == note
    assert len(programs.by_vobject(feed, tmp_path)) == 1


def feed_of(*entries: Entry, **trees: str) -> dict[str, tuple[str, int]]:
    """Return title and revision by identity in the feed of a garden with trees (id to name)."""
    garden = a_garden([a_tree(id=key, name=name) for key, name in trees.items()])
    feed = IcsWriter(HOST).write(garden, shown(entries, AT + 9 * DAY, 30), [])
    return {
        str(event["UID"]): (str(event["SUMMARY"]), int(str(event["SEQUENCE"])))
        for event in Calendar.from_ical(feed).walk("VEVENT")
    }


def test_a_tree_that_is_renamed_keeps_its_entry() -> None:
    """Same identity, the new name under the next revision."""
    old = an_entry(title="Repot Maple when buds swell")
    new = revise([old], [replace(old, title="Repot Old Trident when buds swell")], AT + DAY, 3)
    before, after = feed_of(old, maple="Maple"), feed_of(*new, maple="Old Trident")
    assert before.keys() == after.keys()
    assert list(after.values()) == [("Repot Old Trident when buds swell", 1)]


def test_a_tree_that_is_deleted_and_restored_is_one_entry_throughout() -> None:
    """Deleted: cancelled in words. Restored: the same identity, the next revision."""
    entry = an_entry()
    deleted = revise([entry], [], AT + DAY, 3)
    restored = revise(deleted, [entry], AT + 2 * DAY, 3)
    before, without, after = (
        feed_of(entry, maple="Maple"), feed_of(*deleted), feed_of(*restored, maple="Maple")
    )  # fmt: skip
    assert before.keys() == without.keys() == after.keys()
    assert list(without.values()) == [(f"Cancelled: {entry.title}", 1)]
    assert list(after.values()) == [(entry.title, 2)]


@pytest.mark.parametrize(
    "choice",
    [FeedChoice(trees=frozenset({"maple"})), FeedChoice(places=frozenset({"bench"}))],
)
def test_a_feed_of_a_deleted_tree_is_told_that_it_is_cancelled(choice: FeedChoice) -> None:
    """A feed of one tree or place does not just lose the entry."""
    entry = an_entry(place="Bench")
    (cancelled,) = revise([entry], [], AT + DAY, 3)
    garden = a_garden([], [a_place()])
    feed = IcsWriter(HOST).write(garden, [cancelled], [], choice)
    assert b"STATUS:CANCELLED" in feed
