"""What the calendar library would write by itself, and what calendar programs made of it.

Each test shows the default first, so that it is noticed when the library
changes, and then that no feed of ours has it.
"""

from __future__ import annotations

import subprocess
import sys
import zoneinfo
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files
from typing import Any

import pytest
from icalendar import Alarm, Calendar, Event, vText

from mebuki.domain.advice import Days, Moments
from mebuki.domain.feed import FeedChoice, FeedForm
from mebuki.feeds.calendar import IcsWriter
from mebuki.feeds.content_lines import Text
from tests.builders import a_garden, an_entry
from tests.feeds.rich_feeds import HOST, a_thousand, a_year, rich

NIGHT = Moments(datetime(2013, 3, 30, 23, tzinfo=UTC), datetime(2013, 3, 31, 11, tzinfo=UTC))


def our_lines() -> Iterator[str]:
    """Yield the unfolded lines of feeds of every form over many entries."""
    kept = [*rich(), *a_year("America/New_York"), *a_thousand()[:30]]
    for form in FeedForm:
        feed = IcsWriter(HOST).write(a_garden(), kept, ["NOAA"], FeedChoice(form=form))
        yield from feed.decode().replace("\r\n ", "").split("\r\n")


def bare(**given: Any) -> Event:
    """Return an event as the library makes it."""
    return Event.new(summary="x", **{"start": date(2013, 3, 30), **given})


def test_the_calendar_has_no_identity() -> None:
    """With a UID of the calendar a synchroniser stored one event of six."""
    assert b"\r\nUID:" in Calendar.new().to_ical()
    head = "\n".join(our_lines()).partition("BEGIN:V")[2].partition("\nBEGIN:V")[0]
    assert head.startswith("CALENDAR")
    assert "UID" not in head


def test_the_refresh_interval_says_that_it_is_a_duration() -> None:
    """RFC 7986 5.7 requires VALUE=DURATION; the library's keyword leaves it out."""
    assert b"REFRESH-INTERVAL:PT1H" in Calendar.new(refresh_interval=timedelta(hours=1)).to_ical()
    ours = [line for line in our_lines() if line.startswith("REFRESH-INTERVAL")]
    assert set(ours) == {"REFRESH-INTERVAL;VALUE=DURATION:PT1H"}


def test_no_zone_is_described() -> None:
    """The library's VTIMEZONE has a comment and an onset an hour late; times in UTC need none."""
    berlin = datetime(2025, 3, 30, 12, tzinfo=zoneinfo.ZoneInfo("Europe/Berlin"))
    calendar = Calendar()
    calendar.add_component(bare(start=berlin))
    calendar.add_missing_timezones(date(2025, 1, 1), date(2026, 1, 1))
    theirs = calendar.to_ical()
    assert b"COMMENT" in theirs
    assert b"DTSTART:20250330T030000" in theirs
    ours = list(our_lines())
    assert "BEGIN:VTIMEZONE" not in ours
    assert not [line for line in ours if "TZID" in line]
    timed = [line for line in ours if line.startswith(("DTSTART:", "DTEND:", "DUE:"))]
    assert timed
    assert all(line.endswith("Z") for line in timed)


def test_alarms_ring_by_a_span_and_never_at_a_moment() -> None:
    """A moment without VALUE=DATE-TIME was refused by ical.js, libical and ics.py."""
    alarm = Alarm()
    alarm.add("TRIGGER", datetime(2026, 1, 1, tzinfo=UTC))
    assert b"TRIGGER:20260101T000000Z" in alarm.to_ical()
    ours = {line for line in our_lines() if line.startswith("TRIGGER")}
    assert ours
    assert all(line.partition(":")[2].lstrip("-").startswith("PT") for line in ours)


def test_there_is_no_method() -> None:
    """PUBLISH demands an organiser (RFC 5546); a feed over HTTP needs neither."""
    assert b"METHOD:PUBLISH" in Calendar.new(method="PUBLISH").to_ical()
    assert not [line for line in our_lines() if line.startswith(("METHOD", "ORGANIZER"))]


