"""Backup and restore of a SQLite file: online, verified, and never half done.

A backup is made by ``VACUUM INTO``: one read transaction, finished however busy
the writers are. (SQLite's backup in steps begins again at each write of another
connection and may never end.) For PostgreSQL its own tools are right.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

from mebuki.errors import FaultError, InputError
from mebuki.files import take_name
from mebuki.storage.database import Database, damaged
from mebuki.storage.sole import sole_service

KEPT: Final = 7
"""How many backups are kept under one name unless said otherwise."""

_WAIT: Final = 5.0
"""How long a copy waits for a writer [s]."""

Counts = Mapping[str, int]
"""Rows by table."""


def backup(database: Database, target: Path, keep: int = KEPT) -> Counts:
    """Write a verified copy of a database that may be in use; return its rows by table.

    What was under the name before becomes ``<name>.1``, and so on; the oldest
    beyond ``keep`` goes.

    Raises
    ------
    FaultError
        If the copy could not be written or does not hold what the database
        does; what was under the name stays as it was.
    InputError
        If the database is no SQLite file, or is the target itself.
    """
    source = _file_of(database, "pg_dump")
    if not source.exists():
        msg = f"{source}: there is no database there yet"
        raise InputError(msg)
    if target.exists() and source.samefile(target):
        msg = f"{target} is the database itself; choose another name for the backup"
        raise InputError(msg)
    return copy_whole(source, target, keep)


def restore(copy: Path, database: Database, *, replace: bool = False) -> Counts:
    """Put a backup in the place of a database; return its rows by table.

    A database that is replaced is kept beside, as ``<name>.replaced``.

    Raises
    ------
    FaultError
        If the backup is damaged, a service is at work on the database, or the
        disk refuses; the database stays as it was.
    InputError
        If there is a database already and ``replace`` is not set, or the
        backup is no database of Mebuki's.
    """
    target = _file_of(database, "pg_restore")
    counts = _sound(copy)
    if target.exists() and not replace:
        msg = f"{target} exists; restoring takes its place: add --replace, it is kept beside then"
        raise InputError(msg)
    with sole_service(database):
        part = _part(target)
        with _cleared(part):
            with closing(_opened(copy)) as connection:
                _vacuum_into(connection, part)
            _same(copy, counts, _sound(part))
            if target.exists():
                _fold_in(target)
                take_name(target, target.with_name(f"{target.name}.replaced"))
            take_name(part, target)
    return counts


def copy_whole(source: Path, target: Path, keep: int = 1) -> Counts:
    """Write a verified copy beside its final name, then give it the name.

    Raises
    ------
    FaultError
        As for `backup`.
    """
    part = _part(target)
    with _cleared(part), closing(_opened(source)) as connection:
        version, before = _version(connection), _counts(connection)
        _vacuum_into(connection, part)
        kept = _sound(part)
        if version == _version(connection):
            _same(source, before, kept)
        _rotate(target, keep)
        take_name(part, target)
    return kept


def _file_of(database: Database, tool: str) -> Path:
    if database.file is None:
        msg = f"{database.name} is a PostgreSQL database: use {tool} for it"
        raise InputError(msg)
    return database.file


def _part(target: Path) -> Path:
    return target.with_name(f".{target.name}.{os.getpid()}.part")


@contextmanager
def _cleared(part: Path) -> Iterator[None]:
    """Leave no part file behind, and say what a disk refused."""
    try:
        part.parent.mkdir(parents=True, exist_ok=True)
        yield
    except (OSError, sqlite3.Error) as error:
        msg = f"{part.parent / part.name.split('.', 1)[1]}: the copy was not made: {error}"
        raise FaultError(msg) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _vacuum_into(connection: sqlite3.Connection, part: Path) -> None:
    part.unlink(missing_ok=True)
    os.close(os.open(part, os.O_RDWR | os.O_CREAT, 0o600))
    connection.execute("VACUUM INTO ?", (str(part),))
    with part.open("r+b") as file:
        os.fsync(file.fileno())


def _opened(file: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{file.absolute().as_uri()}?mode=rw", uri=True, timeout=_WAIT)
    connection.isolation_level = None
    return connection


def _sound(file: Path) -> Counts:
    """Return the rows of a file by table, once it is found sound and to be Mebuki's."""
    if not file.is_file():
        msg = f"{file}: there is no such file"
        raise InputError(msg)
    try:
        with closing(_opened(file)) as connection:
            found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            counts = _counts(connection)
    except sqlite3.DatabaseError as error:
        raise damaged(file, str(error)) from error
    if found != "ok":
        raise damaged(file, found)
    if "alembic_version" not in counts:
        msg = f"{file} is no database of Mebuki's"
        raise InputError(msg)
    return counts


def _counts(connection: sqlite3.Connection) -> Counts:
    names = [
        name
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )
    ]
    return {
        name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - the database's own table names
        for name in sorted(names)
    }


def _version(connection: sqlite3.Connection) -> int:
    """Return a number that differs once another connection has written."""
    found: int = connection.execute("PRAGMA data_version").fetchone()[0]
    return found


def _same(source: Path, wanted: Counts, found: Counts) -> None:
    if wanted != found:
        differing = sorted(
            name for name in {*wanted, *found} if wanted.get(name) != found.get(name)
        )
        msg = f"the copy of {source} does not hold the same rows: {', '.join(differing)}"
        raise FaultError(msg)


def _rotate(target: Path, keep: int) -> None:
    """Move what is under a name one number on: ``name``, ``name.1``, ``name.2``."""
    names = [target, *(target.with_name(f"{target.name}.{n}") for n in range(1, keep))]
    for older, newer in reversed(list(zip(names[1:], names, strict=False))):
        if newer.exists():
            take_name(newer, older)


def _fold_in(file: Path) -> None:
    """Bring a database's log into its file: left beside, it would be laid over the next one."""
    with closing(_opened(file)) as connection:
        busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        mode = connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
    if busy or mode != "delete":
        msg = f"{file} is in use by another program; stop it first"
        raise FaultError(msg)
