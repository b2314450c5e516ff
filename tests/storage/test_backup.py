"""Backups: online, verified, rotated; restoring is careful."""

from __future__ import annotations

import sqlite3
import stat
import threading
from contextlib import closing
from pathlib import Path

import pytest

from mebuki.clock import FixedClock
from mebuki.errors import FaultError, InputError
from mebuki.storage import backup as backups
from mebuki.storage.backup import backup, restore
from mebuki.storage.database import Database
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from mebuki.storage.sole import sole_service
from tests.builders import AT, a_garden, a_record, a_tree


def _save(database: Database, name: str = "Home", garden: str = "home") -> None:
    records = [a_record("repotted", "2011-03-20")]
    kept = a_garden([a_tree("Maple", records=records)], id=garden, name=name)
    GardenStore(database, FixedClock(AT)).save(kept)


def _name(file: Path) -> str:
    database = open_database(file)
    name = GardenStore(database, FixedClock(AT)).load("home").name
    database.close()
    return name


def test_a_backup_holds_what_the_database_does(sqlite: Database, tmp_path: Path) -> None:
    """Every table of the copy, read by itself, has the same rows."""
    _save(sqlite)
    copy = tmp_path / "safe" / "mebuki.backup"
    counts = backup(sqlite, copy)
    assert counts["trees"] == counts["records"] == counts["gardens"] == 1
    assert sqlite.file is not None
    with closing(sqlite3.connect(sqlite.file)) as one, closing(sqlite3.connect(copy)) as other:
        for name in counts:
            query = f'SELECT * FROM "{name}" ORDER BY 1, 2'  # noqa: S608 - names of our own tables
            if name == "alembic_version":
                query = "SELECT * FROM alembic_version"
            assert one.execute(query).fetchall() == other.execute(query).fetchall()
        assert other.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert [path.name for path in copy.parent.iterdir()] == ["mebuki.backup"]


def test_as_many_backups_are_kept_as_wished(sqlite: Database, tmp_path: Path) -> None:
    """The newest has the plain name, older ones a number."""
    copy = tmp_path / "safe" / "b.db"
    for name in ("one", "two", "three", "four"):
        _save(sqlite, name)
        backup(sqlite, copy, keep=3)
    kept = {path.name: path for path in copy.parent.iterdir()}
    assert sorted(kept) == ["b.db", "b.db.1", "b.db.2"]
    assert [_name(kept[name]) for name in ("b.db", "b.db.1", "b.db.2")] == ["four", "three", "two"]


def test_a_backup_ends_while_writers_are_busy(sqlite: Database, tmp_path: Path) -> None:
    """It is one moment of the database, and the writers are not kept waiting."""
    stop = threading.Event()
    written: list[str] = []

    def write() -> None:
        while not stop.is_set():
            name = f"g{len(written)}"
            _save(sqlite, garden=name)
            written.append(name)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [backup(sqlite, tmp_path / f"{n}.copy") for n in range(5)]
    finally:
        stop.set()
        writer.join()
    counts = [copy["gardens"] for copy in copies]
    assert counts == sorted(counts)
    for copy in copies:
        assert copy["gardens"] == copy["trees"] == copy["records"]
    assert len(written) >= counts[-1]


def test_backups_are_never_made_in_steps() -> None:
    """SQLite's stepwise backup begins again at each write and may never end."""
    package = Path(backups.__file__).parent
    assert not [path for path in package.rglob("*.py") if ".backup(" in path.read_text("utf-8")]


