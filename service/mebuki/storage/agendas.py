"""What readers were shown, in the database: every revision of every entry, for ever."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from pydantic import TypeAdapter, ValidationError

from mebuki.agenda.entry import Entry, Notice, Published
from mebuki.errors import FaultError
from mebuki.storage.column_types import dumped
from mebuki.storage.database import Database
from mebuki.storage.round_tables import agendas, entries, entry_revisions, notices
from mebuki.storage.upsert import Row, add, put


class DatabaseAgendaStore:
    """Keeps the state of gardens in a database.

    Entries are kept without the advice behind them, as `AgendaFile` does. An
    entry or notice that is no longer part of the state stays in its table
    without a position: nothing that was ever shown is forgotten.
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def load(self, garden: str) -> Published:
        """Return what was kept, or nothing where no round has run.

        Raises
        ------
        FaultError
            If the database cannot be read, or an entry in it.
        """
        with self._database.read() as connection:
            return load_agenda(connection, garden)

    def save(self, garden: str, published: Published) -> None:
        """Keep the state, whole or not at all; it has reached the disk on return.

        Raises
        ------
        FaultError
            If the database cannot be written.
        """
        with self._database.write() as connection:
            save_agenda(connection, garden, published)

    def revisions(self, garden: str, key: str) -> tuple[Entry, ...]:
        """Return every revision of an entry that was ever shown, oldest first."""
        uid = _uid(key)
        query = (
            sa.select(entry_revisions.c.content)
            .where(entry_revisions.c.garden == garden, entry_revisions.c.uid == uid)
            .order_by(entry_revisions.c.changed, entry_revisions.c.revision)
        )
        with self._database.read() as connection:
            return tuple(_entry(content, garden) for content in connection.scalars(query))


def load_agenda(connection: sa.Connection, garden: str) -> Published:
    """Return the state of a garden as of a transaction."""
    at = connection.execute(sa.select(agendas.c.at).where(agendas.c.garden == garden)).first()
    if at is None:
        return Published.nothing()
    shown = (
        sa.select(entry_revisions.c.content)
        .join(
            entries,
            sa.and_(
                *(
                    entries.c[name] == entry_revisions.c[name]
                    for name in ("garden", "uid", "revision", "digest")
                )
            ),
        )
        .where(entries.c.garden == garden, entries.c.position.is_not(None))
        .order_by(entries.c.position)
    )
    told = (
        sa.select(notices.c.key)
        .where(notices.c.garden == garden, notices.c.position.is_not(None))
        .order_by(notices.c.position)
    )
    return Published(
        at=at[0],
        entries=tuple(_entry(content, garden) for content in connection.scalars(shown)),
        notices=tuple(connection.scalars(told)),
    )


def save_agenda(
    connection: sa.Connection, garden: str, published: Published, told: Sequence[Notice] = ()
) -> None:
    """Write the state of a garden within a transaction, and the words of new notices."""
    put(connection, agendas, [{"garden": garden, "at": published.at}])
    _save_entries(connection, garden, published.entries)
    _save_notices(connection, garden, published, {notice.told: notice for notice in told})


def _save_entries(connection: sa.Connection, garden: str, shown: Sequence[Entry]) -> None:
    kept = {
        row.uid: (row.position, row.revision, row.digest)
        for row in connection.execute(sa.select(entries).where(entries.c.garden == garden))
    }
    changed: list[Row] = []
    revisions: list[Row] = []
    for position, entry in enumerate(shown):
        content = _shape().dump_python(entry, mode="json", exclude={"advice"})
        digest = hashlib.sha256(dumped(content).encode()).hexdigest()[:32]
        uid = _uid(entry.key)
        before = kept.pop(uid, None)
        row = {"garden": garden, "uid": uid, "revision": entry.revision, "digest": digest}
        if before != (position, entry.revision, digest):
            changed.append({**row, "position": position})
        if before is None or before[1:] != (entry.revision, digest):
            words = {"kind": entry.kind.value, "status": entry.status.value, "content": content}
            revisions.append({**row, **words, "changed": entry.changed})
    put(connection, entries, changed)
    add(connection, entry_revisions, revisions)
    left = [uid for uid, (position, *_) in kept.items() if position is not None]
    _take_away(connection, entries, entries.c.uid, garden, left)


def _save_notices(
    connection: sa.Connection, garden: str, published: Published, told: Mapping[str, Notice]
) -> None:
    query = sa.select(notices.c.key, notices.c.position).where(notices.c.garden == garden)
    kept = {row.key: row.position for row in connection.execute(query)}
    new: list[Row] = []
    moved: list[Row] = []
    for position, key in enumerate(dict.fromkeys(published.notices)):
        row = {"garden": garden, "key": key, "position": position}
        if key not in kept:
            notice = told.get(key)
            content = None if notice is None else notice_shape().dump_python(notice, mode="json")
            new.append({**row, "told_at": published.at, "content": content})
        elif kept[key] != position:
            moved.append(row)
        kept[key] = None
    add(connection, notices, new)
    put(connection, notices, moved)
    left = [key for key, position in kept.items() if position is not None]
    _take_away(connection, notices, notices.c.key, garden, left)


def _take_away(
    connection: sa.Connection,
    table: sa.Table,
    column: sa.Column[Any],
    garden: str,
    left: Sequence[str],
) -> None:
    """Take rows out of the state; they stay in the table."""
    if left:
        connection.execute(
            sa.update(table)
            .where(table.c.garden == garden, column == sa.bindparam("which"))
            .values(position=None),
            [{"which": each} for each in left],
        )


def _uid(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def _entry(content: object, garden: str) -> Entry:
    try:
        return _shape().validate_python(content)
    except ValidationError as error:
        msg = f"an entry of the garden {garden!r} in the database is broken: {error}"
        raise FaultError(msg) from error


@lru_cache(maxsize=1)
def _shape() -> TypeAdapter[Entry]:
    return TypeAdapter(Entry)


@lru_cache(maxsize=1)
def notice_shape() -> TypeAdapter[Notice]:
    """Return how notices are written to the database and read from it."""
    return TypeAdapter(Notice)