def test_neither_the_clock_nor_chance_is_in_a_feed() -> None:
    """Left alone the library stamps now and a random identity: no tag would ever match."""
    assert bare().uid != bare().uid
    now = datetime.fromisoformat(str(bare().stamp))
    assert now.year >= 2025
    stamps = {line.partition(":")[2][:4] for line in our_lines() if line.startswith("DTSTAMP")}
    assert stamps == {"2013"}


def test_a_day_is_a_day_long() -> None:
    """The library takes an end that equals the start; calcurse skips such an event."""
    assert bare(end=date(2013, 3, 30)).to_ical()
    one = an_entry(span=Days(date(2013, 3, 30), date(2013, 3, 30)))
    feed = IcsWriter(HOST).write(a_garden(), [one], [])
    assert b"DTSTART;VALUE=DATE:20130330\r\n" in feed
    assert b"DTEND;VALUE=DATE:20130331\r\n" in feed


def test_an_end_before_its_start_cannot_be_said() -> None:
    """One such event made khal and ics.py lose all of a feed; a span refuses it."""
    with pytest.raises(ValueError, match="may not end"):
        Days(date(2013, 3, 30), date(2013, 3, 29))
    with pytest.raises(ValueError, match="may not end"):
        Moments(NIGHT.ends, NIGHT.ends)


def test_control_characters_are_taken_out() -> None:
    """The library writes NUL and BEL as they are."""
    assert b"\x00\x07" in bare(description="a\x00\x07b").to_ical()
    feed = IcsWriter(HOST).write(a_garden(), [an_entry(title="a\x00b", body="c\x07d")], [])
    assert b"SUMMARY:ab\r\n" in feed
    assert b"DESCRIPTION:cd\r\n" in feed


def test_a_colour_is_a_name() -> None:
    """COLOR takes a CSS3 name (RFC 7986 5.9); the library takes a number sign as well."""
    assert b"COLOR:#12ab34" in bare(color="#12ab34").to_ical()
    colours = [line.partition(":")[2] for line in our_lines() if line.startswith("COLOR")]
    assert colours
    assert all(colour.isalpha() for colour in colours)


def test_a_fixed_offset_becomes_utc() -> None:
    """The library writes TZID="UTC+02:00" and describes no such zone."""
    east = datetime.fromisoformat("2013-03-31T01:00:00+02:00")
    assert b'TZID="UTC+02:00"' in bare(start=east).to_ical()
    entry = an_entry(span=Moments(east, east + timedelta(hours=12)))
    feed = IcsWriter(HOST).write(a_garden(), [entry], [])
    assert b"DTSTART:20130330T230000Z\r\n" in feed


def test_no_zone_is_named_for_the_whole_calendar() -> None:
    """X-WR-TIMEZONE made a reader lose the second 01:30 of the night the clocks go back."""
    assert not [line for line in our_lines() if line.startswith("X-WR-TIMEZONE")]


def test_text_behind_an_x_is_escaped() -> None:
    """A plain string is written as it is, and a line break in one stops the library."""
    calendar = Calendar()
    calendar.add("X-WR-CALDESC", "a;b,c")
    assert b"X-WR-CALDESC:a;b,c" in calendar.to_ical()
    feed = IcsWriter(HOST).write(a_garden(name="a;b,c\nd"), [], [])
    assert b"X-WR-CALNAME:a\\;b\\,c d\r\n" in feed


def test_a_backslash_before_a_capital_n_stays() -> None:
    r"""The library turns ``\N`` into a line break."""
    assert vText("a\\Nb").to_ical() == b"a\\nb"
    assert Text("a\\Nb").to_ical() == b"a\\\\Nb"


def test_time_zones_come_from_the_package() -> None:
    """The command line drops the search path of the system, whose copy may be years old."""
    script = (
        "import sys, zoneinfo; sys.argv = ['mebuki', '--version']\n"
        "from mebuki.cli.main import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "print(zoneinfo.TZPATH)"
    )
    told = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert told.stdout.splitlines()[-1] == "()"
    packaged = files("tzdata").joinpath("zoneinfo", "America", "Vancouver").read_bytes()
    assert packaged.startswith(b"TZif")
    assert zoneinfo.TZPATH == ()