def test_a_copy_that_lacks_rows_is_refused_and_the_old_one_stays(
    sqlite: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Verified means: counted."""
    copy = tmp_path / "b.db"
    _save(sqlite)
    backup(sqlite, copy)
    made = backups._vacuum_into

    def loses_a_row(connection: sqlite3.Connection, part: Path) -> None:
        made(connection, part)
        with closing(sqlite3.connect(part)) as other, other:
            other.execute("DELETE FROM records")

    monkeypatch.setattr(backups, "_vacuum_into", loses_a_row)
    _save(sqlite, "later")
    with pytest.raises(FaultError, match="same rows: records"):
        backup(sqlite, copy)
    assert _name(copy) == "Home"
    assert not list(tmp_path.glob("*.part"))


def test_a_restored_database_is_what_was_backed_up(sqlite: Database, tmp_path: Path) -> None:
    """Into an empty place, everything is there."""
    _save(sqlite)
    copy = tmp_path / "b.db"
    counts = backup(sqlite, copy)
    new = Database(tmp_path / "new.db")
    assert restore(copy, new) == counts
    assert _name(tmp_path / "new.db") == "Home"


def test_restoring_does_not_overwrite_unless_told(sqlite: Database, tmp_path: Path) -> None:
    """And then the old one is kept beside."""
    _save(sqlite, "before")
    copy = tmp_path / "b.db"
    backup(sqlite, copy)
    _save(sqlite, "after")
    sqlite.close()
    with pytest.raises(InputError, match="--replace"):
        restore(copy, sqlite)
    assert _name(tmp_path / "mebuki.db") == "after"
    restore(copy, sqlite, replace=True)
    assert _name(tmp_path / "mebuki.db") == "before"
    assert _name(tmp_path / "mebuki.db.replaced") == "after"


def test_a_log_left_by_a_crash_is_not_laid_over_a_restored_database(
    sqlite: Database, tmp_path: Path
) -> None:
    """The write-ahead log belongs to the old file, and goes with it."""
    _save(sqlite, "before")
    copy = tmp_path / "b.db"
    backup(sqlite, copy)
    _save(sqlite, "after")
    crashed = tmp_path / "crashed.db"
    for suffix in ("", "-wal"):
        (tmp_path / f"crashed.db{suffix}").write_bytes(
            (tmp_path / f"mebuki.db{suffix}").read_bytes()
        )
    assert (tmp_path / "crashed.db-wal").stat().st_size > 0
    restore(copy, Database(crashed), replace=True)
    assert not (tmp_path / "crashed.db-wal").exists()
    assert _name(crashed) == "before"
    assert _name(tmp_path / "crashed.db.replaced") == "after"


@pytest.mark.parametrize(
    ("content", "error", "said"),
    [
        (None, InputError, "there is no such file"),
        (b"a letter, not a database" * 100, FaultError, "damaged"),
        (b"", InputError, "no database of Mebuki's"),
    ],
)
def test_what_is_no_backup_is_refused(
    content: bytes | None, error: type[Exception], said: str, sqlite: Database, tmp_path: Path
) -> None:
    """Before anything is touched."""
    _save(sqlite)
    sqlite.close()
    copy = tmp_path / "b.db"
    if content is not None:
        copy.write_bytes(content)
    with pytest.raises(error, match=said):
        restore(copy, sqlite, replace=True)
    assert _name(tmp_path / "mebuki.db") == "Home"


def test_a_database_at_work_is_not_restored_over(
    sqlite: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither under a service nor under any other program that has it open."""
    monkeypatch.setattr(backups, "_WAIT", 0.1)
    _save(sqlite)
    copy = tmp_path / "b.db"
    backup(sqlite, copy)
    other = Database(tmp_path / "mebuki.db")
    with sole_service(other), pytest.raises(FaultError, match="another Mebuki"):
        restore(copy, Database(tmp_path / "mebuki.db"), replace=True)
    with other.read() as connection:
        connection.exec_driver_sql("SELECT count(*) FROM gardens").scalar()
        with pytest.raises(FaultError, match=r"locked|in use"):
            restore(copy, Database(tmp_path / "mebuki.db"), replace=True)
    other.close()
    assert _name(tmp_path / "mebuki.db") == "Home"


def test_a_database_is_no_backup_of_itself(sqlite: Database, tmp_path: Path) -> None:
    """And one that is not there yet has none."""
    with pytest.raises(InputError, match="the database itself"):
        backup(sqlite, tmp_path / "mebuki.db")
    with pytest.raises(InputError, match="no database there"):
        backup(Database(tmp_path / "none.db"), tmp_path / "b.db")


def test_a_server_is_backed_up_by_its_own_tools(tmp_path: Path) -> None:
    """It says which."""
    database = Database("postgresql://ada@host/mebuki")
    with pytest.raises(InputError, match="pg_dump"):
        backup(database, tmp_path / "b.db")
    with pytest.raises(InputError, match="pg_restore"):
        restore(tmp_path / "b.db", database)


def test_a_folder_that_cannot_be_written_is_said(sqlite: Database, tmp_path: Path) -> None:
    """With the name of the backup."""
    _save(sqlite)
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(FaultError, match="the copy was not made"):
        backup(sqlite, tmp_path / "file" / "b.db")
