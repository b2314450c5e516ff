"""One service on one database: a second one is told so and stops."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from mebuki.errors import FaultError
from mebuki.storage.database import Database

_ADVISORY: Final = 0x4D454255
"""The number under which PostgreSQL knows the lock ("MEBU")."""


@contextmanager
def sole_service(database: Database) -> Iterator[None]:
    """Be the one service on a database for as long as the block lasts.

    The lock goes with the process: nothing is left to clear away after a crash.

    Raises
    ------
    FaultError
        If another service holds the database.
    """
    held = _file_lock(database, database.file) if database.file else _server_lock(database)
    with held:
        yield


@contextmanager
def _file_lock(database: Database, file: Path) -> Iterator[None]:
    """Hold a small database beside the file: SQLite's locks work on every system."""
    beside = file.with_name(f"{file.name}.lock")
    with closing(sqlite3.connect(beside, timeout=0, isolation_level=None)) as lock:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                msg = f"{beside} cannot be used: {error}"
                raise FaultError(msg) from error
            raise _taken(database) from error
        yield


@contextmanager
def _server_lock(database: Database) -> Iterator[None]:
    with database.read() as connection:
        if not connection.scalar(sa.select(sa.func.pg_try_advisory_xact_lock(_ADVISORY))):
            raise _taken(database)
        yield


def _taken(database: Database) -> FaultError:
    return FaultError(
        f"another Mebuki is at work on {database.name}; one database has one service. "
        "Stop the other one first"
    )
