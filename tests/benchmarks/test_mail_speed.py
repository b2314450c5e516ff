"""Speed of delivery: stored letters handed to a server, against a bare loop on the same bytes.

The server runs in a process of its own, as it does in life.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from multiprocessing.connection import Connection
from pathlib import Path
from statistics import median

import aiosmtplib
import pytest

from mebuki.clock import FixedClock
from mebuki.mail.compose import MailWriter
from mebuki.rounds.deliver import Delivered, Terms, deliver
from mebuki.rounds.ports import Letter
from mebuki.storage.migrate import open_database
from mebuki.storage.outbox import DatabaseOutbox
from tests.builders import AT, a_garden, a_subscriber
from tests.mail.senders import a_way
from tests.mail.smtp_sink import SmtpSink
from tests.plans import a_notice

LETTERS = 1_000
LEAST_SHARE = 0.25
"""Least share of the bare loop's letters a second, each letter noted as sent on the disk
before the next (measured: 0.56)."""

NIGHT, NIGHT_SECONDS = 10_000, 300
"""A frost night's letters, and how long they may take in all; half of it for sending."""


def _serve(tell: Connection) -> None:
    with SmtpSink() as sink:
        tell.send(sink.port)
        tell.recv()
        tell.send(len(sink.received))


@pytest.fixture
def server() -> Iterator[tuple[int, Connection]]:
    """Start a mail server in a process of its own; return its port and a line to it."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs,), daemon=True)
    process.start()
    yield ours.recv(), ours
    process.kill()
    process.join()


def _letters(count: int, first: int = 0) -> list[Letter]:
    writer, garden = MailWriter("mebuki@garden.example", "garden.example"), a_garden()
    content = writer.write(garden, a_notice(), a_subscriber()).content
    return [
        Letter(f"k{number}", "ada@example.org", f"<{number}@x>", "Frost", content)
        for number in range(first, first + count)
    ]


async def _bare_loop(port: int, letters: Sequence[Letter]) -> None:
    async with aiosmtplib.SMTP(hostname="127.0.0.1", port=port, start_tls=False) as client:
        for letter in letters:
            await client.sendmail("mebuki@garden.example", [letter.recipient], letter.content)


@pytest.mark.benchmark
def test_delivery_keeps_up_with_a_bare_loop(server: tuple[int, Connection], tmp_path: Path) -> None:
    """One line each, the same bytes, in the same run."""
    port, line = server
    shares, speeds = [], []
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        outbox, clock = DatabaseOutbox(database, FixedClock(AT)), FixedClock(AT)
        for turn in range(3):
            letters = _letters(LETTERS, turn * LETTERS)
            outbox.put(letters)
            begun = time.perf_counter()
            asyncio.run(_bare_loop(port, letters))
            between = time.perf_counter()
            done = asyncio.run(deliver(outbox, a_way(port), clock))
            took = time.perf_counter() - between
            assert done == Delivered(sent=LETTERS)
            shares.append((between - begun) / took)
            speeds.append(LETTERS / took)
    line.send("enough")
    assert line.recv() == 6 * LETTERS
    print(f"\n{median(speeds):.0f} letters/s, {median(shares):.2f} of a bare loop")  # noqa: T201 - the figure of a benchmark
    assert median(shares) > LEAST_SHARE, shares


@pytest.mark.benchmark
@pytest.mark.parametrize("hands", [1, 4])
def test_a_frost_nights_letters_go_in_time(
    hands: int, server: tuple[int, Connection], tmp_path: Path
) -> None:
    """10,000 letters from the database to the last acceptance."""
    port, line = server
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        outbox, clock = DatabaseOutbox(database, FixedClock(AT)), FixedClock(AT)
        outbox.put(_letters(NIGHT))
        begun = time.perf_counter()
        done = asyncio.run(deliver(outbox, a_way(port), clock, Terms(hands=hands)))
        took = time.perf_counter() - begun
    line.send("enough")
    assert line.recv() == NIGHT
    assert done == Delivered(sent=NIGHT)
    print(f"\n{NIGHT} letters over {hands} lines in {took:.1f} s")  # noqa: T201 - as above
    assert took < NIGHT_SECONDS / 2
