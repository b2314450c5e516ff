"""Days and numbers as people read them, and tables of them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from mebuki.domain.wording import day_text


@dataclass(frozen=True, slots=True)
class Table:
    """The numbers of a picture for those who would rather read them.

    ``rows`` hold a heading and then the cells; all of the length of ``columns``.
    ``tight`` says that cells are short and are not to be broken.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    tight: bool = False


def number(value: float, places: int = 0) -> str:
    """Return a number with a true minus sign and no minus nought.

    >>> number(-2.04, 1), number(-0.2)
    ('−2.0', '0')
    """
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def degrees(value: float, places: int = 0) -> str:
    """Return a temperature, such as ``−2 °C``."""
    return f"{number(value, places)} °C"


def long_day(day: date) -> str:
    """Return a day with its year, such as ``Wednesday 27 March 2013``."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def span_words(first: date, last: date) -> str:
    """Return a span of days, such as ``27 Mar to 4 Apr``.

    >>> span_words(date(2013, 3, 27), date(2013, 3, 30))
    '27 to 30 Mar'
    """
    if first == last:
        return day_text(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day_text(last)}"
    return f"{day_text(first)} to {day_text(last)}"


def clock_time(moment: datetime) -> str:
    """Return the time of day of a local moment, such as ``05:00``."""
    return f"{moment:%H:%M}"


def some_day(day: date | None) -> str:
    """Return a day, or that it does not come."""
    return "not this season" if day is None else day_text(day)


def short_name(name: str) -> str:
    """Return a common name without what stands in brackets.

    >>> short_name("mountain (mugo) pine")
    'mountain pine'
    """
    return re.sub(r" \([^)]*\)", "", name)
