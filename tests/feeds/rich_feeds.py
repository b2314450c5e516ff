"""Entries that a year brings, and what a right reader sees of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.text import one_line
from tests.builders import an_entry

HOST = "garden.example"
DAY = timedelta(days=1)

Seen = tuple[str, str, str, str]
"""UID, title, start, and exclusive end of an event."""

CLOCKS: Mapping[str, tuple[date, date]] = {
    "America/New_York": (date(2013, 3, 9), date(2013, 11, 2)),
    "Australia/Melbourne": (date(2013, 4, 6), date(2013, 10, 5)),
}
"""Evenings of the nights in which the clocks of a zone changed in 2013."""


def rich() -> list[Entry]:
    """Return entries round a change of the clocks, long and short, cancelled and revised."""
    clocks = datetime(2013, 11, 3, 4, tzinfo=UTC)  # New York's clocks go back at 06 Z
    return [
        an_entry("a", title="Repot 3 maples; mind, the \\ roots"),
        an_entry("b", title="Frost −2 °C: bring in 12 trees", alarm=True,
                 span=Moments(clocks, clocks + timedelta(hours=8))),
        an_entry("c", title="Cancelled: check the wire", status=EntryStatus.CANCELLED, revision=4,
                 span=Days(date(2013, 12, 30), date(2014, 1, 2))),
        an_entry("d", title="Wässern 🌱 " + "lang " * 40, body="one\ntwo\n\n" + "x" * 500,
                 span=Days(date(2013, 2, 28), date(2013, 2, 28))),
        an_entry("e", title="קשר 木 \"quoted\": 50 %", body="\u202eright to left\u202c; a,b\\n",
                 span=Days(date(2013, 6, 1), date(2013, 6, 2))),
    ]  # fmt: skip


def a_year(zone: str) -> list[Entry]:
    """Return a full year of a place: windows each week, nights, the nights clocks change."""
    place = ZoneInfo(zone)
    first = date(2013, 1, 1)
    kept = [
        an_entry(
            f"{zone}/week/{week}", kind=list(CareKind)[week % len(CareKind)],
            title=f"Week {week}: check the wire, {place.key}", revision=week % 4,
            status=list(EntryStatus)[week % 3],
            span=Days(first + week * 7 * DAY, first + (week * 7 + week % 23) * DAY),
        )
        for week in range(52)
    ]  # fmt: skip
    evenings = [*CLOCKS[zone], *(first + number * 30 * DAY for number in range(12))]
    for evening in evenings:
        begins, ends = (
            datetime.combine(day, time(hour), place).astimezone(UTC)
            for day, hour in ((evening, 20), (evening + DAY, 8))
        )
        kept.append(
            an_entry(
                f"{zone}/night/{evening}", kind=CareKind.FROST, alarm=True,
                title=f"Frost −2 °C on {evening:%d %b}, {place.key}", span=Moments(begins, ends),
            )
        )  # fmt: skip
    return kept


def a_thousand() -> list[Entry]:
    """Return a thousand entries over two years, timed and all-day."""
    first = datetime(2012, 12, 31, 23, tzinfo=UTC)
    return [
        an_entry(
            f"key {number}", title=f"Entry {number}", alarm=number % 3 == 0,
            span=Moments(first + number * timedelta(hours=17), first + number * timedelta(hours=17)
                         + timedelta(hours=10))
            if number % 2
            else Days(date(2013, 1, 1) + number // 2 * DAY, date(2013, 1, 5) + number // 2 * DAY),
        )
        for number in range(1000)
    ]  # fmt: skip


FEEDS: Mapping[str, Callable[[], Sequence[Entry]]] = {
    "rich": rich,
    "year": lambda: [entry for zone in CLOCKS for entry in a_year(zone)],
    "thousand": a_thousand,
}


def expected(kept: Sequence[Entry]) -> list[Seen]:
    """Return what a right reader sees, in order."""
    return sorted(_expected(entry) for entry in kept)


def _expected(entry: Entry) -> Seen:
    uid = entry.uid.partition("@")[0] + "@" + HOST
    if isinstance(entry.span, Days):
        return uid, one_line(entry.title), str(entry.span.first), str(entry.span.last + DAY)
    return uid, one_line(entry.title), written(entry.span.begins), written(entry.span.ends)


def written(value: date) -> str:
    """Return a day, or a moment in UTC to the minute, as text."""
    if not isinstance(value, datetime):
        return str(value)
    return f"{value.astimezone(UTC):%Y-%m-%dT%H:%M}"
