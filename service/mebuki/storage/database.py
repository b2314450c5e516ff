"""The database: SQLite in one file by default, PostgreSQL for many gardens.

SQLite is held to what makes it safe for a service: write-ahead log, every
commit on the disk before it is acknowledged, foreign keys, and writers that
take the write lock when they begin. A transaction that reads first and writes
later can be refused at once, whatever the busy timeout, when somebody else
wrote in between; `Database.write` never is.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    IntegrityError,
    NoSuchModuleError,
    StatementError,
)

from mebuki.errors import FaultError, InputError

BUSY_SECONDS: Final = 5.0
"""How long a writer waits for another one [s]."""

_WRITES: Final = "mebuki_writes"


class Database:
    """A database by its address.

    Parameters
    ----------
    address
        A path, or a URL such as ``sqlite:///mebuki.db`` or
        ``postgresql://user@host/mebuki``.
    busy_seconds
        How long a writer waits for another one before it gives up [s].

    Raises
    ------
    InputError
        If the address is of no database that Mebuki knows.
    """

    def __init__(self, address: str | Path, *, busy_seconds: float = BUSY_SECONDS) -> None:
        self.url = _url(address)
        self.sqlite = self.url.get_backend_name() == "sqlite"
        self.file = Path(self.url.database or "") if self.sqlite else None
        self._busy = busy_seconds
        self._engine = self._sqlite_engine() if self.sqlite else _server_engine(self.url)
        levels = {} if self.sqlite else {"isolation_level": "READ COMMITTED"}
        self._writers = self._engine.execution_options(**{_WRITES: True}, **levels)

    @property
    def name(self) -> str:
        """The address as it may be shown: without a password."""
        return str(self.file) if self.file else self.url.render_as_string(hide_password=True)

    @contextmanager
    def read(self) -> Iterator[sa.Connection]:
        """Give a connection that sees one state of the database throughout.

        Raises
        ------
        FaultError
            If the database cannot be reached or read.
        """
        with self._told(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[sa.Connection]:
        """Give a connection whose changes are all kept when the block ends, or none.

        Raises
        ------
        FaultError
            If another writer does not finish in time, the disk is full, or the
            database cannot be reached; nothing of the block was kept then.
        """
        if self.file:
            _make_private(self.file)
        with self._told(), self._writers.begin() as connection:
            yield connection

    @contextmanager
    def alone(self) -> Iterator[sa.Connection]:
        """Give a writer's connection outside any transaction that is thrown away afterwards.

        For migrations: what is switched on it reaches nobody else.
        """
        if self.file:
            _make_private(self.file)
        with self._told(), self._writers.connect() as connection:
            try:
                yield connection
            finally:
                connection.invalidate()

    def check(self) -> None:
        """Look the file over for damage; a server does that by itself.

        Raises
        ------
        FaultError
            If the file is damaged.
        """
        if not self.file or not self.file.exists():
            return
        with self.read() as connection:
            found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
        if found != "ok":
            raise damaged(self.file, str(found))

    def close(self) -> None:
        """Close every connection; the object can be used again."""
        self._engine.dispose()

    def _sqlite_engine(self) -> sa.Engine:
        engine = sa.create_engine(self.url)
        pragmas = (
            f"PRAGMA busy_timeout = {int(self._busy * 1000)}",
            "PRAGMA journal_mode = WAL",
            "PRAGMA synchronous = FULL",
            "PRAGMA foreign_keys = ON",
        )

        @event.listens_for(engine, "connect")
        def prepare(driver: Any, _record: Any) -> None:
            driver.isolation_level = None
            for pragma in pragmas:
                driver.execute(pragma)

        @event.listens_for(engine, "begin")
        def begin(connection: sa.Connection) -> None:
            writes = connection.get_execution_options().get(_WRITES, False)
            connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

        return engine

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except IntegrityError:
            raise
        except DBAPIError as error:
            raise _fault(self, error) from error
        except StatementError as error:
            if isinstance(error.orig, InputError):
                raise error.orig from error
            raise


def switch(connection: sa.Connection, pragma: str) -> None:
    """Set a switch of SQLite outside any transaction, where alone it is heeded."""
    driver: Any = connection.connection.driver_connection
    driver.execute(f"PRAGMA {pragma}")


def damaged(file: Path, found: str) -> FaultError:
    """Return the error of a damaged file, with what to do."""
    return FaultError(
        f"{file} is damaged ({found}). Keep it, and restore the newest backup with: "
        f"mebuki restore BACKUP --replace"
    )


def _fault(database: Database, error: DBAPIError) -> FaultError:
    reason = next(iter(str(error.orig).splitlines()), "") or type(error.orig).__name__
    if "is locked" in reason:
        reason = "another program is writing to it and did not finish in time"
    elif "disk is full" in reason or "disk I/O error" in reason:
        reason = f"{reason}; nothing of this change was kept, make room on the disk"
    elif database.file and ("malformed" in reason or "not a database" in reason):
        return damaged(database.file, reason)
    return FaultError(f"{database.name} cannot be used: {reason}")


def _url(address: str | Path) -> URL:
    text = str(address)
    if isinstance(address, Path) or "://" not in text:
        return URL.create("sqlite", database=text)
    try:
        url = make_url(text)
        backend = url.get_backend_name()
        url.get_dialect()
    except (ArgumentError, NoSuchModuleError) as error:
        raise _unknown(text.split(":", 1)[0]) from error
    if backend not in ("sqlite", "postgresql"):
        raise _unknown(backend)
    if backend == "sqlite" and not (url.database and url.database != ":memory:"):
        msg = "a SQLite database needs a file: sqlite:///mebuki.db"
        raise InputError(msg)
    return url


def _unknown(kind: str) -> InputError:
    return InputError(
        f"{kind}: not a database Mebuki knows; give a path such as mebuki.db, "
        "or postgresql://user@host/mebuki"
    )


def _server_engine(url: URL) -> sa.Engine:
    try:
        return sa.create_engine(url, pool_pre_ping=True, isolation_level="REPEATABLE READ")
    except ModuleNotFoundError as error:
        msg = "PostgreSQL needs the extra 'scale': pip install 'mebuki[scale]'"
        raise InputError(msg) from error


def _make_private(file: Path) -> None:
    """Make the file, readable by its owner alone: it holds people's addresses.

    A file that is there is not touched. To close it, in a process that has it
    open elsewhere, would let go of SQLite's locks (fcntl locks go with the first
    close), and another program could then take away the log under our hands.
    """
    if file.exists():
        return
    try:
        os.close(os.open(file, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError:
        return
    except OSError as error:
        msg = f"{file} cannot be used: {error.strerror or error}"
        raise FaultError(msg) from error
