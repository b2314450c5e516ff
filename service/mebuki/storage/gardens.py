"""Gardens in the database: saved and loaded without loss, with all that was before."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.site import Place
from mebuki.domain.tree import Pot, Tree
from mebuki.errors import InputError
from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import gardens, places, pots, subscribers, trees
from mebuki.storage.record_rows import load_records, save_records
from mebuki.storage.upsert import Row, add, put

_PLACE: Final = tuple(name for name in Place.model_fields)
_POT: Final = tuple(Pot.model_fields)
_TREE: Final = tuple(name for name in Tree.model_fields if name not in ("pot", "records", "place"))
_SUBSCRIBER: Final = tuple(Subscriber.model_fields)


class GardenStore:
    """The gardens of a database.

    A tree or place that a saved garden no longer has stays in the database,
    marked with the moment it left, and so do its records; records that differ
    are corrected by further rows, and a pot that was changed keeps its row.
    """

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def ids(self) -> tuple[str, ...]:
        """Return the ids of all gardens, in order."""
        with self._database.read() as connection:
            return tuple(connection.scalars(sa.select(gardens.c.id).order_by(gardens.c.id)))

    def load(self, garden: str) -> Garden:
        """Return a garden as it was saved last.

        Raises
        ------
        InputError
            If there is no such garden.
        """
        with self._database.read() as connection:
            row = connection.execute(sa.select(gardens).where(gardens.c.id == garden)).first()
            if row is None:
                msg = f"{garden}: there is no such garden in {self._database.name}"
                raise InputError(msg)
            return _garden(connection, row)

    def save(self, garden: Garden) -> None:
        """Keep a garden, whole or not at all.

        Raises
        ------
        InputError
            If a text holds what no database can keep.
        FaultError
            If the database cannot be written.
        """
        now = self._clock.now()
        with self._database.write() as connection:
            put(connection, gardens, [_garden_row(garden, now)])
            _save_places(connection, garden, now)
            _save_trees(connection, garden, now)
            _save_pots(connection, garden, now)
            save_records(connection, garden, now)
            _save_subscribers(connection, garden)


def _garden_row(garden: Garden, now: datetime) -> Row:
    site = garden.site
    return {
        "id": garden.id,
        "name": garden.name,
        "invented": garden.invented,
        "site_name": site.name,
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation": site.elevation,
        "time_zone": site.time_zone,
        "changed_at": now,
    }


def _save_places(connection: sa.Connection, garden: Garden, now: datetime) -> None:
    rows: list[Row] = [
        {
            "garden_id": garden.id,
            "position": position,
            "gone_at": None,
            **{name: getattr(place, name) for name in _PLACE},
        }
        for position, place in enumerate(garden.places)
    ]
    put(connection, places, rows)
    _gone(connection, places, garden.id, {place.id for place in garden.places}, now)


def _save_trees(connection: sa.Connection, garden: Garden, now: datetime) -> None:
    """Write the trees; those that leave or get another name make room for names first."""
    kept = connection.execute(
        sa.select(trees.c.id, trees.c.name).where(
            trees.c.garden_id == garden.id, trees.c.gone_at.is_(None)
        )
    )
    staying = {(tree.id, tree.name) for tree in garden.trees}
    unchanged = {row.id for row in kept if (row.id, row.name) in staying}
    _gone(connection, trees, garden.id, unchanged, now)
    rows: list[Row] = [
        {
            "garden_id": garden.id,
            "position": position,
            "place_id": tree.place,
            "gone_at": None,
            **{name: getattr(tree, name) for name in _TREE},
        }
        for position, tree in enumerate(garden.trees)
    ]
    put(connection, trees, rows)


def _gone(
    connection: sa.Connection, table: sa.Table, garden: str, staying: set[str], now: datetime
) -> None:
    """Mark as gone what is here and does not stay."""
    here = connection.scalars(
        sa.select(table.c.id).where(table.c.garden_id == garden, table.c.gone_at.is_(None))
    )
    leaving = [{"which": each} for each in here if each not in staying]
    if leaving:
        connection.execute(
            sa.update(table)
            .where(table.c.garden_id == garden, table.c.id == sa.bindparam("which"))
            .values(gone_at=now),
            leaving,
        )


def _save_pots(connection: sa.Connection, garden: Garden, now: datetime) -> None:
    kept = {row.tree_id: row for row in connection.execute(_newest_pots(garden.id))}
    new: list[Row] = []
    for tree in garden.trees:
        row = kept.get(tree.id)
        if row is None or _pot(row) != tree.pot:
            pot = {name: getattr(tree.pot, name) for name in _POT}
            number = 1 if row is None else row.number + 1
            key = {"garden_id": garden.id, "tree_id": tree.id, "number": number}
            new.append({**key, **pot, "since": now})
    add(connection, pots, new)


def _save_subscribers(connection: sa.Connection, garden: Garden) -> None:
    connection.execute(sa.delete(subscribers).where(subscribers.c.garden_id == garden.id))
    rows: list[Row] = [
        {
            "garden_id": garden.id,
            "position": position,
            **{name: getattr(each, name) for name in _SUBSCRIBER},
        }
        for position, each in enumerate(garden.subscribers)
    ]
    add(connection, subscribers, rows)


def _garden(connection: sa.Connection, row: sa.Row[Any]) -> Garden:
    return Garden.model_validate(
        {
            "id": row.id,
            "name": row.name,
            "invented": row.invented,
            "site": {
                "name": row.site_name,
                "latitude": row.latitude,
                "longitude": row.longitude,
                "elevation": row.elevation,
                "time_zone": row.time_zone,
            },
            "places": tuple(
                {name: getattr(place, name) for name in _PLACE}
                for place in connection.execute(_present(places, row.id))
            ),
            "trees": _trees(connection, row.id),
            "subscribers": tuple(
                {name: value for name in _SUBSCRIBER if (value := getattr(each, name)) is not None}
                for each in connection.execute(
                    sa.select(subscribers)
                    .where(subscribers.c.garden_id == row.id)
                    .order_by(subscribers.c.position)
                )
            ),
        }
    )


def _trees(connection: sa.Connection, garden: str) -> tuple[dict[str, Any], ...]:
    standing = {row.tree_id: row for row in connection.execute(_newest_pots(garden))}
    records = load_records(connection, garden)
    return tuple(
        {
            **{name: getattr(row, name) for name in _TREE},
            "place": row.place_id,
            "pot": _pot(standing[row.id]),
            "records": records.get(row.id, ()),
        }
        for row in connection.execute(_present(trees, garden))
    )


def _present(table: sa.Table, garden: str) -> sa.Select[Any]:
    return (
        sa.select(table)
        .where(table.c.garden_id == garden, table.c.gone_at.is_(None))
        .order_by(table.c.position)
    )


def _newest_pots(garden: str) -> sa.Select[Any]:
    newest = (
        sa.select(pots.c.tree_id, sa.func.max(pots.c.number).label("number"))
        .where(pots.c.garden_id == garden)
        .group_by(pots.c.tree_id)
        .subquery()
    )
    return (
        sa.select(pots)
        .join(
            newest,
            sa.and_(pots.c.tree_id == newest.c.tree_id, pots.c.number == newest.c.number),
        )
        .where(pots.c.garden_id == garden)
    )


def _pot(row: sa.Row[Any]) -> Pot:
    return Pot.model_validate({name: getattr(row, name) for name in _POT})
