"""How long a provider asks us to wait: Retry-After, reasons in words, Expires. All pure."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

from mebuki.domain.text import one_line

LONGEST_WAIT = timedelta(hours=24)
"""The longest wait that is believed."""

LONGEST_KEEP = timedelta(hours=24)
"""The longest expiry that is believed: a forecast is never a day old unasked."""

CONCURRENT_WAIT = timedelta(seconds=5)
MOST_DIGITS = 9
NEW_DAY = timedelta(days=1)


def retry_after(value: str | None, at: datetime) -> timedelta | None:
    """Return the wait a Retry-After header asks for, 0 to `LONGEST_WAIT`; none if unreadable.

    Seconds or an HTTP date (RFC 9110, section 10.2.3).

    >>> retry_after("120", datetime(2026, 3, 24, tzinfo=UTC))
    datetime.timedelta(seconds=120)
    """
    if value is None or not value.strip():
        return None
    found = value.strip()
    if found.isascii() and found.isdigit():
        return _seconds(found, LONGEST_WAIT)
    until = http_date(found)
    return None if until is None else min(max(until - at, timedelta(0)), LONGEST_WAIT)


def http_date(value: str | None) -> datetime | None:
    """Return an HTTP date as a moment in UTC, or none."""
    if not value:
        return None
    try:
        found = parsedate_to_datetime(value)
        return found.replace(tzinfo=found.tzinfo or UTC).astimezone(UTC)
    except (ValueError, TypeError, IndexError, OverflowError):
        return None


def reason_of(content: bytes) -> str:
    """Return what an error body says in words: Open-Meteo's reason, or a problem's title."""
    try:
        found = json.loads(content)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(found, dict):
        return ""
    for name in ("reason", "detail", "title"):
        if isinstance(found.get(name), str):
            return one_line(found[name])[:200]
    return ""


def wait_by_reason(reason: str, at: datetime) -> timedelta | None:
    """Return the wait that the words of a 429 from Open-Meteo mean, or none.

    It sends no Retry-After; its counters start anew with each UTC minute, hour and day.
    """
    words = reason.lower()
    minute = at.replace(second=0, microsecond=0)
    if "concurrent" in words:
        return CONCURRENT_WAIT
    if "minutely" in words:
        return minute + timedelta(minutes=1) - at
    if "hourly" in words:
        return minute.replace(minute=0) + timedelta(hours=1) - at
    if "daily" in words:
        return minute.replace(hour=0, minute=0) + NEW_DAY - at
    return None


def holds_until(headers: Mapping[str, str], at: datetime, keep: timedelta) -> datetime:
    """Return until when an answer need not be asked for again.

    ``Cache-Control: max-age`` comes before ``Expires`` (RFC 9111, section 5.3);
    without either, or with a past one, our own time holds.
    """
    for part in headers.get("cache-control", "").lower().split(","):
        name, _, value = part.strip().partition("=")
        if name == "max-age" and value.isascii() and value.isdigit():
            return at + (_seconds(value, LONGEST_KEEP) or keep)
    expires = http_date(headers.get("expires"))
    if expires is not None and expires > at:
        return min(expires, at + LONGEST_KEEP)
    return at + keep


def _seconds(digits: str, most: timedelta) -> timedelta:
    """Return digits as seconds, however many of them there are."""
    short = digits.lstrip("0") or "0"
    return most if len(short) > MOST_DIGITS else min(timedelta(seconds=int(short)), most)
