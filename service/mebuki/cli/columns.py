"""Tables of ``mebuki compute``: CSV read by exact column names, CSV or JSON written."""

from __future__ import annotations

import csv
import io
import json
import math
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from mebuki.errors import InputError, TableError

if TYPE_CHECKING:
    from mebuki.domain.weather import Floats

Value = TypeVar("Value")
Cell = str | int | float | None

DECIMALS = 6
"""Decimals of a number written."""

STANDARD_INPUT = "-"

_MISSING = {"", "na", "nan", "null", "none"}
_FAULTS_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Table:
    """The wanted columns of a CSV file, as text; rows count from 1 below the heading."""

    name: str
    columns: dict[str, list[str]]

    def numbers(self, column: str) -> Floats:
        """Return a column as numbers, NaN where a cell is empty; `TableError` otherwise."""
        import numpy as np

        return np.array(self._parsed(column, _number), np.float64)

    def days(self, column: str) -> list[date]:
        """Return a column of ISO 8601 days; `TableError` naming every row that is none."""
        return self._parsed(column, _day)

    def moments(self, column: str) -> list[datetime]:
        """Return a column of ISO 8601 times; `TableError` naming every row that is none."""
        return self._parsed(column, datetime.fromisoformat)

    def _parsed(self, column: str, parse: Callable[[str], Value]) -> list[Value]:
        values, faults = [], []
        for row, text in enumerate(self.columns[column], start=1):
            try:
                values.append(parse(text))
            except ValueError:
                faults.append(f"row {row}, {column}: found {text!r}; {_ALLOWED[parse]}")
        if faults:
            more = len(faults) - _FAULTS_SHOWN
            ending = [f"and {more} more"] if more > 0 else []
            raise TableError(_block(self.name, [*faults[:_FAULTS_SHOWN], *ending]))
        return values


def _number(text: str) -> float:
    if text.casefold() in _MISSING:
        return math.nan
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        moment = datetime.fromisoformat(text)
        if moment.time() != time():
            raise
        return moment.date()


_ALLOWED: dict[object, str] = {
    _number: "a number with a decimal point, or empty where missing",
    _day: "a day such as 2013-03-27",
    datetime.fromisoformat: "a time such as 2013-03-27T14:00",
}


def read_table(file: Path, wanted: Sequence[str], maybe: Sequence[str] = ()) -> Table:
    """Return the wanted columns of a CSV file (``-`` for standard input).

    Names must match exactly; columns of ``maybe`` are read if they are there, further
    ones are ignored; blank lines are skipped.

    Raises
    ------
    InputError
        If the file cannot be read.
    TableError
        If it is no UTF-8 text, a column is missing or named twice, a row has
        more or fewer cells than the heading, or there are no rows.
    """
    name = "standard input" if str(file) == STANDARD_INPUT else str(file)
    lines = csv.reader(io.StringIO(_text(file, name), newline=""), skipinitialspace=True)
    try:
        rows = [[cell.strip() for cell in row] for row in lines if any(row)]
    except csv.Error as error:
        msg = f"{name}: no CSV table: {error}"
        raise TableError(msg) from error
    heading = rows[0] if rows else []
    there = [column for column in maybe if column in heading]
    _check_heading(name, heading, wanted)
    _check_heading(name, heading, there)
    if not rows[1:]:
        msg = f"{name}: there are no rows below the heading"
        raise TableError(msg)
    _check_cells(name, rows)
    at = {column: heading.index(column) for column in (*wanted, *there)}
    return Table(name, {column: [row[where] for row in rows[1:]] for column, where in at.items()})


def _text(file: Path, name: str) -> str:
    try:
        raw = sys.stdin.buffer.read() if str(file) == STANDARD_INPUT else file.read_bytes()
        return raw.decode("utf-8-sig")
    except OSError as error:
        msg = f"{name}: cannot be read: {error.strerror}"
        raise InputError(msg) from error
    except UnicodeDecodeError as error:
        msg = f"{name}: is no UTF-8 text (byte {error.start})"
        raise TableError(msg) from error


def _check_heading(name: str, heading: list[str], wanted: Sequence[str]) -> None:
    missing = [column for column in wanted if column not in heading]
    if missing:
        hint = "; cells must be parted by commas" if len(heading) == 1 else ""
        msg = (
            f"{name}: no column {', '.join(missing)}; needed are {', '.join(wanted)}, "
            f"found {', '.join(heading) or 'nothing'}{hint}"
        )
        raise TableError(msg)
    double = [column for column in wanted if heading.count(column) > 1]
    if double:
        msg = f"{name}: column {', '.join(double)} stands there more than once"
        raise TableError(msg)


def _check_cells(name: str, rows: list[list[str]]) -> None:
    width = len(rows[0])
    for number, row in enumerate(rows[1:], start=1):
        if len(row) != width:
            msg = (
                f"{name}: row {number}: {len(row)} cells under {width} headings; "
                "decimals are written with a point"
            )
            raise TableError(msg)


def _block(name: str, lines: Sequence[str]) -> str:
    return f"{name}: {lines[0]}" if len(lines) == 1 else "\n  ".join([f"{name}:", *lines])


@contextmanager
def naming(table: Table) -> Iterator[None]:
    """Put the file's name before what a check says of its rows."""
    try:
        yield
    except TableError as error:
        raise TableError(_block(table.name, str(error).splitlines())) from error


def write_rows(heading: Sequence[str], rows: Iterable[Sequence[Cell]], as_json: bool) -> None:
    """Write rows to standard output: CSV, or a JSON array of objects."""
    if as_json:
        data = [dict(zip(heading, map(_rounded, row), strict=True)) for row in rows]
        sys.stdout.write(json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
        return
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(heading)
    out.writerows([_written(cell) for cell in row] for row in rows)


def _rounded(cell: Cell) -> Cell:
    return round(cell, DECIMALS) + 0.0 if isinstance(cell, float) else cell


def _written(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        # Adding nought turns −0 into 0.
        return f"{_rounded(cell):.{DECIMALS}f}".rstrip("0").rstrip(".")
    return str(cell)
