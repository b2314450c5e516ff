"""Short words for people: days, temperatures, chances, counts, lists of names.

The same value always gives the same words, whatever the language settings of
the machine.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

ALMOST_CERTAIN, LIKELY, ABOUT_EVEN, POSSIBLE = 0.9, 0.66, 0.4, 0.1


def day_text(day: date) -> str:
    """Return a day without its year.

    >>> day_text(date(2013, 3, 27))
    '27 Mar'
    """
    return f"{day.day} {MONTHS[day.month - 1]}"


def dated(day: date) -> str:
    """Return a day with its year.

    >>> dated(date(2013, 3, 27))
    '27 Mar 2013'
    """
    return f"{day_text(day)} {day.year}"


def weekday_text(day: date) -> str:
    """Return a day with its weekday.

    >>> weekday_text(date(2013, 3, 27))
    'Wed 27 Mar'
    """
    return f"{WEEKDAYS[day.weekday()]} {day_text(day)}"


def days_text(first: date, last: date) -> str:
    """Return a span of days; months are named once where they agree.

    >>> days_text(date(2013, 3, 14), date(2013, 3, 28))
    '14–28 Mar'
    >>> days_text(date(2013, 3, 28), date(2013, 4, 4))
    '28 Mar – 4 Apr'
    """
    if first == last:
        return day_text(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}–{day_text(last)}"
    return f"{day_text(first)} – {day_text(last)}"


def clock_text(moment: datetime, zone: ZoneInfo) -> str:
    """Return the local time of a moment to the minute, such as ``15:00``."""
    return f"{moment.astimezone(zone):%H:%M}"


def temperature_text(celsius: float, digits: int = 1) -> str:
    """Return a temperature with a minus sign; never minus nought.

    >>> temperature_text(-2.25), temperature_text(-0.02), temperature_text(-3.6, 0)
    ('−2.2 °C', '0.0 °C', '−4 °C')
    """
    rounded = round(celsius, digits) + 0.0
    sign = "−" if rounded < 0 else ""
    return f"{sign}{abs(rounded):.{digits}f} °C"


def percent_text(probability: float) -> str:
    """Return a probability [0..1] in per cent; never a promise of 0 or 100.

    >>> percent_text(0.4), percent_text(0.001), percent_text(0.9999)
    ('40 %', 'under 1 %', 'over 99 %')
    """
    percent = 100 * probability
    if percent < 1:
        return "under 1 %"
    return "over 99 %" if percent > 99 else f"{percent:.0f} %"  # noqa: PLR2004 - a percentage


def chance_word(probability: float) -> str:
    """Return a word for a probability [0..1].

    >>> chance_word(0.95), chance_word(0.7), chance_word(0.5), chance_word(0.2), chance_word(0.05)
    ('almost certain', 'likely', 'about even', 'possible', 'unlikely')
    """
    for limit, word in (
        (ALMOST_CERTAIN, "almost certain"),
        (LIKELY, "likely"),
        (ABOUT_EVEN, "about even"),
        (POSSIBLE, "possible"),
    ):
        if probability >= limit:
            return word
    return "unlikely"


def chance_text(probability: float) -> str:
    """Return word and number.

    >>> chance_text(0.62)
    'about even, 62 %'
    """
    return f"{chance_word(probability)}, {percent_text(probability)}"


def count_text(count: int, noun: str) -> str:
    """Return a number with its noun.

    >>> count_text(1, "tree"), count_text(12, "tree")
    ('1 tree', '12 trees')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def number_text(value: float) -> str:
    """Return a number as short as it is known, with a minus sign.

    >>> number_text(8.0), number_text(-1.5)
    ('8', '−1.5')
    """
    return f"{value:g}".replace("-", "−")


def listing(names: Sequence[str], last: str = "and") -> str:
    """Return names as a list in a sentence; ``last`` is the word before the last one.

    >>> listing(["Alba"]), listing(["Alba", "Bo"]), listing(["Alba", "Bo", "Cy"], "or")
    ('Alba', 'Alba and Bo', 'Alba, Bo or Cy')
    """
    if len(names) <= 1:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def name_order(name: str) -> tuple[tuple[str, int], ...]:
    """Return what puts names in the order of a reader: numbers in them count as numbers.

    >>> sorted(["Elm 10", "Elm 9", "elm 1"], key=name_order)
    ['elm 1', 'Elm 9', 'Elm 10']
    """
    parts = re.findall(r"[^0-9]+|[0-9]+", name.casefold())
    return tuple(("", int(each)) if each.isdecimal() else (each, 0) for each in parts)


def frost_type_text(frost_type: str) -> str:
    """Return in plain words what kind of frost a night may bring.

    >>> frost_type_text("radiation")
    'clear and calm, leaves get colder than the air'
    """
    if frost_type == "radiation":
        return "clear and calm, leaves get colder than the air"
    return "wind or cloud, the air itself is cold"
