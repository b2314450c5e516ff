"""Speed of the database, against a bare loop of the driver and against what a night may take."""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from pytest_benchmark.fixture import BenchmarkFixture

from mebuki.clock import FixedClock
from mebuki.rounds.ports import Letter
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.schema import metadata
from tests.builders import AT, a_garden, a_record, a_tree
from tests.storage.writers import run_round

ROWS = 300
LEAST_SHARE = 0.25
"""Least share of the bare loop's speed, one row a transaction (measured: 0.45)."""

MOST_SECONDS_A_ROUND = 0.06
"""A night of 1,000 gardens may take 2 minutes in all, so its writing a minute at most."""

CONTENT = bytes(range(256)) + b"x" * 44


def _letter(number: int) -> Letter:
    return Letter(f"key {number}", "ada@example.org", f"<{number}@x>", "Frost", CONTENT)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    """Return an empty SQLite database."""
    with closing(open_database(tmp_path / "mebuki.db")) as opened:
        yield opened


def _bare_loop(file: Path) -> Callable[[], None]:
    """Return a loop that inserts the rows of letters with the driver alone, as safely."""
    columns = metadata.tables["outbox"].columns.keys()[1:]
    values = ["key", "ada@example.org", "<1@x>", "Frost", CONTENT, "2013", "2013", 0, None, None,
              None, "", None, None, None]  # fmt: skip
    marks = ", ".join("?" * len(columns))
    statement = f"INSERT INTO outbox ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608 - names of our own columns
    started = iter(range(10**9))

    def loop() -> None:
        with closing(sqlite3.connect(file, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = FULL")
            for _ in range(ROWS):
                connection.execute("BEGIN IMMEDIATE")
                connection.execute(statement, [f"bare {next(started)}", *values[1:]])
                connection.execute("COMMIT")

    return loop


def _timed(work: Callable[[], object], times: list[float]) -> None:
    begun = time.perf_counter()
    work()
    times.append(time.perf_counter() - begun)


@pytest.mark.benchmark
def test_a_letter_a_transaction_keeps_up_with_a_bare_loop(database: Database) -> None:
    """One row a transaction, each on the disk before it is acknowledged, in the same run."""
    assert database.file is not None
    bare = _bare_loop(database.file)
    outbox = DatabaseOutbox(database, FixedClock(AT))
    started = iter(range(10**9))

    def ours() -> None:
        for _ in range(ROWS):
            outbox.put([_letter(next(started))])

    shares = []
    for _ in range(5):
        begun = time.perf_counter()
        bare()
        between = time.perf_counter()
        ours()
        shares.append((between - begun) / (time.perf_counter() - between))
    with database.read() as connection:
        count = connection.scalar(sa.select(sa.func.count()).select_from(metadata.tables["outbox"]))
    assert count == 10 * ROWS
    assert statistics.median(shares) > LEAST_SHARE, shares


@pytest.mark.benchmark
def test_a_round_is_written_in_time(benchmark: BenchmarkFixture, database: Database) -> None:
    """Load, render and keep one garden's round of which every entry is at a new revision."""
    started = iter(range(10**9))
    times: list[float] = []
    benchmark(_timed, lambda: run_round(database, next(started)), times)
    assert statistics.median(times) < MOST_SECONDS_A_ROUND


@pytest.mark.benchmark
def test_a_thousand_gardens_cost_each_what_a_hundred_do(database: Database) -> None:
    """Saving and loading a garden does not slow down as others join it."""
    store = GardenStore(database, FixedClock(AT))
    records = [a_record("repotted", f"20{year:02}-03-20") for year in range(3, 13)]
    trees = [a_tree(f"Tree {number}", records=records) for number in range(10)]

    def seconds(first: int, count: int) -> float:
        begun = time.perf_counter()
        for number in range(first, first + count):
            garden = a_garden(trees, id=f"garden-{number}")
            store.save(garden)
            assert store.load(garden.id) == garden
        return time.perf_counter() - begun

    seconds(0, 10)
    early = seconds(10, 100)
    seconds(110, 790)
    late = seconds(900, 100)
    assert late < 2 * early
    assert late < 100 * MOST_SECONDS_A_ROUND


@pytest.mark.benchmark
def test_a_feed_is_one_quick_look(benchmark: BenchmarkFixture, database: Database) -> None:
    """A feed of 100 kB is read by its secret address in less than 5 ms."""
    shelf = DatabaseFeedShelf(database, FixedClock(AT))
    for number in range(200):
        shelf.put(f"garden-{number}", CONTENT * 350)
    token = shelf.issue("garden-77", "ada")
    times: list[float] = []
    benchmark(_timed, lambda: shelf.read(token), times)
    assert statistics.median(times) < 0.005
