"""What a feed holds: kinds, places, trees, alarms, form, links."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from pydantic import ValidationError

from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.feed import MUST_NOT_MISS, FeedChoice, FeedForm
from mebuki.domain.garden import Garden
from mebuki.feeds.calendar import IcsWriter
from mebuki.feeds.content_lines import folded
from mebuki.feeds.select import chosen
from tests.builders import a_frost_free_place, a_garden, a_place, a_tree, an_entry
from tests.feeds.rich_feeds import HOST, rich

GARDEN = a_garden(
    [a_tree(id="maple", name="Maple"), a_tree(id="pine", name="Pine", place="shed")],
    [a_place(), a_frost_free_place()],
)
NIGHT = Moments(datetime(2013, 3, 27, 23, tzinfo=UTC), datetime(2013, 3, 28, 11, tzinfo=UTC))
REPOT = an_entry("repot", trees=("maple",))
FROST = an_entry("frost", kind=CareKind.FROST, trees=("maple", "pine"), span=NIGHT, alarm=True)
WIRE = an_entry("wire", kind=CareKind.WIRE, trees=("pine",), place="Shed")
BLIND = an_entry("blind", kind=CareKind.OBSERVE, trees=(), place="")
ALL = (REPOT, FROST, WIRE, BLIND)
TASKS = FeedChoice(form=FeedForm.TASKS)


def keys(**choice: Any) -> set[str]:
    """Return the keys of the entries that a choice holds."""
    return {entry.key for entry in chosen(ALL, FeedChoice.model_validate(choice), GARDEN)}


def read(*entries: Entry, choice: FeedChoice | None = None, **writer: Any) -> list[Any]:
    """Return the components that the feed of a choice holds."""
    feed = IcsWriter(HOST, **writer).write(GARDEN, entries, [], choice)
    return [part for part in Calendar.from_ical(feed).walk() if part.name in ("VEVENT", "VTODO")]


def test_nothing_chosen_is_everything() -> None:
    """The whole garden."""
    assert keys() == {"repot", "frost", "wire", "blind"}


def test_kinds_are_chosen() -> None:
    """And what concerns the whole garden comes with frost: that the nights cannot be seen."""
    assert keys(kinds={"wire"}) == {"wire"}
    assert keys(kinds={"frost"}) == {"frost", "blind"}
    assert keys(kinds=MUST_NOT_MISS) == {"repot", "frost", "blind"}
    assert FeedChoice.must_not_miss("x") == FeedChoice(name="x", kinds=MUST_NOT_MISS)


def test_an_entry_of_one_chosen_tree_is_shown_whole() -> None:
    """With its words as they are: it is one deed under one revision."""
    assert keys(trees={"maple"}) == {"repot", "frost", "blind"}
    (whole,), (part,) = (
        [each for each in read(*ALL, choice=choice) if b"Frost" in each["CATEGORIES"].to_ical()]
        for choice in (FeedChoice(), FeedChoice(trees=frozenset({"pine"})))
    )  # fmt: skip
    assert whole.to_ical() == part.to_ical()


def test_places_are_chosen_by_where_trees_stand() -> None:
    """Or for which place an entry was written, when its tree is gone."""
    assert keys(places={"shed"}) == {"frost", "wire", "blind"}
    gone = replace(WIRE, trees=("oak",))
    shed = FeedChoice(places=frozenset({"shed"}))
    assert chosen([gone], shed, GARDEN) == (gone,)


def test_choices_narrow_one_another() -> None:
    """Kind and place and tree."""
    assert keys(kinds={"frost", "wire"}, places={"shed"}, trees={"pine"}) == {
        "frost", "wire", "blind",
    }  # fmt: skip
    assert keys(kinds={"repot"}, places={"shed"}) == set()


@given(
    kinds=st.none() | st.sets(st.sampled_from(CareKind), min_size=1),
    trees=st.none() | st.sets(st.sampled_from(["maple", "pine"]), min_size=1),
)
def test_a_choice_only_leaves_out(kinds: set[CareKind] | None, trees: set[str] | None) -> None:
    """What is shown is shown byte for byte as in the whole feed, in the same order."""
    choice = FeedChoice.model_validate({"kinds": kinds, "trees": trees})
    whole = [part.to_ical() for part in read(*ALL)]
    part = [each.to_ical() for each in read(*ALL, choice=choice)]
    rest = iter(whole)
    assert all(each in rest for each in part)


def test_a_choice_is_written_in_one_way() -> None:
    """Whatever the order in which it was made; a choice of none is refused."""
    orders = {
        FeedChoice.model_validate({"kinds": order}).model_dump_json()
        for order in itertools.permutations(["wire", "frost", "repot"])
    }
    assert len(orders) == 1
    assert FeedChoice.model_validate_json(orders.pop()).kinds is not None
    with pytest.raises(ValidationError):
        FeedChoice.model_validate({"trees": []})


def test_alarms_can_be_left_out() -> None:
    """Nothing else of the feed changes."""
    loud, quiet = (
        IcsWriter(HOST).write(GARDEN, ALL, [], FeedChoice(alarms=alarms))
        for alarms in (True, False)
    )
    begin, end = loud.index(b"BEGIN:VALARM"), loud.index(b"END:VALARM\r\n") + len(b"END:VALARM\r\n")
    assert loud[:begin] + loud[end:] == quiet


def test_the_name_of_a_feed_is_its_own() -> None:
    """And the garden's where none was given."""
    named = IcsWriter(HOST).write(GARDEN, [], [], FeedChoice(name="Must not miss"))
    assert b"\r\nNAME:Must not miss\r\n" in named
    assert b"\r\nX-WR-CALNAME:Must not miss\r\n" in named
    assert b"\r\nX-WR-CALNAME:Home\r\n" in IcsWriter(HOST).write(GARDEN, [], [])


