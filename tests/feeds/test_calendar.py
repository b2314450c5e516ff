"""The feed's rules: what each component holds, and what the library would have got wrong."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from icalendar import Calendar

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import Days, Moments, Urgency
from mebuki.domain.text import one_line, plain
from mebuki.feeds.calendar import IcsWriter
from tests.builders import a_garden, a_place, an_entry
from tests.feeds.strategies import entries

HOST = "garden.example"
WRITER = IcsWriter(HOST)
NIGHT = Moments(datetime(2013, 3, 27, 23, tzinfo=UTC), datetime(2013, 3, 28, 11, tzinfo=UTC))


def written(*kept: Entry) -> bytes:
    """Return the feed of a garden with these entries."""
    garden = a_garden(places=[a_place(name="Lower bench")])
    return WRITER.write(garden, kept, ["NOAA, public domain; no warranty"])


def unfolded(feed: bytes) -> list[str]:
    """Return the content lines of a feed."""
    return feed.decode().replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def the_event(entry: Entry) -> Any:
    """Return the one event of a feed as the library reads it."""
    (event,) = events(written(entry))
    return event


def events(feed: bytes) -> list[Any]:
    """Return the events of a feed as the library reads them."""
    return list(Calendar.from_ical(feed).walk("VEVENT"))


def test_the_calendar_has_no_method_no_identity_and_no_zone() -> None:
    """METHOD needs an organiser, a calendar UID makes synchronisers store one event of many."""
    head = written(an_entry()).partition(b"BEGIN:VEVENT")[0].decode()
    for unwanted in ("METHOD", "\r\nUID", "X-WR-TIMEZONE", "BEGIN:VTIMEZONE"):
        assert unwanted not in head
    assert "VERSION:2.0\r\n" in head
    assert "CALSCALE:GREGORIAN\r\n" in head


def test_the_refresh_interval_carries_its_value_type() -> None:
    """RFC 7986 5.7 demands VALUE=DURATION; the older property says the same."""
    lines = unfolded(written())
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in lines
    assert "X-PUBLISHED-TTL:PT1H" in lines


def test_name_and_description_stand_in_both_ways_and_are_escaped() -> None:
    """NAME and X-WR-CALNAME agree, so do the descriptions; attribution is in them."""
    lines = unfolded(written())
    found = {line.partition(":")[0]: line.partition(":")[2] for line in lines}
    assert found["NAME"] == found["X-WR-CALNAME"] == "Home"
    assert found["DESCRIPTION"] == found["X-WR-CALDESC"]
    assert "NOAA\\, public domain\\; no warranty" in found["DESCRIPTION"]


def test_colours_are_names_and_hexadecimal_only_where_apple_wants_it() -> None:
    """COLOR takes a CSS3 name (RFC 7986 5.9)."""
    lines = unfolded(written(an_entry(urgency=Urgency.IMMEDIATE)))
    colours = [line for line in lines if line.startswith("COLOR:")]
    assert colours == ["COLOR:darkslategray", "COLOR:sienna"]
    assert "X-APPLE-CALENDAR-COLOR:#2F4F4F" in lines


def test_an_all_day_span_ends_on_the_day_after_its_last() -> None:
    """DTEND is exclusive: 14 to 28 March ends on the 29th, and one day is one day long."""
    lines = unfolded(written(an_entry(span=Days(date(2026, 3, 14), date(2026, 3, 28)))))
    assert "DTSTART;VALUE=DATE:20260314" in lines
    assert "DTEND;VALUE=DATE:20260329" in lines
    one = unfolded(written(an_entry(span=Days(date(2026, 2, 28), date(2026, 2, 28)))))
    assert "DTEND;VALUE=DATE:20260301" in one


def test_nothing_makes_its_reader_busy() -> None:
    """All entries are transparent, timed ones too."""
    for entry in (an_entry(), an_entry(span=NIGHT)):
        assert "TRANSP:TRANSPARENT" in unfolded(written(entry))


def test_a_timed_entry_is_in_utc_whatever_zone_it_came_in() -> None:
    """Times carry Z and need no VTIMEZONE."""
    new_york = a_garden().site.zone
    local = Moments(NIGHT.begins.astimezone(new_york), NIGHT.ends.astimezone(new_york))
    lines = unfolded(written(an_entry(span=local)))
    assert "DTSTART:20130327T230000Z" in lines
    assert "DTEND:20130328T110000Z" in lines


def test_stamps_are_those_of_the_revision() -> None:
    """DTSTAMP equals LAST-MODIFIED, CREATED stays, SEQUENCE is the revision."""
    changed = datetime(2013, 3, 28, 11, 30, 15, 999, tzinfo=UTC)
    lines = unfolded(written(an_entry().at_revision(3, changed)))
    assert "DTSTAMP:20130328T113015Z" in lines
    assert "LAST-MODIFIED:20130328T113015Z" in lines
    assert "CREATED:20130327T110000Z" in lines
    assert "SEQUENCE:3" in lines


def test_the_identity_is_the_entrys_own_behind_the_host() -> None:
    """UID depends on the key alone: neither text, span, revision nor trees change it."""
    entry = an_entry()
    other = replace(entry, title="x", span=NIGHT, trees=(), revision=9)
    expected = hashlib.sha256(entry.key.encode()).hexdigest()[:32] + "@" + HOST
    assert the_event(entry)["UID"] == the_event(other)["UID"] == expected


@pytest.mark.parametrize("status", list(EntryStatus))
def test_the_status_is_written(status: EntryStatus) -> None:
    """Predicted windows are tentative, likely ones confirmed, withdrawn ones cancelled."""
    assert the_event(an_entry(status=status))["STATUS"] == status.value


def test_an_event_is_private_with_its_category_and_place() -> None:
    """CLASS, CATEGORIES, LOCATION; no position on Earth."""
    event = the_event(an_entry())
    assert event["CLASS"] == "PRIVATE"
    assert event["CATEGORIES"].to_ical() == b"Repot"
    assert event["LOCATION"] == "Lower bench"
    assert "GEO" not in event


@pytest.mark.parametrize(
    ("entry", "trigger"),
    [
        (an_entry(alarm=True), timedelta(hours=8)),
        (an_entry(alarm=True, span=NIGHT), timedelta(hours=-3)),
    ],
)
def test_an_alarm_is_one_relative_and_for_the_screen(entry: Entry, trigger: timedelta) -> None:
    """All-day entries ring at a waking hour; absolute triggers and mails are never used."""
    (alarm,) = the_event(entry).walk("VALARM")
    assert alarm["ACTION"] == "DISPLAY"
    assert alarm["TRIGGER"].dt == trigger
    assert alarm["TRIGGER"].params["RELATED"] == "START"
    assert alarm["DESCRIPTION"] == entry.title
    again = the_event(entry.at_revision(5, entry.changed)).walk("VALARM")[0]
    assert alarm["UID"] == again["UID"] != the_event(entry)["UID"]


def test_a_quiet_or_cancelled_entry_has_no_alarm() -> None:
    """Only what asks for a hand and still holds may ring."""
    for entry in (an_entry(), an_entry(alarm=True, status=EntryStatus.CANCELLED)):
        assert the_event(entry).walk("VALARM") == []


def test_entries_in_any_order_give_the_same_bytes() -> None:
    """The feed is sorted by begin and key."""
    some = [an_entry(f"key-{number}", title=str(number)) for number in range(5)]
    assert written(*some) == written(*reversed(some))


def test_no_byte_order_mark_and_only_full_line_ends() -> None:
    """Eleven of thirteen programs stumble over a byte order mark."""
    feed = written(an_entry(body="\ufeffone\r\ntwo\rthree\u2028four"))
    assert feed.startswith(b"BEGIN:VCALENDAR\r\n")
    assert feed.endswith(b"END:VCALENDAR\r\n")
    assert feed.count(b"\n") == feed.count(b"\r") == feed.count(b"\r\n")
    assert the_event(an_entry(body="one\r\ntwo\x00"))["DESCRIPTION"] == "one\ntwo"


def test_a_backslash_before_a_capital_n_is_no_line_break() -> None:
    r"""The library alone would write a line break for ``\N``; RFC 5545 wants ``\\N``."""
    lines = unfolded(written(an_entry(body="C:\\Notes; a,b")))
    assert r"DESCRIPTION:C:\\Notes\; a\,b" in lines


def test_an_empty_feed_is_a_calendar() -> None:
    """A garden without entries still has a feed."""
    assert events(written()) == []


@given(entries())
def test_any_text_parses_back_to_the_same_entries(kept: list[Entry]) -> None:
    """Whatever people write, the feed holds these entries and no others, in short lines."""
    feed = written(*kept)
    assert all(len(line) <= 75 for line in feed.split(b"\r\n"))
    assert not any(sign < 32 and sign not in (10, 13) for sign in feed)
    read = {str(event["UID"]): event for event in events(feed)}
    assert len(read) == len(kept)
    for entry in kept:
        event = read[entry.uid.partition("@")[0] + "@" + HOST]
        assert str(event["SUMMARY"]) == one_line(entry.title)
        assert str(event["DESCRIPTION"]) == plain(entry.body)
        assert int(event["SEQUENCE"]) == entry.revision


SCRIPT = """
import sys
from mebuki.feeds.calendar import IcsWriter
from tests.plans import a_plan
plan = a_plan()
sys.stdout.buffer.write(IcsWriter("garden.example").write(plan.garden, plan.entries, ["NOAA"]))
"""


def test_two_processes_write_the_same_bytes() -> None:
    """Nothing in the feed comes from the clock, chance or the order of sets."""
    root = Path(__file__).parents[2]
    feeds = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT],
            cwd=root, capture_output=True, check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": f"{root / 'service'}:{root}"},
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    (feed,) = feeds
    assert feed.count(b"BEGIN:VEVENT") == 3
