"""kill -9 at random points of rounds with mails and feeds under way.

A service is killed again and again while it plans, writes and sends, to a real
mail server on loopback. Then an independent reader of the database file and of
the received messages holds it against a service that was never killed.
"""

from __future__ import annotations

import multiprocessing
import random
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from mebuki.clock import SystemClock
from mebuki.storage.migrate import open_database
from tests.journeys.steady import content_of, live, the_garden
from tests.mail.smtp_sink import SmtpSink
from tests.schedule.benches import settle

SEED = 20130320


def _made(folder: Path) -> Path:
    folder.mkdir()
    with closing(open_database(folder / "mebuki.db")) as database:
        settle(database, [the_garden()], SystemClock())
    return folder / "mebuki.db"


def _rows(file: Path, query: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(file)) as connection:
        return connection.execute(query).fetchall()


def _live_and_die(folder: Path, port: int, hours: int, chance: random.Random) -> tuple[bool, int]:
    """Let a service live for a random while; return whether it came to the end, and its rounds."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.journeys.steady"])
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=live, args=(str(folder), port, theirs, hours), daemon=True)
    process.start()
    theirs.close()
    rounds, ended = 0, False
    assert ours.recv() == "ready"
    wanted = chance.randint(0, 4)
    try:
        while rounds < wanted and not ended:
            word = ours.recv()
            rounds, ended = rounds + (word == "round"), word == "end"
        if not ended and ours.poll(chance.uniform(0, 0.25)):
            ended = ours.recv() == "end"
    except EOFError:
        pytest.fail("the service ended by itself")
    process.kill()
    process.join()
    return ended, rounds


def _trial(tmp_path: Path, hours: int, kills: int) -> None:
    calm, shaken = _made(tmp_path / "calm"), _made(tmp_path / "shaken")
    with SmtpSink() as sink:
        live(str(calm.parent), sink.port, None, hours)
        calm_mails = Counter(content_of(one.content) for one in sink.received)
    chance, killed, ended = random.Random(SEED), 0, False  # noqa: S311 - chance, not a secret
    with SmtpSink() as sink:
        while not ended and killed < kills:
            ended, _ = _live_and_die(shaken.parent, sink.port, hours, chance)
            killed += not ended
        live(str(shaken.parent), sink.port, None, hours)
        mails = Counter(content_of(one.content) for one in sink.received)
    assert killed >= min(kills, 10)
    _same_state(calm, shaken)
    assert mails.keys() == calm_mails.keys()
    twice = sum(mails.values()) - len(mails)
    # taken by the server, killed before that was noted: sent again, same bytes, same identity
    assert twice <= killed
    assert set(calm_mails.values()) == {1}


def _same_state(calm: Path, shaken: Path) -> None:
    """Hold two database files against each other, knowing nothing of the program."""
    assert _rows(shaken, "PRAGMA integrity_check") == [("ok",)]
    assert _rows(shaken, "PRAGMA foreign_key_check") == []
    for query in (
        "SELECT garden, uid, revision, changed, status, content FROM entry_revisions "
        "ORDER BY 1, 2, 3",
        "SELECT garden, uid, revision, position FROM entries ORDER BY 1, 2",
        "SELECT garden, key, position FROM notices ORDER BY 1, 2",
        "SELECT key, recipient, message_id, content FROM outbox ORDER BY 1, 2",
        "SELECT garden, variant, etag, content FROM feeds ORDER BY 1, 2",
        "SELECT round, garden, nominal, outcome FROM rounds WHERE round = 'plan' ORDER BY 1, 2, 3",
    ):
        assert _rows(shaken, query) == _rows(calm, query), query
    waiting = "SELECT count(*) FROM outbox WHERE sent_at IS NULL AND given_up_at IS NULL"
    assert _rows(shaken, waiting) == [(0,)]
    revisions = _rows(
        shaken, "SELECT uid, min(revision), max(revision), count(*) FROM entry_revisions GROUP BY 1"
    )
    assert revisions
    assert all(count == last - first + 1 for _, first, last, count in revisions)


def test_twenty_kills_lose_and_double_nothing(tmp_path: Path) -> None:
    """Twenty kills over sixty rounds."""
    _trial(tmp_path, hours=60, kills=20)


@pytest.mark.long
def test_kills_throughout_two_hundred_rounds_lose_and_double_nothing(tmp_path: Path) -> None:
    """As above over two hundred rounds."""
    _trial(tmp_path, hours=200, kills=200)
