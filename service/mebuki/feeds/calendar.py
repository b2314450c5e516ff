"""Entries become an iCalendar feed (RFC 5545 and 7986) that calendar programs can subscribe to.

What the feed leaves out is as deliberate as what it holds: no METHOD (that
would need an organiser), no identity of the calendar itself (a synchroniser
then stores one event of many), no X-WR-TIMEZONE, and no time zones (timed
entries are in UTC).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, timedelta
from typing import Final

from icalendar import Calendar, vText

from mebuki.agenda.entry import Entry
from mebuki.domain.advice import Days
from mebuki.domain.feed import FeedChoice
from mebuki.domain.garden import Garden
from mebuki.domain.text import one_line
from mebuki.feeds.components import CALENDAR_COLOR, Setting, rendered
from mebuki.feeds.content_lines import Text, head_bytes
from mebuki.feeds.select import chosen

PRODUCT: Final = "-//Mebuki//Seasonal care calendar//EN"
REFRESH: Final = timedelta(hours=1)
CALENDAR_COLOR_HEX: Final = "#2F4F4F"
_END: Final = b"END:VCALENDAR\r\n"

Link = Callable[[Garden, Entry], str]
"""Gives the address of the page where an entry's work is recorded; empty where there is none."""


class IcsWriter:
    """Writes the feeds of a garden.

    Parameters
    ----------
    host
        The name behind the @ of identities; it must never change for a garden.
    link
        Where the work of an entry is recorded; none leaves links out.
    """

    def __init__(self, host: str, link: Link | None = None) -> None:
        self._host = host
        self._link = link

    def write(
        self,
        garden: Garden,
        entries: Sequence[Entry],
        credits_: Sequence[str],
        choice: FeedChoice | None = None,
    ) -> bytes:
        """Return the feed of a choice; the same entries in any order give the same bytes.

        Parameters
        ----------
        choice
            What of the entries it holds, and as what; all of them as events if
            left out.
        """
        wanted = choice or FeedChoice()
        head = head_bytes(_calendar(garden, credits_, wanted)).removesuffix(_END)
        return b"".join((head, *self._parts(garden, entries, wanted), _END))

    def _parts(
        self, garden: Garden, entries: Sequence[Entry], choice: FeedChoice
    ) -> Iterator[bytes]:
        places = {place.id: place.name for place in garden.places}
        for entry in sorted(chosen(entries, choice, garden), key=_order):
            link = one_line(self._link(garden, entry)) if self._link is not None else ""
            setting = Setting(self._host, places.get(entry.place, entry.place), link)
            begin, alarm, end = rendered(entry, setting, choice.form)
            yield begin
            if choice.alarms:
                yield alarm
            yield end


def _order(entry: Entry) -> tuple[str, str]:
    span = entry.span
    first = span.first if isinstance(span, Days) else span.begins.astimezone(UTC)
    return first.isoformat(), entry.key


def _calendar(garden: Garden, credits_: Sequence[str], choice: FeedChoice) -> Calendar:
    name = one_line(choice.name) or one_line(garden.name)
    about = one_line(
        ". ".join(
            (
                f"Seasonal care of the trees of {one_line(garden.name)}",
                *(part.rstrip(".") for part in credits_),
            )
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
