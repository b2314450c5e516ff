"""Deeds as readers record them from a mail: rows that are added to the history, never changed.

One transaction looks what stands on record and adds what is not there yet, so that a form
that is sent twice, or by two people at once, adds nothing twice and takes nothing away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.domain.tree import RecordKind
from mebuki.errors import InputError
from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import places, records, trees
from mebuki.storage.record_rows import standing_records
from mebuki.storage.upsert import Row


@dataclass(frozen=True, slots=True)
class Deed:
    """What was done to some trees on a local day.

    Parameters
    ----------
    trees
        By id.
    place
        For ``moved``: the place they went to.
    """

    kind: RecordKind
    on: date
    trees: tuple[str, ...]
    place: str | None = None


class DeedBook:
    """Takes deeds down in a database."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def enter(self, garden: str, deed: Deed) -> int:
        """Enter a deed for each of its trees that has it not on record; return for how many.

        A tree that was moved stands in its new place from then on, unless a later move
        is on record.

        Raises
        ------
        InputError
            If a tree or the place is not in the garden any more; nothing is entered then.
        """
        with self._database.write() as connection:
            _lock(connection, garden, deed)
            standing = _standing(connection, garden, deed.trees)
            new = [tree for tree in dict.fromkeys(deed.trees) if not _known(standing, tree, deed)]
            now = self._clock.now()
            rows: list[Row] = [
                {
                    "garden_id": garden,
                    "tree_id": tree,
                    "position": 1 + max((row.position for row in standing[tree]), default=-1),
                    "day": deed.on,
                    "kind": deed.kind,
                    "note": "",
                    "place": deed.place,
                    "recorded_at": now,
                    "withdrawn": False,
                }
                for tree in new
            ]
            if rows:
                connection.execute(sa.insert(records), rows)
            if deed.kind == "moved":
                _move(connection, garden, deed, new, standing)
        return len(new)


def _lock(connection: sa.Connection, garden: str, deed: Deed) -> None:
    """Hold the trees of a deed until its transaction ends, and see that they are there."""
    query = (
        sa.select(trees.c.id)
        .where(trees.c.garden_id == garden, trees.c.id.in_(deed.trees), trees.c.gone_at.is_(None))
        .order_by(trees.c.id)
        .with_for_update()
    )
    here = set(connection.scalars(query))
    for tree in deed.trees:
        if tree not in here:
            msg = f"the tree {tree!r} is not in the garden any more"
            raise InputError(msg)
    if deed.place is None:
        return
    place = sa.select(places.c.id).where(
        places.c.garden_id == garden, places.c.id == deed.place, places.c.gone_at.is_(None)
    )
    if connection.scalar(place) is None:
        msg = f"the place {deed.place!r} is not in the garden any more"
        raise InputError(msg)


_Standing = dict[str, list[sa.Row[tuple[object, ...]]]]


def _standing(connection: sa.Connection, garden: str, ids: Sequence[str]) -> _Standing:
    """Return the records that stand, by tree."""
    query = standing_records(garden).where(records.c.tree_id.in_(ids))
    found: _Standing = {tree: [] for tree in ids}
    for row in connection.execute(query):
        found[row.tree_id].append(row)
    return found


def _known(standing: _Standing, tree: str, deed: Deed) -> bool:
    return any(
        (row.day, row.kind, row.place) == (deed.on, deed.kind, deed.place) for row in standing[tree]
    )


def _move(
    connection: sa.Connection, garden: str, deed: Deed, new: Sequence[str], standing: _Standing
) -> None:
    """Have trees stand where they were moved to, but for those that were moved on since."""
    moving = [
        tree
        for tree in new
        if not any(
            row.kind == "moved" and row.place and row.day > deed.on for row in standing[tree]
        )
    ]
    connection.execute(
        sa.update(trees)
        .where(trees.c.garden_id == garden, trees.c.id.in_(moving))
        .values(place_id=deed.place)
    )
