"""Quantities in texts for people, told in the units of the reader.

Texts are made once, in metric units, in the one form that `mebuki.domain.wording` and
the rules use: a number, a space, a unit. This module finds each quantity there and says
the same in US customary units. A temperature and a difference of temperatures are told
apart by the words around them (`DIFFERENCE`), since only one of them has an offset.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final, Literal

Units = Literal["metric", "us"]

LITRES_A_GALLON: Final = Decimal("3.785411784")
"""One US gallon [L]: 231 cubic inches (NIST Special Publication 811, appendix B)."""

OUNCES_A_GALLON: Final = Decimal(128)
MM_AN_INCH: Final = Decimal("25.4")
KG_A_POUND: Final = Decimal("0.45359237")
METRES_A_FOOT: Final = Decimal("0.3048")
MPS_A_MPH: Final = Decimal("0.44704")
"""One mile an hour [m s-1]; like the lines above exact by definition (NIST SP 811)."""

_NUMBER: Final = r"−?\d+(?:\.\d+)?"
_JOIN: Final = r" to | ± | give or take |–"
_SPREAD: Final = (" ± ", " give or take ")

QUANTITY: Final = re.compile(
    rf"(?<![\w.,/−-])(?P<value>{_NUMBER})(?:(?P<join>{_JOIN})(?P<other>{_NUMBER}))?"
    r"(?P<space>[  \u202f])(?P<unit>°C d|°C|m/s|m s-1|mm|cm|m(?= of )|mL|L|kg)(?![\w°/²³])"
    rf"(?P<tail>(?: ±| give or take) {_NUMBER}(?!\w|\.\d| ?[°%])|"
    rf" \(usually {_NUMBER} to {_NUMBER}\))?"
)
"""A number or a pair of numbers with a unit, and a spread or a usual range behind it."""

DIFFERENCE: Final = (
    re.compile(r"(?:±|\bgive or take|\bby|\bspread\b[^:\x1f]*)[:\s\x1f]*$", re.IGNORECASE),
    re.compile(r"\s*(?:too (?:warm|cold)|warmer|colder|apart|lower|higher)\b"),
)
"""What stands before or behind a difference of temperatures: ``by``, ``±``, ``too warm``, ..."""

SEPARATOR: Final = "\x1f"
"""Parts a label from its value, where the label says what the value is."""

_NEEDS: Final = re.compile(r"\d[  \u202f](?:°C|m/s|m s-1|mm|cm|m |mL|L|kg)")


def in_units(
    text: str, units: Units, exact: Sequence[float] = (), names: Iterable[str] = ()
) -> str:
    """Return a text with its quantities in the units of a reader.

    Parameters
    ----------
    exact
        Temperatures [°C] of which the text shows rounded ones: they are converted
        before they are rounded.
    names
        Texts of other people, such as names of trees, that stay as they are.

    >>> in_units("Frost −4 °C: lowest −3.6 °C ± 1.6", "us")
    'Frost 25 °F: lowest 25.5 °F ± 2.9'
    >>> in_units("1.5 °C too warm; gusts of 20 to 25 m/s, 0.45 ± 0.05 L of 1.20 L", "us")
    '2.7 °F too warm; gusts of 45 to 56 mph, 15 ± 1.7 fl oz of 41 fl oz'
    """
    if units == "metric" or not _NEEDS.search(text):
        return text
    kept = [found.span() for name in names for found in re.finditer(re.escape(name), text)]
    large = _large(text)

    def told(found: re.Match[str]) -> str:
        if any(begin <= found.start() < end for begin, end in kept):
            return found[0]
        return _told(found, exact, large=large)

    return QUANTITY.sub(told, text)


def has_quantity(text: str) -> bool:
    """Return whether a text, such as a name, reads like a quantity somewhere."""
    return QUANTITY.search(text) is not None


def fahrenheit(celsius: Decimal) -> Decimal:
    """Return a temperature [°F].

    >>> [str(fahrenheit(Decimal(value))) for value in (-40, 0, 37)]
    ['-40.0', '32.0', '98.6']
    """
    return celsius * Decimal("1.8") + 32


def _told(found: re.Match[str], exact: Sequence[float], *, large: bool) -> str:
    value, join, other, unit = found["value"], found["join"], found["other"], found["unit"]
    differs = unit == "°C" and _is_difference(found)
    name, first = _convert(value, unit, exact, large=large, differs=differs)
    told = first
    if other:
        spread = differs or (unit == "°C" and join in _SPREAD)
        told += join + _convert(other, unit, exact, large=large, differs=spread)[1]
    told += f"{found['space']}{name}"
    tail = found["tail"] or ""
    plain = differs or "usually" not in tail
    return told + re.sub(
        _NUMBER,
        lambda one: _convert(one[0], unit, (), large=large, differs=plain and unit == "°C")[1],
        tail,
    )


def _is_difference(found: re.Match[str]) -> bool:
    before, behind = DIFFERENCE
    text = found.string
    return bool(before.search(text, 0, found.start()) or behind.match(text, found.end()))


def _convert(
    text: str, unit: str, exact: Sequence[float], *, large: bool, differs: bool
) -> tuple[str, str]:
    """Return the other unit and the number in it."""
    value = Decimal(text.replace("−", "-"))
    digits = len(text.partition(".")[2])
    if unit == "°C" and not differs:
        return "°F", _number(fahrenheit(_exact(value, digits, exact)), digits)
    if unit in ("°C", "°C d"):
        wide = value * Decimal("1.8")
        return unit.replace("C", "F"), _number(wide, digits) if digits else _short(
            wide, int(differs)
        )
    if unit in ("L", "mL"):
        litres = value if unit == "L" else value / 1000
        return _volume(litres, large=large)
    return _plain(value, unit)


def _plain(value: Decimal, unit: str) -> tuple[str, str]:
    if unit in ("mm", "cm"):
        inches = (value * 10 if unit == "cm" else value) / MM_AN_INCH
        return "in", _number(inches, 2 if abs(inches) < 1 else 1)
    if unit == "kg":
        pounds = value / KG_A_POUND
        return "lb", _short(pounds, 0 if pounds >= 10 else 1)  # noqa: PLR2004 - two figures
    if unit == "m":
        return "ft", _short(value / METRES_A_FOOT, 1)
    return "mph", _number(value / MPS_A_MPH, 0)


def _volume(litres: Decimal, *, large: bool) -> tuple[str, str]:
    gallons = litres / LITRES_A_GALLON
    if large:
        return "gal", _number(gallons, 1 if gallons >= 10 else 2)  # noqa: PLR2004 - three figures
    ounces = gallons * OUNCES_A_GALLON
    return "fl oz", _short(ounces, 0 if ounces >= 10 else 1)  # noqa: PLR2004 - two figures


def _large(text: str) -> bool:
    """Return whether some volume of a text reaches a gallon: all are told in gallons then."""
    for found in QUANTITY.finditer(text):
        if found["unit"] == "L":
            most = max(Decimal(each) for each in (found["value"], found["other"] or "0"))
            if most >= LITRES_A_GALLON:
                return True
    return False


def _exact(value: Decimal, digits: int, exact: Sequence[float]) -> Decimal:
    """Return the temperature of which a text shows the rounded one, if it is known."""
    for each in exact:
        if Decimal(str(round(each, digits))) == value:
            return Decimal(each)
    return value


def _number(value: Decimal, digits: int) -> str:
    rounded = value.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_EVEN)
    sign = "−" if rounded < 0 else ""
    return f"{sign}{abs(rounded):f}"


def _short(value: Decimal, digits: int) -> str:
    """Return a number without a nought behind its point that says nothing."""
    text = _number(value, digits)
    return text.removesuffix(".0")
