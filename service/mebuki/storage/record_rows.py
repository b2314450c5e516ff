"""What was done to trees and seen on them: rows that are added and never changed.

A record that was wrong is corrected by a further row that points at it, one
that was taken back by a further row marked as withdrawn. Only the place of a
row in the order of its tree's records may change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from typing import Any, Final

import sqlalchemy as sa

from mebuki.domain.garden import Garden
from mebuki.domain.tree import Record
from mebuki.storage.column_types import NO
from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import records
from mebuki.storage.upsert import Row

_Kept = tuple[int, int, Record]
"""Number, position and content of a record that stands."""

_CONTENT: Final = ("day", "kind", "note", "amount", "place", "unknown_kind")


@dataclass(frozen=True, slots=True)
class RecordLine:
    """One row of the history: what it says, and which earlier row it corrects or takes back."""

    number: int
    record: Record
    recorded_at: datetime
    corrects: int | None
    withdrawn: bool


def history(database: Database, garden: str, tree: str) -> tuple[RecordLine, ...]:
    """Return all that was ever recorded of a tree, in the order it was written down."""
    query = (
        sa.select(records)
        .where(records.c.garden_id == garden, records.c.tree_id == tree)
        .order_by(records.c.id)
    )
    with database.read() as connection:
        return tuple(
            RecordLine(row.id, _record(row), row.recorded_at, row.corrects, row.withdrawn)
            for row in connection.execute(query)
        )


def load_records(connection: sa.Connection, garden: str) -> Mapping[str, tuple[Record, ...]]:
    """Return the records of a garden that stand, by tree."""
    return {
        tree: tuple(record for _, _, record in kept)
        for tree, kept in _standing(connection, garden).items()
    }


def save_records(connection: sa.Connection, garden: Garden, now: datetime) -> None:
    """Bring what stands in line with a garden, by further rows alone."""
    standing = _standing(connection, garden.id)
    new: list[Row] = []
    moved: list[Row] = []
    for tree in garden.trees:
        kept = standing.get(tree.id, ())
        if tuple(record for _, _, record in kept) == tree.records:
            continue
        rows, places = _changes(kept, tree.records)
        known = {"garden_id": garden.id, "tree_id": tree.id, "recorded_at": now}
        new.extend({**row, **known} for row in rows)
        moved.extend(places)
    if moved:
        connection.execute(
            sa.update(records)
            .where(records.c.id == sa.bindparam("which"))
            .values(position=sa.bindparam("there")),
            moved,
        )
    if new:
        connection.execute(sa.insert(records), new)


def standing_records(garden: str) -> sa.Select[tuple[Any, ...]]:
    """Return the query for the records of a garden that stand: not withdrawn, not corrected."""
    later = records.alias("later")
    return (
        sa.select(records)
        .outerjoin(later, later.c.corrects == records.c.id)
        .where(
            records.c.garden_id == garden,
            records.c.withdrawn == NO,
            later.c.id.is_(None),
        )
        .order_by(records.c.tree_id, records.c.position, records.c.id)
    )


def _standing(connection: sa.Connection, garden: str) -> Mapping[str, Sequence[_Kept]]:
    found: dict[str, list[_Kept]] = {}
    for row in connection.execute(standing_records(garden)):
        found.setdefault(row.tree_id, []).append((row.id, row.position, _record(row)))
    return found


def _changes(kept: Sequence[_Kept], wanted: Sequence[Record]) -> tuple[list[Row], list[Row]]:
    """Return the rows to add, and the rows whose place in the order changes."""
    new: list[Row] = []
    moved: list[Row] = []
    matcher = SequenceMatcher(
        None, [_content(record) for _, _, record in kept], [_content(each) for each in wanted],
        autojunk=False,
    )  # fmt: skip
    for tag, first, last, begin, end in matcher.get_opcodes():
        old, fresh = kept[first:last], range(begin, end)
        if tag == "equal":
            moved += [
                {"which": number, "there": there}
                for (number, position, _), there in zip(old, fresh, strict=True)
                if position != there
            ]
            continue
        shared = min(len(old), len(fresh))
        new += [
            _row(wanted[there], there, corrects=number)
            for (number, _, _), there in zip(old[:shared], fresh[:shared], strict=True)
        ]
        new += [_row(wanted[there], there) for there in fresh[shared:]]
        new += [
            _row(record, position, corrects=number, withdrawn=True)
            for number, position, record in old[shared:]
        ]
    return new, moved


def _row(record: Record, position: int, **more: Any) -> dict[str, Any]:
    return {
        **dict(zip(_CONTENT, _content(record), strict=True)),
        "position": position,
        "corrects": None,
        "withdrawn": False,
        **more,
    }


def _content(record: Record) -> tuple[Any, ...]:
    unknown = record.unknown_kind or None
    return (record.on, record.kind, record.note, record.amount, record.place, unknown)


def _record(row: sa.Row[Any]) -> Record:
    return Record.model_validate(
        {
            "on": row.day,
            "kind": row.kind,
            "note": row.note,
            "amount": row.amount,
            "place": row.place,
            "unknown_kind": row.unknown_kind or "",
        }
    )
