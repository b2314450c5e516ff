"""How dates and times of day are written where a reader lives."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from mebuki.domain.quantity import Units, has_quantity, in_units
from mebuki.domain.wording import MONTHS, WEEKDAYS

_MONTH: Final = f"(?P<month>{'|'.join(MONTHS)})"
_DAY: Final = re.compile(
    rf"(?<![\w.−-])(?:(?P<weekday>{'|'.join(WEEKDAYS)}) )?"
    rf"(?P<first>\d{{1,2}})(?P<last>–\d{{1,2}})? {_MONTH}\b(?: (?P<year>\d{{4}})\b)?"
)
_CLOCK: Final = re.compile(r"(?<![\d:.+−-])(?<!\d-\d\d )([01]\d|2[0-3]):([0-5]\d)(?![\d:])")
_NOON: Final = 12


def as_read(text: str, units: Units, exact: Sequence[float] = (), names: Iterable[str] = ()) -> str:
    """Return a text with quantities, days and times of day as a reader is used to them.

    Parameters
    ----------
    exact, names
        As `mebuki.domain.quantity.in_units` has them.

    >>> as_read("Lowest −2.1 °C about 05:00, Wed 27 Mar 2013 or 28–30 Mar", "us")
    'Lowest 28.2 °F about 5:00 am, Wed, Mar 27, 2013 or Mar 28–30'
    """
    if units == "metric":
        return text
    told = in_units(text, units, exact, names)
    kept = [found.span() for name in names for found in re.finditer(re.escape(name), told)]

    def free(found: re.Match[str]) -> bool:
        return not any(begin <= found.start() < end for begin, end in kept)

    # from the end, so that what is kept before it stays where it is
    for pattern, write in ((_CLOCK, _hour), (_DAY, _date)):
        for found in reversed(list(pattern.finditer(told))):
            if free(found):
                told = told[: found.start()] + write(found) + told[found.end() :]
        kept = [one.span() for name in names for one in re.finditer(re.escape(name), told)]
    return told


def reads_like_ours(name: str) -> bool:
    """Return whether a name holds what `as_read` would change: a quantity, a day, a time."""
    return has_quantity(name) or bool(_DAY.search(name) or _CLOCK.search(name))


def _hour(found: re.Match[str]) -> str:
    hour = int(found[1])
    half = "am" if hour < _NOON else "pm"
    return f"{hour % _NOON or _NOON}:{found[2]} {half}"


def _date(found: re.Match[str]) -> str:
    weekday = f"{found['weekday']}, " if found["weekday"] else ""
    year = f", {found['year']}" if found["year"] else ""
    return f"{weekday}{found['month']} {found['first']}{found['last'] or ''}{year}"