def test_a_task_has_an_identity_of_its_own() -> None:
    """A program that holds both feeds must not take one for the other."""
    events, tasks = read(*rich()), read(*rich(), choice=TASKS)
    assert {part.name for part in tasks} == {"VTODO"}
    uids = [{str(part["UID"]) for part in parts} for parts in (events, tasks)]
    assert len(uids[0]) == len(uids[1]) == len(rich())
    assert not uids[0] & uids[1]
    assert all(part["SEQUENCE"] == 4 for part in tasks if "check the wire" in part["SUMMARY"])


def test_a_task_is_due_on_the_last_day_or_before_the_night() -> None:
    """DTSTART lies before DUE (RFC 5545 3.8.2.3), or there is none."""
    (window,) = read(REPOT, choice=TASKS)
    assert (window["DTSTART"].dt, window["DUE"].dt) == (date(2013, 3, 22), date(2013, 4, 4))
    day = Days(date(2013, 3, 27), date(2013, 3, 27))
    (single,) = read(replace(REPOT, span=day, alarm=True), choice=TASKS)
    assert "DTSTART" not in single
    assert single["DUE"].dt == day.last
    (night,) = read(FROST, choice=TASKS)
    assert "DTSTART" not in night
    assert night["DUE"].dt == NIGHT.begins
    for task in (single, night):
        (alarm,) = task.walk("VALARM")
        assert alarm["TRIGGER"].params["RELATED"] == "END"


@pytest.mark.parametrize(
    ("changes", "status", "done"),
    [
        ({}, "NEEDS-ACTION", 0),
        ({"status": EntryStatus.CONFIRMED}, "NEEDS-ACTION", 0),
        ({"status": EntryStatus.CANCELLED}, "CANCELLED", 0),
        ({"gone": Gone.DONE}, "COMPLETED", 100),
    ],
)
def test_a_task_says_how_it_stands(changes: dict[str, Any], status: str, done: int) -> None:
    """To do, cancelled, or done with the moment it was recorded."""
    (task,) = read(replace(FROST, **changes), choice=TASKS)
    assert (task["STATUS"], task["PERCENT-COMPLETE"]) == (status, done)
    assert ("COMPLETED" in task) == (done == 100)
    assert bool(task.walk("VALARM")) == (status == "NEEDS-ACTION")


def test_a_link_says_where_to_record_the_work() -> None:
    """In the text, for every program, and as URL, for those that show it; none without pages."""

    def link(garden: Garden, entry: Entry) -> str:
        return f"https://trees.example/{garden.id}/e/{entry.uid[:8]}" if entry.trees else ""

    address = link(GARDEN, REPOT)
    (repot,) = read(REPOT, link=link)
    assert repot["URL"] == address
    assert str(repot["DESCRIPTION"]) == f"{REPOT.body}\n\nRecord what was done: {address}"
    for (without,) in (read(BLIND, link=link), read(REPOT)):
        assert "URL" not in without
        assert "Record" not in without["DESCRIPTION"]


@given(st.text(alphabet="aé木🌱 ", max_size=400))
def test_folding_cuts_no_sign_and_loses_none(text: str) -> None:
    """At most 75 octets a line, each readable by itself, the whole unchanged (RFC 5545 3.1)."""
    pieces = folded(text.encode()).split(b"\r\n")
    assert all(len(piece) <= 75 for piece in pieces)
    assert all(piece.startswith(b" ") for piece in pieces[1:])
    parts = [piece.decode() for piece in pieces]
    assert parts[0] + "".join(part[1:] for part in parts[1:]) == text
