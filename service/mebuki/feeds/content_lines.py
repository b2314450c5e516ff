"""Content lines of iCalendar: values written, text escaped, lines folded (RFC 5545 3.1, 3.3).

Entries are written here and not by the calendar library, which takes four
times as long over them: it builds an object for every parameter and folds sign
by sign. The library writes the head of a feed, and reads all of it in the tests.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Final

from icalendar import Component, vText

WIDTH: Final = 75
"""Octets in a line at most, without its end."""

_CONTINUED: Final = b"\r\n "
_TOP_BITS, _FURTHER_OCTET = 0b1100_0000, 0b1000_0000
"""How UTF-8 marks an octet that is not the first of its sign."""


def escaped(text: str) -> str:
    r"""Return a text as RFC 5545 3.3.11 says: backslash, semicolon, comma, line break.

    >>> escaped("a;b,c\nd")
    'a\\;b\\,c\\nd'
    """
    signs = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return signs.replace("\n", "\\n")


class Text(vText):
    """A text escaped as `escaped` does.

    The library's own escaping turns a backslash before a capital N, which a
    person may well write, into a line break.
    """

    def to_ical(self) -> bytes:
        """Return the escaped text."""
        return escaped(self).encode("utf-8")


def when(name: str, value: date) -> str:
    """Return a line with a day, or with a moment in UTC (RFC 5545 3.3.4, 3.3.5).

    >>> when("DUE", date(2013, 3, 27))
    'DUE;VALUE=DATE:20130327'
    """
    if isinstance(value, datetime):
        at = value.astimezone(UTC).replace(microsecond=0, tzinfo=None)
        return f"{name}:{at.isoformat().replace('-', '').replace(':', '')}Z"
    return f"{name};VALUE=DATE:{value.isoformat().replace('-', '')}"


def head_bytes(component: Component) -> bytes:
    """Return a component of the library as bytes, folded as all lines are."""
    return written(line for line in component.content_lines() if line)


def written(lines: Iterable[str]) -> bytes:
    """Return content lines as bytes, each folded and ended."""
    return b"".join(folded(line.encode("utf-8")) + b"\r\n" for line in lines)


def folded(line: bytes) -> bytes:
    r"""Return a line of UTF-8 as pieces of at most 75 octets, no sign cut in two.

    >>> folded(b"x" * 80).split(b"\r\n")[1]
    b' xxxxx'
    """
    if len(line) <= WIDTH:
        return line
    pieces, begin, room = [], 0, WIDTH
    while len(line) - begin > room:
        end = begin + room
        while line[end] & _TOP_BITS == _FURTHER_OCTET:
            end -= 1
        pieces.append(line[begin:end])
        begin, room = end, WIDTH - 1
    pieces.append(line[begin:])
    return _CONTINUED.join(pieces)
