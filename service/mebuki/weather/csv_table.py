"""Rows of a CSV table with comment lines, and every fault in it with its place."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from mebuki.errors import Fault, TableError

MOST_FAULTS_SHOWN = 8
BLANK = frozenset({"", "na", "nan", "null", "none", "-"})
"""Texts that mean: no value here."""


@dataclass(frozen=True, slots=True)
class CsvTable:
    """A table as text.

    Parameters
    ----------
    name
        The file as the person named it.
    comments
        The ``#`` lines without the sign.
    header
        Column names in the order of the file.
    rows
        Line number in the file (from 1) and cells of each row.
    """

    name: str
    comments: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]

    @property
    def credit(self) -> str:
        """What the file asks to be said about its source, or nothing."""
        for line in self.comments:
            word, _, text = line.partition(":")
            if word.strip().lower() == "credit":
                return text.strip()
        return ""


@dataclass(slots=True)
class Faults:
    """Collects what is wrong in one file, to be told all at once."""

    name: str
    found: list[Fault] = field(default_factory=list)

    def add(self, where: str, value: str, allowed: str) -> None:
        """Note one fault."""
        self.found.append(Fault(self.name, where, value, allowed))

    def stop_if_any(self) -> None:
        """Raise if a fault was noted.

        Raises
        ------
        TableError
            Names file, line, column, value and what is allowed, one fault a line.
        """
        if not self.found:
            return
        lines = [str(fault) for fault in self.found[:MOST_FAULTS_SHOWN]]
        more = len(self.found) - len(lines)
        if more:
            lines.append(f"{self.name}: and {more} more of the kind")
        raise TableError("\n".join(lines))


def read_table(
    path: Path, required: Sequence[str], wrong_units: Mapping[str, tuple[str, str]]
) -> CsvTable:
    """Read a CSV table; comment lines begin with ``#``.

    Parameters
    ----------
    required
        Columns that must be there.
    wrong_units
        Column names that betray a wrong unit, each with the column to give
        instead and that column's unit in words. Where the right column is
        there too, the wrong one is ignored.

    Raises
    ------
    TableError
        If the file cannot be read, is no CSV, is empty or has no rows, if
        columns are missing or doubled, or a row has more or fewer cells than the header.
    """
    faults = Faults(path.name)
    lines = _lines(path, faults)
    comments = tuple(text.lstrip()[1:].strip() for _, text in lines if text.lstrip()[:1] == "#")
    content = [(n, text) for n, text in lines if text.strip() and text.lstrip()[:1] != "#"]
    if not content:
        allowed = f"the file is empty; the first line must name the columns: {', '.join(required)}"
        faults.add("", "", allowed)
    faults.stop_if_any()
    first, header = (
        content[0][0],
        tuple(cell.strip().lower() for cell in _cells(content[0], faults)),
    )
    _check_header(header, f"line {first}", (required, wrong_units), faults)
    faults.stop_if_any()
    rows = tuple((line[0], _cells(line, faults)) for line in content[1:])
    for number, cells in rows:
        if cells and len(cells) != len(header):
            allowed = f"a row must have {len(header)} cells, as the header has"
            faults.add(f"line {number}", f"{len(cells)} cells", allowed)
    if not rows:
        faults.add("", "", "the file has a header but no rows; give at least one row of values")
    faults.stop_if_any()
    return CsvTable(name=path.name, comments=comments, header=header, rows=rows)


def number_of(text: str) -> float | None:
    """Return the number in a cell, NaN for a blank one, none if it is no number."""
    if text.strip().lower() in BLANK:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in text else None


def _lines(path: Path, faults: Faults) -> list[tuple[int, str]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        faults.add("", "", "this is not a text file; a CSV table in UTF-8 is needed")
        return [(1, "?")]
    except OSError as error:
        faults.add("", "", f"the file cannot be read: {error.strerror or error}")
        return [(1, "?")]
    if "\0" in text:
        faults.add("", "", "this is not a text file; a CSV table in UTF-8 is needed")
    return list(enumerate(text.splitlines(), start=1))


def _cells(line: tuple[int, str], faults: Faults) -> tuple[str, ...]:
    try:
        return tuple(cell.strip() for cell in next(csv.reader([line[1]], strict=True)))
    except csv.Error as error:
        faults.add(f"line {line[0]}", line[1][:40], f"this is not a row of a CSV table ({error})")
        return ()


def _check_header(
    header: tuple[str, ...],
    where: str,
    rules: tuple[Sequence[str], Mapping[str, tuple[str, str]]],
    faults: Faults,
) -> None:
    required, wrong_units = rules
    for name in header:
        right, unit = wrong_units.get(name, (name, ""))
        if right not in header:
            faults.add(f"{where}, column {name}", "", f"give {right}, {unit}, instead")
    doubled = sorted({name for name in header if name and header.count(name) > 1})
    if doubled:
        faults.add(where, ", ".join(doubled), "each column may be there only once")
    missing = [name for name in required if name not in header]
    if missing and not faults.found:
        allowed = f"columns missing: {', '.join(missing)}; cells are parted by commas"
        faults.add(where, ",".join(header)[:60], allowed)
