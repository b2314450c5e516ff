"""The database: what is switched on, who waits for whom, and what is said when it fails."""

from __future__ import annotations

import sqlite3
import stat
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, IntegrityError

from mebuki.errors import FaultError, InputError
from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import gardens
from mebuki.storage.sole import sole_service
from tests.builders import AT

GARDEN = {
    "id": "home", "name": "Home", "invented": False, "site_name": "Near", "latitude": 40.0,
    "longitude": -73.0, "elevation": 0.0, "time_zone": "America/New_York", "changed_at": AT,
}  # fmt: skip


def _count(database: Database) -> int:
    with database.read() as connection:
        return connection.scalar(sa.select(sa.func.count()).select_from(gardens)) or 0


def test_a_file_is_held_to_what_makes_it_safe(sqlite: Database) -> None:
    """Write-ahead log, every commit on the disk, waiting writers, foreign keys."""
    with sqlite.read() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "busy_timeout", "foreign_keys")
        }
    assert found == {
        "journal_mode": "wal", "synchronous": 2, "busy_timeout": 5000, "foreign_keys": 1,
    }  # fmt: skip


def test_the_file_is_for_its_owner_alone(tmp_path: Path) -> None:
    """It holds people's addresses; so does the log beside it."""
    with closing(Database(tmp_path / "mebuki.db")) as database:
        with database.write() as connection:
            connection.exec_driver_sql("CREATE TABLE t (a INTEGER)")
        modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in tmp_path.iterdir()}
    assert modes.keys() == {"mebuki.db", "mebuki.db-wal", "mebuki.db-shm"}
    assert set(modes.values()) == {0o600}


def test_a_block_is_kept_whole_or_not_at_all(database: Database) -> None:
    """What raises takes back every row of its block, and the tables made in it."""

    def cut_short() -> None:
        with database.write() as connection:
            connection.execute(sa.insert(gardens), GARDEN)
            connection.exec_driver_sql("CREATE TABLE further (id INTEGER)")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        cut_short()
    assert _count(database) == 0
    with database.read() as connection:
        assert not sa.inspect(connection).has_table("further")


def test_a_reader_that_turns_writer_after_a_commit_is_refused_at_once(sqlite: Database) -> None:
    """The trap that `write` avoids, shown: the busy timeout is not heeded."""

    def read_then_write() -> None:
        with sqlite.read() as reader:
            reader.execute(sa.select(gardens)).all()
            with sqlite.write() as writer:
                writer.execute(sa.insert(gardens), GARDEN)
            reader.execute(sa.update(gardens).values(name="Away"))

    begun = time.monotonic()
    with pytest.raises(FaultError, match="is writing to it"):
        read_then_write()
    assert time.monotonic() - begun < 2


def test_writers_that_read_first_wait_for_one_another(database: Database) -> None:
    """Two threads read a number and write it back plus one, many times: none is lost."""
    with database.write() as connection:
        connection.execute(sa.insert(gardens), GARDEN)

    def count_up() -> None:
        for _ in range(25):
            with database.write() as connection:
                query = sa.select(gardens.c.elevation).with_for_update()
                here = connection.scalar(query) or 0.0
                connection.execute(sa.update(gardens).values(elevation=here + 1))

    threads = [threading.Thread(target=count_up) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with database.read() as connection:
        assert connection.scalar(sa.select(gardens.c.elevation)) == 50


def test_a_writer_that_never_finishes_is_said(sqlite: Database) -> None:
    """After the time to wait, a sentence; nothing is kept, and later it works again."""
    assert sqlite.file is not None
    hasty = Database(sqlite.file, busy_seconds=0.1)
    with (
        sqlite.write(),
        pytest.raises(FaultError, match="did not finish in time"),
        hasty.write() as connection,
    ):
        connection.execute(sa.insert(gardens), GARDEN)
    assert _count(hasty) == 0
    with hasty.write() as connection:
        connection.execute(sa.insert(gardens), GARDEN)
    assert _count(sqlite) == 1
    hasty.close()


def test_readers_are_not_kept_waiting_by_a_writer(sqlite: Database) -> None:
    """They see the state before it."""
    with sqlite.write() as writer:
        writer.execute(sa.insert(gardens), GARDEN)
        assert _count(sqlite) == 0
    assert _count(sqlite) == 1


def test_a_reader_sees_one_state_throughout(database: Database) -> None:
    """What is committed meanwhile is for the next one, in both databases."""
    query = sa.select(sa.func.count()).select_from(gardens)
    with database.read() as reader:
        assert reader.scalar(query) == 0
        with database.write() as writer:
            writer.execute(sa.insert(gardens), GARDEN)
        assert reader.scalar(query) == 0
    assert _count(database) == 1


def test_a_row_that_points_at_nothing_is_refused(database: Database) -> None:
    """Foreign keys are on in both databases."""
    with pytest.raises(IntegrityError), database.write() as connection:
        connection.exec_driver_sql(
            "INSERT INTO subscribers (garden_id, position, name, email, notice_level, digest_hour,"
            " units, language) VALUES ('none', 0, 'A', 'a@b', 'few', 7, 'metric', 'en')"
        )


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE gardens SET latitude = 'abc'",
        "UPDATE gardens SET invented = 'perhaps'",
        "UPDATE gardens SET name = NULL",
    ],
)
def test_a_value_of_the_wrong_type_is_refused_by_the_table(
    database: Database, statement: str
) -> None:
    """Tables are strict also towards other programs."""
    with database.write() as connection:
        connection.execute(sa.insert(gardens), GARDEN)
    with pytest.raises((IntegrityError, FaultError)), database.write() as connection:
        connection.exec_driver_sql(statement)


