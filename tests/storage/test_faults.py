"""What must be survived: a process killed at any point, a full disk, a stranger's lock."""

from __future__ import annotations

import multiprocessing
import random
import sqlite3
from contextlib import closing
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pytest

from mebuki.errors import FaultError
from mebuki.storage.database import Database
from mebuki.storage.migrate import open_database
from tests.storage.writers import moment, plan, run_round, write_rounds, write_until_full

SEED = 20130327


@pytest.fixture(scope="module")
def processes() -> Any:
    """Return a maker of processes that have the program loaded already."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.storage.writers"])
    return context


def _read(file: Path, query: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(file)) as connection:
        return connection.execute(query).fetchall()


def _holds_together(file: Path, acknowledged: int) -> int:
    """Hold a file against what was acknowledged, as a reader that knows nothing of us.

    Returns how many rounds are in it: the acknowledged ones, and at most one
    more that was kept but could no longer be told.
    """
    assert _read(file, "PRAGMA integrity_check") == [("ok",)]
    assert _read(file, "PRAGMA foreign_key_check") == []
    done = _read(file, "SELECT nominal, finished_at FROM rounds ORDER BY nominal")
    assert len(done) in (acknowledged, acknowledged + 1)
    assert [nominal for nominal, _ in done] == [
        f"{moment(number):%Y-%m-%dT%H:%M:%S.%fZ}" for number in range(len(done))
    ]
    assert all(finished for _, finished in done)
    notices = _read(file, "SELECT key FROM notices ORDER BY position")
    assert notices == [(f"frost:{number}:act",) for number in range(len(done))]
    letters = _read(file, "SELECT key, count(*), count(distinct recipient) FROM outbox GROUP BY 1")
    people = len(plan(0).garden.subscribers)
    assert {tuple(counts) for _, *counts in letters} == ({(people, people)} if done else set())
    assert len(letters) == len(done)
    entries = len(plan(0).entries)
    assert _read(file, "SELECT count(*) FROM entry_revisions") == [(entries * len(done),)]
    newest = _read(file, "SELECT DISTINCT revision FROM entries")
    assert newest == ([(len(done) - 1,)] if done else [])
    feeds = _read(file, "SELECT content FROM feeds")
    assert len(feeds) == (1 if done else 0)
    for (content,) in feeds:
        assert content.count(f"SEQUENCE:{len(done) - 1}\r\n".encode()) == entries
    return len(done)


def _killed(processes: Any, file: Path, first: int, chance: random.Random) -> int:
    """Let a process run rounds, kill it at a random point; return how many are acknowledged."""
    ours, theirs = processes.Pipe(duplex=False)
    process = processes.Process(target=write_rounds, args=(str(file), first, theirs), daemon=True)
    process.start()
    theirs.close()
    acknowledged = first
    if chance.random() < 0.9:
        for _ in range(chance.randint(1, 6)):
            acknowledged = ours.recv() + 1
    # Anywhere within the next round: reading, rendering, writing, waiting for the disk.
    if ours.poll(chance.uniform(0, 0.02)):
        acknowledged = ours.recv() + 1
    process.kill()
    process.join()
    acknowledged = _drained(ours, acknowledged)
    ours.close()
    process.close()
    return acknowledged


def _drained(ours: Connection, acknowledged: int) -> int:
    try:
        while ours.poll():
            acknowledged = ours.recv() + 1
    except EOFError:
        pass
    return acknowledged


def _kill_again_and_again(processes: Any, file: Path, kills: int) -> None:
    open_database(file).close()
    chance = random.Random(SEED)  # noqa: S311 - chance, not a secret
    rounds = 0
    for _ in range(kills):
        rounds = _holds_together(file, _killed(processes, file, rounds, chance))
    assert rounds > kills
    with closing(Database(file)) as database:
        run_round(database, rounds - 1)
        run_round(database, rounds)
    assert _holds_together(file, rounds + 1) == rounds + 1


def test_twenty_kills_lose_and_double_nothing(processes: Any, tmp_path: Path) -> None:
    """Whatever was acknowledged is there, and nothing is there in part."""
    _kill_again_and_again(processes, tmp_path / "mebuki.db", 20)


@pytest.mark.long
def test_two_hundred_kills_lose_and_double_nothing(processes: Any, tmp_path: Path) -> None:
    """As above, at two hundred random points."""
    _kill_again_and_again(processes, tmp_path / "mebuki.db", 200)


@pytest.mark.parametrize("room", [0, 100_000, 1_000_000])
def test_a_full_disk_leaves_the_old_state_whole(room: int, processes: Any, tmp_path: Path) -> None:
    """The round that no longer fits is told and leaves nothing; with room it is kept."""
    file = tmp_path / "mebuki.db"
    with closing(open_database(file)) as database:
        run_round(database, 0)
        run_round(database, 1)
    ours, theirs = processes.Pipe(duplex=False)
    limit = file.stat().st_size + room
    process = processes.Process(target=write_until_full, args=(str(file), 2, limit, theirs))
    process.start()
    theirs.close()
    told = [ours.recv()]
    while not isinstance(told[-1], str):
        told.append(ours.recv())
    notices = ours.recv()
    process.join()
    ours.close()
    assert "nothing of this change was kept" in told[-1]
    rounds = 2 + len(told) - 1
    assert notices == rounds
    assert _holds_together(file, rounds) == rounds
    with closing(Database(file)) as database:
        run_round(database, rounds)
    assert _holds_together(file, rounds + 1) == rounds + 1


def test_a_stranger_that_holds_the_write_lock_is_waited_for_then_told(tmp_path: Path) -> None:
    """A program that forgot to end its transaction: told, nothing kept, later all well."""
    file = tmp_path / "mebuki.db"
    with closing(open_database(file)) as database:
        run_round(database, 0)
    hasty = Database(file, busy_seconds=0.2)
    with closing(sqlite3.connect(file, isolation_level=None)) as stranger:
        stranger.execute("BEGIN IMMEDIATE")
        with pytest.raises(FaultError, match="did not finish in time"):
            run_round(hasty, 1)
        stranger.execute("ROLLBACK")
    assert _holds_together(file, 1) == 1
    run_round(hasty, 1)
    hasty.close()
    assert _holds_together(file, 2) == 2
