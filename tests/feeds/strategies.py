"""Any text and any entry, for laws that must hold for all of them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from hypothesis import strategies as st

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import CareKind, Days, Moments, Urgency

NASTY = st.sampled_from(
    ["\r\n", "\r", "\n", "\x00", "\x07", "\x85", "\u2028", "\ufeff", "\ud800", ";", ",", "\\", ":",
     '"', "\\n", "\\N", "BEGIN:VEVENT", "END:VCALENDAR", "\u202e", "🌱", "é" * 40]
)  # fmt: skip
ANY_TEXT = st.lists(st.one_of(NASTY, st.text(max_size=30)), max_size=12).map("".join)

_DAYS = st.dates(date(2000, 1, 1), date(2060, 12, 31))
_MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2060, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001 - bounds are naive by contract


def _days(first: date, length: int) -> Days:
    return Days(first, first + timedelta(days=length))


def _moments(begins: datetime, minutes: int) -> Moments:
    return Moments(begins, begins + timedelta(minutes=minutes))


SPANS = st.one_of(
    st.builds(_days, _DAYS, st.integers(0, 120)),
    st.builds(_moments, _MOMENTS, st.integers(1, 3000)),
)


@st.composite
def entries(draw: st.DrawFn) -> list[Entry]:
    """Draw a few entries with different keys and any text."""
    keys = draw(st.lists(st.text(min_size=1, max_size=20), max_size=6, unique=True))
    return [draw(_entry(key.encode("utf-8", "replace").decode())) for key in _distinct(keys)]


def _distinct(keys: list[str]) -> list[str]:
    return list({key.encode("utf-8", "replace"): key for key in keys}.values())


def _entry(key: str) -> st.SearchStrategy[Entry]:
    return st.builds(
        Entry,
        key=st.just(key),
        kind=st.sampled_from(CareKind),
        status=st.sampled_from(EntryStatus),
        title=ANY_TEXT,
        body=ANY_TEXT,
        span=SPANS,
        trees=st.just(("maple",)),
        place=ANY_TEXT,
        urgency=st.sampled_from(Urgency),
        alarm=st.booleans(),
        created=_MOMENTS,
        changed=_MOMENTS,
        revision=st.integers(0, 50),
    )
