"""From whatever version a database has to the newest: whole or not at all.

The common case, a database that is up to date, does not load Alembic.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from mebuki.errors import FaultError, InputError
from mebuki.storage.backup import copy_whole
from mebuki.storage.database import Database, switch

log = logging.getLogger(__name__)

HEAD: Final = "0010"
"""The version this program works with; a test holds it against the migrations."""

MIGRATIONS: Final = Path(__file__).with_name("migrations")


def open_database(address: str | Path) -> Database:
    """Return a database that is sound and up to date; a new one is made where there is none.

    A SQLite file is copied to ``<file>.before-<version>`` before it is changed.

    Raises
    ------
    FaultError
        If it is damaged or cannot be reached or changed.
    InputError
        If it belongs to a newer Mebuki.
    """
    database = Database(address)
    database.check()
    if version(database) != HEAD:
        upgrade(database)
    return database


def version(database: Database) -> str | None:
    """Return the version of a database, or none where it holds nothing yet."""
    if database.file and not database.file.exists():
        return None
    with database.read() as connection:
        return _version(connection)


def upgrade(database: Database, to: str = HEAD) -> None:
    """Bring a database to a version in one transaction.

    Raises
    ------
    FaultError
        If a row would be left pointing at nothing, or the database refuses.
    InputError
        If the database belongs to a newer Mebuki.
    """
    now = version(database)
    if now is not None:
        _known(database, now)
        _set_aside(database, to)
    with _without_foreign_keys(database) as connection:
        _run(connection, to)
        _nothing_dangles(connection)
    log.info("database %s is at version %s", database.name, to)


def _version(connection: sa.Connection) -> str | None:
    if not sa.inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.exec_driver_sql(
        "SELECT version_num FROM alembic_version"
    ).scalar()
    return found


def _known(database: Database, now: str) -> None:
    if now > HEAD:
        msg = (
            f"{database.name} was last used by a newer Mebuki (version {now} of its tables, "
            f"this program knows {HEAD}); install the newer one, or restore an older backup"
        )
        raise InputError(msg)


def _set_aside(database: Database, to: str) -> None:
    if database.file:
        copy_whole(database.file, database.file.with_name(f"{database.file.name}.before-{to}"))
    else:
        log.warning("%s is changed to version %s: a dump should exist", database.name, to)


@contextmanager
def _without_foreign_keys(database: Database) -> Iterator[sa.Connection]:
    """Give a writer for which a table that is dropped and made anew takes no children along.

    SQLite heeds the switch between transactions only, so the connection is one
    of its own and is thrown away afterwards.
    """
    with database.alone() as connection:
        if database.sqlite:
            switch(connection, "foreign_keys = OFF")
        with connection.begin():
            if not database.sqlite:
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(1)))
            yield connection


def _run(connection: sa.Connection, to: str) -> None:
    from alembic import command  # noqa: PLC0415 - slow to load and seldom needed
    from alembic.config import Config  # noqa: PLC0415 - as above

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)


def _nothing_dangles(connection: sa.Connection) -> None:
    if connection.dialect.name != "sqlite":
        return
    dangling = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if dangling:
        msg = f"the migration would leave {len(dangling)} rows pointing at nothing; it was undone"
        raise FaultError(msg)
