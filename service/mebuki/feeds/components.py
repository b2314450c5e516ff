"""One entry as a component of iCalendar: an event, or a task (RFC 5545 3.6.1, 3.6.2).

Event and task of one entry have different identities, so that a calendar
program that holds both keeps both. DTSTAMP is the moment of the entry's
revision, never of the writing: the same entry gives the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Final

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import Days, Urgency
from mebuki.domain.feed import FeedForm
from mebuki.domain.text import one_line, plain
from mebuki.feeds.content_lines import escaped, when, written

MORNING: Final = "PT8H"
AHEAD: Final = "-PT3H"
"""Alarms: at 08:00 of the first day, or three hours before a timed entry (design defaults)."""

CALENDAR_COLOR: Final = "darkslategray"
TODAY_COLOR: Final = "sienna"
PRIORITIES: Final = {Urgency.IMMEDIATE: 1, Urgency.EXPECTED: 5}
RECORD: Final = "Record what was done: "
"""What stands before the address of the page where an entry's work is recorded."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What an entry's component holds beside the entry.

    Parameters
    ----------
    host
        The name behind the @ of identities.
    place
        The name of the place, or empty.
    link
        The address of the page where the work is recorded, or empty; a URL, as
        it is written without escaping.
    """

    host: str
    place: str
    link: str = ""


@lru_cache(maxsize=8192)
def rendered(entry: Entry, setting: Setting, form: FeedForm) -> tuple[bytes, bytes, bytes]:
    """Return an entry as begin, alarm (or nothing) and end of its component.

    Kept, since most entries do not change, and all feeds of a garden are joined
    from the same pieces.
    """
    name, own = ("VTODO", _task) if form is FeedForm.TASKS else ("VEVENT", _event)
    begin = written((f"BEGIN:{name}", *own(entry, setting), *_common(entry, setting)))
    alarm = b""
    if entry.alarm and not entry.gone and entry.status is not EntryStatus.CANCELLED:
        alarm = written(_alarm(entry, setting, form))
    return begin, alarm, written((f"END:{name}",))


def _event(entry: Entry, setting: Setting) -> Iterator[str]:
    yield f"UID:{identity(entry, setting.host)}"
    if isinstance(entry.span, Days):
        yield when("DTSTART", entry.span.first)
        yield when("DTEND", entry.span.last + timedelta(days=1))
    else:
        yield when("DTSTART", entry.span.begins)
        yield when("DTEND", entry.span.ends)
    yield f"STATUS:{entry.status.value}"
    yield "TRANSP:TRANSPARENT"
    yield f"COLOR:{TODAY_COLOR if entry.urgency is Urgency.IMMEDIATE else CALENDAR_COLOR}"


def _task(entry: Entry, setting: Setting) -> Iterator[str]:
    start, due = _begin_and_due(entry)
    yield f"UID:{identity(entry, setting.host, 'task')}"
    if start is not None:
        yield when("DTSTART", start)
    yield when("DUE", due)
    if entry.gone:
        yield "STATUS:COMPLETED"
        yield when("COMPLETED", entry.changed)
    else:
        cancelled = entry.status is EntryStatus.CANCELLED
        yield f"STATUS:{'CANCELLED' if cancelled else 'NEEDS-ACTION'}"
    yield f"PERCENT-COMPLETE:{100 if entry.gone else 0}"


def _begin_and_due(entry: Entry) -> tuple[date | None, date]:
    """Return when a task may begin and by when it is due.

    People read a due day as the last day of the work, so it is not exclusive as
    the end of an event is. DTSTART must come before DUE (RFC 5545 3.8.2.3): a
    task of a single day has none. The work before a night is due when it begins.
    """
    if isinstance(entry.span, Days):
        first, last = entry.span.first, entry.span.last
        return (first if first < last else None), last
    return None, entry.span.begins


def _common(entry: Entry, setting: Setting) -> Iterator[str]:
    yield when("DTSTAMP", entry.changed)
    yield when("CREATED", entry.created)
    yield when("LAST-MODIFIED", entry.changed)
    yield f"SEQUENCE:{entry.revision}"
    yield f"SUMMARY:{escaped(one_line(entry.title))}"
    record = f"\n\n{RECORD}{setting.link}" if setting.link else ""
    yield f"DESCRIPTION:{escaped(plain(entry.body) + record)}"
    yield f"CATEGORIES:{entry.kind.value.capitalize()}"
    yield "CLASS:PRIVATE"
    if entry.urgency in PRIORITIES:
        yield f"PRIORITY:{PRIORITIES[entry.urgency]}"
    if where := one_line(setting.place):
        yield f"LOCATION:{escaped(where)}"
    if setting.link:
        yield f"URL:{setting.link}"


def _alarm(entry: Entry, setting: Setting, form: FeedForm) -> Iterator[str]:
    begins = form is FeedForm.EVENTS or _begin_and_due(entry)[0] is not None
    trigger = MORNING if isinstance(entry.span, Days) else AHEAD
    yield "BEGIN:VALARM"
    yield f"UID:{identity(entry, setting.host, f'{form}/alarm')}"
    yield "ACTION:DISPLAY"
    yield f"DESCRIPTION:{escaped(one_line(entry.title) or 'Mebuki')}"
    yield f"TRIGGER;RELATED={'START' if begins else 'END'}:{trigger}"
    yield "END:VALARM"


def identity(entry: Entry, host: str, part: str = "") -> str:
    """Return the UID of an entry's event, or of another component that belongs to it."""
    own = entry.uid.partition("@")[0]
    if part:
        own = hashlib.sha256(f"{own}/{part}".encode()).hexdigest()[:32]
    return f"{own}@{host}"
