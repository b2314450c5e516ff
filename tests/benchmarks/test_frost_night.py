"""One frost night of a host: from the stored forecast to the last mail that a server took.

Promise: 10,000 readers of 1,000 gardens within five minutes on two cores, against a
mail server on loopback. All get their digest at the same hour, so that twice as many
letters go out. Beside it stands a bare loop of the mail library over the same bytes.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path

import pytest
import sqlalchemy as sa

from mebuki.bootstrap import demo_inputs
from mebuki.bootstrap.serving import Outside, make_bench
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.tree import Tree
from mebuki.rounds.deliver import Delivered, Terms, deliver
from mebuki.rounds.ports import Letter
from mebuki.rules.risk import NOTICE_LEVELS
from mebuki.schedule.desk import due_rounds, processors, run_side_by_side
from mebuki.schedule.garden_round import Bench
from mebuki.schedule.timetable import Timetable
from mebuki.storage.database import Database
from mebuki.storage.migrate import open_database
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.round_tables import outbox
from tests.benchmarks.test_mail_speed import _bare_loop, server
from tests.fakes.clock import HandClock
from tests.mail.senders import a_way
from tests.rounds.trials import bench as trial_bench
from tests.schedule.benches import settings_for, settle

__all__ = ["server"]

MORNING = datetime(2013, 4, 2, 11, 0, tzinfo=UTC)
"""Seven in the morning before a night of frost for fresh roots and open buds."""

GARDENS, READERS = 1_000, 10
SITES = 40
"""Different places among the gardens, a tenth of a degree apart."""

FIVE_MINUTES = 300
BARE = 1_000
"""Letters of the bare loop."""

TERMS = Terms(hands=4)


@dataclass(frozen=True, slots=True)
class Night:
    """Letters of a night, and the seconds that its parts took.

    ``bare`` is what all letters would take over one line of the mail library, reckoned
    from ``bare_letters`` of them.
    """

    letters: int
    bare_letters: int
    rounds: float
    sending: float
    bare: float


def _gardens(count: int) -> Iterator[Garden]:
    bench = trial_bench()
    trees = tuple(_again(tree, copy) for copy in range(2) for tree in bench.trees)[:10]
    for number in range(count):
        site = bench.site.model_copy(
            update={
                "latitude": bench.site.latitude + 0.1 * (number % SITES % 8),
                "longitude": bench.site.longitude + 0.1 * (number % SITES // 8),
            }
        )
        readers = tuple(_reader(number, each) for each in range(READERS))
        named = {"id": f"garden-{number:04d}", "name": f"Invented garden {number}"}
        yield bench.model_copy(
            update={**named, "site": site, "trees": trees, "subscribers": readers}
        )


def _again(tree: Tree, copy: int) -> Tree:
    return tree.model_copy(update={"id": f"{tree.id}-{copy}", "name": f"{tree.name} {copy + 1}"})


def _reader(garden: int, number: int) -> Subscriber:
    return Subscriber(
        name=f"Reader {number}",
        email=f"reader{number}@garden{garden}.example",
        units="us" if number % 2 else "metric",
        notice_level=NOTICE_LEVELS[number % len(NOTICE_LEVELS)],
    )


def _bench(folder: str) -> Bench:
    """Return a bench over the database of a folder, for a process of its own."""
    settings = settings_for(Path(folder))
    clock = HandClock(MORNING)
    return make_bench(settings, Database(settings.database), Outside(clock, demo_inputs().weather))


def _night(folder: Path, count: int, port: int) -> Night:
    folder.mkdir()
    clock = HandClock(MORNING)
    with closing(open_database(settings_for(folder).database)) as database:
        settle(database, _gardens(count), clock)
        states = _bench(str(folder))
        dues = due_rounds(states.states, states.rounds, Timetable(), MORNING)
        begun = time.perf_counter()
        tally = run_side_by_side(partial(_bench, str(folder)), dues, processors())
        planned = time.perf_counter()
        done = asyncio.run(deliver(DatabaseOutbox(database, clock), a_way(port), clock, TERMS))
        sent = time.perf_counter()
        assert tally == {"done": count}
        assert _called(database) == count * READERS
        some = _some_sent(database)
    assert done == Delivered(sent=done.sent)
    between = time.perf_counter()
    asyncio.run(_bare_loop(port, some))
    bare = (time.perf_counter() - between) / len(some)
    return Night(done.sent, len(some), planned - begun, sent - planned, bare * done.sent)


def _called(database: Database) -> int:
    """Return how many readers were sent a call against frost."""
    readers = sa.func.count(sa.distinct(outbox.c.recipient))
    query = sa.select(readers).where(outbox.c.kind == "frost", outbox.c.sent_at.is_not(None))
    with database.read() as connection:
        return int(connection.execute(query).scalar_one())


def _some_sent(database: Database) -> list[Letter]:
    """Return letters of the night, every so manieth."""
    query = sa.select(
        outbox.c.key, outbox.c.recipient, outbox.c.message_id, outbox.c.subject, outbox.c.content
    ).where(outbox.c.id % 10 == 0)
    with database.read() as connection:
        return [Letter(*row) for row in connection.execute(query.limit(BARE))]


@pytest.mark.benchmark
def test_a_frost_night_of_ten_thousand_readers(
    server: tuple[int, Connection], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every reader is told, and the last mail is taken within five minutes."""
    port, line = server
    small = _night(tmp_path / "small", 20, port)
    whole = _night(tmp_path / "whole", GARDENS, port)
    line.send("enough")
    assert line.recv() == sum(each.letters + each.bare_letters for each in (small, whole))
    with capsys.disabled():
        print(  # noqa: T201 - the figure of a benchmark
            f"\n{GARDENS} gardens, {GARDENS * READERS} readers, {whole.letters} letters: rounds "
            f"{whole.rounds:.0f} s, sending {whole.sending:.0f} s (a bare loop over one line: "
            f"{whole.bare:.0f} s)"
        )
    assert whole.rounds + whole.sending < FIVE_MINUTES
