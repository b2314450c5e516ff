"""Rows put in place, in the words that SQLite and PostgreSQL share."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

Row = Mapping[str, Any]


def put(connection: sa.Connection, table: sa.Table, rows: Sequence[Row]) -> None:
    """Insert rows, or take their place where their primary key is there already."""
    if not rows:
        return
    insert = inserting(connection, table)
    keys = [column.name for column in table.primary_key]
    values = {name: insert.excluded[name] for name in rows[0] if name not in keys}
    connection.execute(insert.on_conflict_do_update(index_elements=keys, set_=values), list(rows))


def add(
    connection: sa.Connection, table: sa.Table, rows: Sequence[Row], unique: Collection[str] = ()
) -> None:
    """Insert rows; one that is there already (by primary key, or ``unique``) is left as it is."""
    if not rows:
        return
    keys = list(unique) or [column.name for column in table.primary_key]
    insert = inserting(connection, table)
    connection.execute(insert.on_conflict_do_nothing(index_elements=keys), list(rows))


def inserting(connection: sa.Connection, table: sa.Table) -> Any:
    """Return an insert of the dialect at hand, which can say what to do on a conflict."""
    own = sqlite if connection.dialect.name == "sqlite" else postgresql
    return own.insert(table)
