"""Trees and their records as a table (CSV), for spreadsheets: out, and back without loss.

A row is a tree or, where the column ``row`` says so, a record of a tree. The
table holds no site, places or people: it is read into a garden that has them.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, Final

from mebuki.domain.garden import Garden, slug
from mebuki.domain.tree import Record, Tree
from mebuki.errors import Fault, FilesError
from mebuki.rulebook.documents import Document
from mebuki.rulebook.lines import Key

ROW: Final = "row"
TREE: Final = "tree"
RECORD: Final = "record"

_POT: Final = ("shape", "length_cm", "width_cm", "height_cm", "wall", "time_constant_hours")
_TREE: Final = (
    "id", "name", "taxon", "cultivar", "place", *(f"pot_{name}" for name in _POT), "substrate",
    "canopy_cm", "vigour", "value", "development", "born", "note",
)  # fmt: skip
_RECORD: Final = ("on", "kind", "amount", "place", "note", "unknown_kind")
COLUMNS: Final = (ROW, *_TREE[:-1], "on", "kind", "amount", "note", "unknown_kind")
"""The columns, in the order in which they are written; they may be read in any."""

_REAL: Final = ("pot_length_cm", "pot_width_cm", "pot_height_cm", "pot_time_constant_hours",
                "canopy_cm", "amount")  # fmt: skip
_FREE: Final = ("name", "cultivar", "note", "unknown_kind")
"""Texts of people: kept to the letter. Of the others, white space round them is dropped."""

_FORMULA: Final = re.compile(r"['=+\-@\t\r]")
_DELIMITERS: Final = ",;\t"
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True, slots=True)
class TableDocument(Document):
    """A garden of which the trees came from a table; faults are told by line and column.

    ``refused`` holds what was wrong with rows that are part of no tree.
    """

    refused: list[Fault] = field(default_factory=list)

    def where(self, key: Key) -> str:
        """Return the line and the column of a key."""
        line = self.line(key)
        names = [part for part in key[2:] if isinstance(part, str) and part != "records"]
        column = "_".join(names)
        found = f"line {line}" if line else ""
        return ", ".join(part for part in (found, column) if part)


def tree_table(garden: Garden) -> str:
    """Return the trees of a garden and their records as CSV text."""
    text = io.StringIO()
    rows = csv.DictWriter(text, COLUMNS, restval="")
    rows.writeheader()
    for tree in garden.trees:
        rows.writerow(_guarded({ROW: TREE, **_tree_cells(tree)}))
        for record in tree.records:
            rows.writerow(_guarded({ROW: RECORD, "id": tree.id, **_record_cells(record)}))
    return text.getvalue()


def read_tree_table(path: Path, garden: Garden) -> TableDocument:
    """Return a table as the document of a garden: its own trees, the rest from ``garden``.

    Without a column ``row`` every row is a tree, and trees that the garden has
    already keep their records.

    Raises
    ------
    FilesError
        If the file is no such table.
    """
    base = garden.model_dump(mode="json", exclude={"trees"})
    trees: list[dict[str, Any]] = []
    lines: dict[Key, int] = {}
    document = TableDocument(path, {**base, "trees": trees}, lines)
    rows = _rows(path, document.refused)
    plain = not any(ROW in row for _, row in rows)
    for line, row in rows:
        if row.get(ROW, TREE) == TREE:
            lines["trees", len(trees)] = line
            trees.append(_tree(row, garden, keep_records=plain))
    for line, row in rows:
        if row.get(ROW, TREE) != TREE:
            _add_record(document, lines, line, row)
    return document


def _tree_cells(tree: Tree) -> dict[str, Any]:
    pot = {f"pot_{name}": getattr(tree.pot, name) for name in _POT}
    if tree.pot.shape == "round":
        del pot["pot_width_cm"]
    return {name: getattr(tree, name) for name in _TREE if not name.startswith("pot_")} | pot


def _record_cells(record: Record) -> dict[str, Any]:
    return {name: getattr(record, name) for name in _RECORD}


def _guarded(cells: Mapping[str, Any]) -> dict[str, Any]:
    """Return cells of which a spreadsheet takes none for a formula."""
    return {
        name: f"'{value}" if name in _FREE and _FORMULA.match(str(value)) else value
        for name, value in cells.items()
    }


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        allowed = "the file must be UTF-8 text; save it anew with that encoding"
        raise FilesError([Fault(str(path), "", "", allowed)]) from error
    except OSError as error:
        allowed = f"the file cannot be read: {error.strerror or error}"
        raise FilesError([Fault(str(path), "", "", allowed)]) from error


def _rows(path: Path, refused: list[Fault]) -> list[tuple[int, dict[str, Any]]]:
    """Return the rows with their lines; empty cells are left out, numbers are numbers."""
    text = _text(path)
    head = text.splitlines()[0] if text else ""
    delimiter = max(_DELIMITERS, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    found: list[tuple[int, dict[str, Any]]] = []
    try:
        names = [name.strip() for name in next(reader, [])]
        _known_columns(path, names)
        line = reader.line_num + 1
        for cells in reader:
            if any(cells[len(names) :]):
                allowed = f"{len(cells)} cells; the first line names {len(names)} columns"
                refused.append(Fault(str(path), f"line {line}", "", allowed))
            elif any(cell.strip() for cell in cells):
                found.append((line, _cells(names, cells)))
            line = reader.line_num + 1
    except csv.Error as error:
        fault = Fault(str(path), f"line {reader.line_num}", "", f"not a table: {error}")
        raise FilesError([fault]) from error
    return found


def _known_columns(path: Path, names: Sequence[str]) -> None:
    faults = [
        Fault(str(path), "line 1", name or "a column without a name",
              f"unknown column; known: {', '.join(COLUMNS)}")
        for name in names
        if name not in COLUMNS
    ]  # fmt: skip
    faults += [
        Fault(str(path), "line 1", name, "this column is there twice")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    if "name" not in names:
        faults.append(Fault(str(path), "line 1", "", "a table of trees needs a column name"))
    if faults:
        raise FilesError(faults)


def _cells(names: Sequence[str], cells: Sequence[str]) -> dict[str, Any]:
    found = {}
    for name, cell in zip(names, cells, strict=False):
        text = _unguarded(cell) if name in _FREE else cell.strip()
        if text:
            found[name] = _converted(name, text)
    return found


def _unguarded(text: str) -> str:
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text


def _converted(name: str, text: str) -> object:
    """Return a cell as the value it stands for; one that stands for none stays text."""
    if name in _REAL and _NUMBER.fullmatch(text):
        return float(text)
    if name == "born" and text.isascii() and text.isdigit():
        return int(text)
    if name == "on":
        try:
            return date.fromisoformat(text)
        except ValueError:
            return text
    return text


def _tree(row: Mapping[str, Any], garden: Garden, *, keep_records: bool) -> dict[str, Any]:
    tree = {name: row[name] for name in _TREE if name in row and not name.startswith("pot_")}
    tree["pot"] = {name: row[f"pot_{name}"] for name in _POT if f"pot_{name}" in row}
    known = next((each for each in garden.trees if _same(each, tree)), None)
    if known is not None:
        tree["id"] = known.id
    elif isinstance(tree.get("name"), str):
        tree.setdefault("id", slug(tree["name"]))
    kept = known.records if known is not None and keep_records else ()
    tree["records"] = [record.model_dump() for record in kept]
    return tree


def _same(tree: Tree, row: Mapping[str, Any]) -> bool:
    return tree.id == row["id"] if "id" in row else tree.name == row.get("name")


def _add_record(
    document: TableDocument, lines: dict[Key, int], line: int, row: Mapping[str, Any]
) -> None:
    file, kind = str(document.path), row[ROW]
    index = next(_owners(row, document.data["trees"]), None)
    if kind != RECORD:
        fault = Fault(file, f"line {line}, {ROW}", kind, "must be tree or record")
        document.refused.append(fault)
    elif index is None:
        told = str(row.get("id") or row.get("name") or "")
        fault = Fault(file, f"line {line}", told, "no row of a tree has this id")
        document.refused.append(fault)
    else:
        records = document.data["trees"][index]["records"]
        lines["trees", index, "records", len(records)] = line
        records.append({name: row[name] for name in _RECORD if name in row})


def _owners(row: Mapping[str, Any], trees: Sequence[Mapping[str, Any]]) -> Iterator[int]:
    by = "id" if "id" in row else "name"
    return (index for index, tree in enumerate(trees) if by in row and tree.get(by) == row[by])
