"""The digest: for whom, at which hour, and what stands in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from mebuki.agenda.build import build
from mebuki.agenda.digest import digests
from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import CareKind, Days
from mebuki.domain.quantity import in_units
from tests.agenda.rounds import Readers
from tests.agenda.test_build import THREE
from tests.builders import (
    ON,
    a_frost_advice,
    a_night,
    a_situation,
    a_subscriber,
    an_advice,
    an_entry,
    an_outlook,
    by_tree,
)

HOURS = frozenset({6, 7})
DAY = timedelta(days=1)


def lines(*entries: Entry, situation: Situation | None = None) -> list[tuple[str, str]]:
    """Return heading and words of each line of a digest of entries."""
    found = digests(situation or a_situation(THREE), entries, None)
    return [(line.heading, line.deed) for notice in found for line in notice.lines]


def window(first: date, last: date, **changes: Any) -> Entry:
    """Return the entry of a window for repotting."""
    return an_entry(title="Repot Alba", span=Days(first, last), trees=("alba",), **changes)


def test_each_hour_has_a_digest_of_its_own_and_its_readers() -> None:
    """A reader at 7 h gets that of 7 h alone, once."""
    situation = a_situation(THREE, (an_advice("bo"),))
    readers = Readers()
    found = readers.hear(situation, HOURS)
    assert [(each.digest_hour, each.told) for each in found] == [
        (6, "digest:2013-03-27:digest@6h"), (7, "digest:2013-03-27:digest@7h"),
    ]  # fmt: skip
    reader = a_subscriber(digest_hour=7)
    assert [each.concerns(reader) for each in found] == [False, True]
    assert readers.hear(situation, HOURS) == []
    assert [each.digest_hour for each in readers.hear(situation, frozenset({6, 9}))] == [9]


def test_without_hours_one_digest_is_for_all() -> None:
    """As for files: its key is the bare one."""
    (digest,) = Readers().hear(a_situation(THREE, (an_advice("bo"),)), None)
    assert digest.told == "digest:2013-03-27:digest"
    assert all(digest.concerns(a_subscriber(digest_hour=hour)) for hour in (0, 7, 23))


def test_a_round_for_no_hour_makes_no_digest() -> None:
    """Rounds between the hours tell dangers alone."""
    assert Readers().hear(a_situation(THREE, (an_advice("bo"),)), frozenset()) == []


def test_letters_that_could_not_be_sent_are_named() -> None:
    """Even on a day without work."""
    told = "Frost −4 °C of Tue 26 Mar: the mail server was away"
    quiet = a_situation(THREE, unsent=(told,))
    assert lines(situation=quiet) == [("Could not be sent", told)]


def test_windows_open_run_and_close() -> None:
    """On its first day, between, and on its last day."""
    assert lines(window(ON, ON + DAY)) == [("Today", "Repot Alba")]
    assert lines(window(ON - DAY, ON + DAY)) == [("Going on", "Repot Alba")]
    assert lines(window(ON - DAY, ON)) == [("Last day", "Repot Alba")]
    assert lines(window(ON + DAY, ON + DAY)) == [("Thu 28 Mar", "Repot Alba")]


def test_the_subject_counts_what_closes_today_as_todays() -> None:
    """One begins, one ends, one comes."""
    entries = (window(ON, ON + 2 * DAY), window(ON - DAY, ON), window(ON + DAY, ON + 2 * DAY))
    (digest,) = digests(a_situation(THREE), entries, None)
    assert digest.subject == "Home, Wed 27 Mar: 2 for today, 1 coming"


def test_what_is_done_or_cancelled_is_not_in_it() -> None:
    """Ticked off, dropped, cancelled."""
    for gone in (Gone.DONE, Gone.DROPPED):
        assert lines(window(ON, ON, gone=gone)) == []
    assert lines(window(ON, ON, status=EntryStatus.CANCELLED)) == []


def test_what_is_put_off_says_which_work() -> None:
    """The deed, the tree, and why."""
    advice = (
        an_advice("alba", blocked="the tree is weak"),
        an_advice("bo", kind=CareKind.PRUNE, action="decandle", blocked="its roots were cut"),
        an_advice("cy", kind=CareKind.WIRE, action="wire-check", blocked="leaves are open"),
    )
    assert lines(situation=a_situation(THREE, advice)) == [
        ("Put off", "Repot Alba: the tree is weak"),
        ("Put off", "Cutting candles, Bo: its roots were cut"),
        ("Put off", "Wire check, Cy: leaves are open"),
    ]


def test_a_tree_that_must_wait_is_not_named_among_those_to_be_worked_on() -> None:
    """Of one entry for many trees, the weak one stands under what is put off alone."""
    weak = "the tree is weak"
    advice = tuple(
        an_advice(
            tree.id, kind=CareKind.PRUNE, action="clip", cycle="2013/spring",
            span=Days(ON, ON + 5 * DAY), blocked=weak if tree.id == "bo" else "",
        )
        for tree in THREE.trees
    )  # fmt: skip
    situation = a_situation(THREE, advice)
    (digest,) = digests(situation, build(situation), None)
    first, last = digest.lines
    assert (first.deed, first.trees, first.ids) == (
        "Clip long shoots: 2 trees", ("Alba", "Cy"), ("alba", "cy"),
    )  # fmt: skip
    assert (last.heading, last.ids) == ("Put off", ("bo",))


def test_a_low_of_a_digest_is_rounded_once_for_readers_of_other_units() -> None:
    """Frost −4 °C of −3.6 °C is 26 °F as in the call of that night; of two lows none is guessed."""
    nights = [a_night(ON, -3.6), a_night(ON + DAY, -5.6), a_night(ON + 2 * DAY, -6.4)]
    for count, exact in ((2, (-3.6, -5.6)), (3, (-3.6,))):
        outlooks = by_tree([an_outlook("alba", nights=tuple(nights[:count]))])
        advice = tuple(a_frost_advice("alba", night.evening) for night in nights[:count])
        situation = a_situation(THREE, advice, outlooks=outlooks)
        (digest,) = digests(situation, build(situation), None)
        assert digest.exact == exact
    assert "Frost −4 °C: bring in Alba" in [line.deed for line in digest.lines]
    assert (
        in_units("Frost −4 °C: bring in Alba", "us", digest.exact) == "Frost 26 °F: bring in Alba"
    )


def test_the_first_line_holds_the_work_of_today_as_far_as_it_goes() -> None:
    """More than the first deed, in one line of a phone; the rest is counted."""
    titles = [f"Water {number} trees on the bench under the plane" for number in (2, 3, 4, 5)]
    entries = tuple(
        window(ON, ON, key=f"home/water/water-today/all/{number}")
        for number in range(len(titles))
    )  # fmt: skip
    named = tuple(replace(entry, title=title) for entry, title in zip(entries, titles, strict=True))
    (digest,) = digests(a_situation(THREE), named, None)
    assert digest.lead == f"{titles[0]}; {titles[1].replace('W', 'w')}; 2 more"
    (short,) = digests(a_situation(THREE), named[:1], None)
    assert short.lead == titles[0]


def test_a_long_name_of_a_garden_leaves_room_for_the_count() -> None:
    """Eighty signs of a name; the subject stays within seventy."""
    kept = THREE.model_copy(update={"name": "Garden " * 11})
    (digest,) = digests(a_situation(kept), (window(ON, ON),), None)
    assert digest.subject == "Garden Garden Garden Garden G…, Wed 27 Mar: 1 for today"
    assert len(digest.subject) <= 70
