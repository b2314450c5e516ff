"""The digest: for whom, at which hour, and what stands in it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from mebuki.agenda.digest import digests
from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import CareKind, Days
from tests.agenda.rounds import Readers
from tests.agenda.test_build import THREE
from tests.builders import ON, a_situation, a_subscriber, an_advice, an_entry

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
    assert lines(window(ON - DAY, ON + DAY)) == [("Window open", "Repot Alba")]
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
