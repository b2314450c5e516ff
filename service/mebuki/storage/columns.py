"""How tables and their columns are written, in one place for all of them."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.schema import SchemaItem

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def table(name: str, *items: SchemaItem) -> sa.Table:
    """Return a table, strict about types in SQLite."""
    return sa.Table(name, metadata, *items, sqlite_strict=True)


def needed(name: str, kind: Any, *items: SchemaItem, key: bool = False) -> sa.Column[Any]:
    """Return a column that always holds a value, part of the primary key if ``key``."""
    return sa.Column(name, kind, *items, primary_key=key, nullable=False)


def maybe(name: str, kind: Any) -> sa.Column[Any]:
    """Return a column that may be empty."""
    return sa.Column(name, kind, nullable=True)


def number_key() -> sa.Column[Any]:
    """Return a primary key that counts up."""
    return sa.Column("id", reference(), primary_key=True, autoincrement=True)


def reference() -> Any:
    """Return the type of a column that holds the number of another row."""
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")