def test_a_file_that_is_no_database_is_said(tmp_path: Path) -> None:
    """With its name, and what to do."""
    file = tmp_path / "mebuki.db"
    file.write_bytes(b"this is a letter, not a database" * 100)
    with pytest.raises(FaultError, match=r"mebuki\.db is damaged .*mebuki restore"):
        Database(file).check()


def test_damage_is_found_at_the_start(sqlite: Database) -> None:
    """A page overwritten in the middle of the file is told before anything is served."""
    assert sqlite.file is not None
    sqlite.check()
    with sqlite.write() as connection:
        connection.execute(
            sa.insert(gardens), [GARDEN | {"id": f"garden-{n:04}"} for n in range(2000)]
        )
    sqlite.close()
    with closing(sqlite3.connect(sqlite.file)) as bare:
        bare.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    size = sqlite.file.stat().st_size
    with sqlite.file.open("r+b") as file:
        file.seek(size - size // 4 - size // 4 % 4096)
        file.write(b"\xff" * 8192)
    with pytest.raises(FaultError, match="damaged"):
        Database(sqlite.file).check()


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("mysql://root@host/mebuki", "mysql: not a database Mebuki knows"),
        ("oracle://host/x", "oracle: not a database Mebuki knows"),
        ("nothing://x", "nothing: not a database Mebuki knows"),
        ("sqlite://", "needs a file"),
        ("sqlite:///:memory:", "needs a file"),
    ],
)
def test_an_address_of_another_kind_is_refused(address: str, said: str) -> None:
    """With what would be right."""
    with pytest.raises(InputError, match=said):
        Database(address)


def test_a_folder_that_is_missing_is_said(tmp_path: Path) -> None:
    """Nothing is made where nobody asked for it."""
    with pytest.raises(FaultError, match="No such file"), Database(tmp_path / "a" / "b.db").write():
        pass


def test_a_server_that_does_not_answer_is_said_without_its_password(tmp_path: Path) -> None:
    """An error is shown and logged: it must not tell the secret."""
    database = Database(f"postgresql://ada:s3cret@/mebuki?host={tmp_path}")
    with pytest.raises(FaultError) as caught, database.read():
        pass
    assert "s3cret" not in str(caught.value)
    assert "ada" in str(caught.value)
    assert isinstance(caught.value.__cause__, DBAPIError)


def test_the_extra_for_servers_is_named_where_it_is_missing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Not a traceback: what to install."""
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(InputError, match="extra 'scale'"):
        Database("postgresql://ada@host/mebuki")


def test_a_second_service_is_told_and_the_lock_goes_with_the_first(address: str) -> None:
    """One database has one service, in both databases."""
    first, second = Database(address), Database(address)
    with (
        sole_service(first),
        pytest.raises(FaultError, match="another Mebuki is at work"),
        sole_service(second),
    ):
        pass
    with sole_service(second):
        pass
    first.close()
    second.close()


def test_work_goes_on_while_a_service_holds_the_lock(database: Database) -> None:
    """The lock is beside the data, not on it."""
    with sole_service(database), database.write() as connection:
        connection.execute(sa.insert(gardens), GARDEN)
    assert _count(database) == 1


def test_another_program_that_looks_in_takes_nothing_away(sqlite: Database) -> None:
    """It closes as if it were the last one; the log of a database in use must stay in its place."""
    assert sqlite.file is not None
    look = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); "
        "print(c.execute('SELECT count(*) FROM gardens').fetchone()[0]); c.close()"
    )

    def seen() -> int:
        command = [sys.executable, "-c", look, str(sqlite.file)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        return int(done.stdout)

    for count in range(1, 4):
        with sqlite.write() as connection:
            connection.execute(sa.insert(gardens), {**GARDEN, "id": f"home-{count}"})
        assert seen() == count
        assert sqlite.file.with_name(f"{sqlite.file.name}-wal").exists()
