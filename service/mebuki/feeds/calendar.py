"""Entries become an iCalendar feed (RFC 5545 and 7986) that calendar programs can subscribe to.

What the feed leaves out is as deliberate as what it holds: no METHOD (that
would need an organiser), no identity of the calendar itself (a synchroniser
then stores one event of many), no X-WR-TIMEZONE, and no time zones (timed
entries are in UTC). DTSTAMP is the moment of the entry's revision, never of
the writing, so that the same entries give the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import Final

from icalendar import Alarm, Calendar, Event, vText
from icalendar.enums import CLASS, STATUS, TRANSP

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import Days, Urgency
from mebuki.domain.garden import Garden
from mebuki.domain.text import one_line, plain

PRODUCT: Final = "-//Mebuki//Seasonal care calendar//EN"
REFRESH: Final = timedelta(hours=1)
MORNING: Final = timedelta(hours=8)
AHEAD: Final = timedelta(hours=-3)
"""Alarms: at 08:00 of the first day, or three hours before a timed entry (design defaults)."""

CALENDAR_COLOR: Final = "darkslategray"
CALENDAR_COLOR_HEX: Final = "#2F4F4F"
TODAY_COLOR: Final = "sienna"
PRIORITIES: Final = {Urgency.IMMEDIATE: 1, Urgency.EXPECTED: 5}
_END: Final = b"END:VCALENDAR\r\n"


class Text(vText):
    """A text escaped as RFC 5545 3.3.11 says.

    The library's own escaping turns a backslash before a capital N, which a
    person may well write, into a line break.
    """

    def to_ical(self) -> bytes:
        """Return the text with backslash, semicolon, comma and line break escaped."""
        escaped = self.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
        return escaped.replace("\n", "\\n").encode("utf-8")


class IcsWriter:
    """Writes the feed of a garden.

    Parameters
    ----------
    host
        The name behind the @ of identities; it must never change for a garden.
    """

    def __init__(self, host: str) -> None:
        self._host = host

    def write(self, garden: Garden, entries: Sequence[Entry], credits_: Sequence[str]) -> bytes:
        """Return the whole feed; the same entries in any order give the same bytes."""
        places = {place.id: place.name for place in garden.places}
        events = [
            event_bytes(entry, self._host, places.get(entry.place, entry.place))
            for entry in sorted(entries, key=_order)
        ]
        head = _calendar(garden, credits_).to_ical().removesuffix(_END)
        return b"".join((head, *events, _END))


def _order(entry: Entry) -> tuple[str, str]:
    span = entry.span
    first = span.first if isinstance(span, Days) else span.begins.astimezone(UTC)
    return first.isoformat(), entry.key


def _calendar(garden: Garden, credits_: Sequence[str]) -> Calendar:
    name = one_line(garden.name)
    about = one_line(
        ". ".join(
            (f"Seasonal care of the trees of {name}", *(part.rstrip(".") for part in credits_))
        )
    )
    calendar = Calendar()
    calendar.add("PRODID", PRODUCT)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    for key, value in (("NAME", name), ("DESCRIPTION", about)):
        calendar.add(key, Text(value))
        # Before RFC 7986 the same was said in another way; escaped, as plain str would not be.
        calendar.add({"NAME": "X-WR-CALNAME", "DESCRIPTION": "X-WR-CALDESC"}[key], Text(value))
    calendar.add("COLOR", CALENDAR_COLOR)
    calendar.add("X-APPLE-CALENDAR-COLOR", vText(CALENDAR_COLOR_HEX))
    calendar.add("REFRESH-INTERVAL", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("X-PUBLISHED-TTL", vText("PT1H"))
    return calendar


@lru_cache(maxsize=8192)
def event_bytes(entry: Entry, host: str, place: str) -> bytes:
    """Return one entry as the bytes of a VEVENT; kept, since most entries do not change."""
    changed = _utc(entry.changed)
    start, end = _bounds(entry)
    all_day = isinstance(entry.span, Days)
    event = Event.new(
        uid=_identity(entry, host),
        start=start,
        end=end,
        stamp=changed,
        created=_utc(entry.created),
        last_modified=changed,
        sequence=entry.revision,
        status=STATUS(entry.status.value),
        transparency=TRANSP.TRANSPARENT,
        categories=[entry.kind.value.capitalize()],
        classification=CLASS.PRIVATE,
        color=TODAY_COLOR if entry.urgency is Urgency.IMMEDIATE else CALENDAR_COLOR,
        priority=PRIORITIES.get(entry.urgency),
    )
    event.add("SUMMARY", Text(one_line(entry.title)))
    event.add("DESCRIPTION", Text(plain(entry.body)))
    if where := one_line(place):
        event.add("LOCATION", Text(where))
    if entry.alarm and entry.status is not EntryStatus.CANCELLED:
        event.add_component(_alarm(entry, host, all_day))
    return bytes(event.to_ical())


def _alarm(entry: Entry, host: str, all_day: bool) -> Alarm:
    alarm = Alarm.new(uid=_identity(entry, host, "alarm"))
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", Text(one_line(entry.title) or "Mebuki"))
    alarm.add("TRIGGER", MORNING if all_day else AHEAD, parameters={"RELATED": "START"})
    return alarm


def _identity(entry: Entry, host: str, part: str = "") -> str:
    own = entry.uid.partition("@")[0]
    if part:
        own = hashlib.sha256(f"{own}/{part}".encode()).hexdigest()[:32]
    return f"{own}@{host}"


def _bounds(entry: Entry) -> tuple[date | datetime, date | datetime]:
    """Return start and exclusive end."""
    if isinstance(entry.span, Days):
        return entry.span.first, entry.span.last + timedelta(days=1)
    return _utc(entry.span.begins), _utc(entry.span.ends)


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(microsecond=0)
