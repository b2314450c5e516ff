"""From the outbox to a real mail server: down and back, broken lines, killed while sending."""

from __future__ import annotations

import asyncio
import multiprocessing
import random
import time
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from mebuki.clock import FixedClock
from mebuki.rounds.deliver import Delivered, Terms, deliver
from mebuki.rounds.ports import Letter
from mebuki.storage.bounces import AddressBook
from mebuki.storage.database import Database
from mebuki.storage.migrate import open_database
from mebuki.storage.outbox import DatabaseOutbox
from tests.builders import AT
from tests.mail.senders import a_way, message, send_for_ever
from tests.mail.smtp_sink import Received, SmtpSink

SEED = 20130328
ADA = "ada@example.org"


def some_letters(count: int, recipient: str = ADA, **changes: Any) -> list[Letter]:
    """Return letters of a line of text each."""
    return [
        Letter(f"frost:{n}:act", recipient, f"<{n}@x>", "Frost", message(n), **changes)
        for n in range(count)
    ]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return the file of an empty database."""
    with closing(open_database(tmp_path / "mebuki.db")):
        return tmp_path / "mebuki.db"


def put(file: Path, letters: list[Letter]) -> None:
    """Put letters into the outbox."""
    with closing(Database(file)) as database:
        DatabaseOutbox(database, FixedClock(AT)).put(letters)


def run(file: Path, port: int, at: datetime, terms: Terms | None = None) -> Delivered:
    """Deliver what is due, as a process of its own would."""
    with closing(Database(file)) as database:
        clock = FixedClock(at)
        post, book = DatabaseOutbox(database, clock), AddressBook(database)
        return asyncio.run(deliver(post, a_way(port), clock, terms, bounces=book))


def names(received: list[Received]) -> Counter[bytes]:
    """Count the messages that came."""
    return Counter(one.content for one in received)


def test_every_letter_arrives_once_as_it_was_stored(file: Path) -> None:
    """Over one line or several at a time."""
    letters = some_letters(25)
    put(file, letters)
    with SmtpSink() as sink:
        assert run(file, sink.port, AT, Terms(hands=3)) == Delivered(sent=25)
        assert run(file, sink.port, AT) == Delivered()
    assert names(sink.received) == Counter(letter.content for letter in letters)
    assert sink.lines == 3


def test_a_server_down_for_hours_gets_everything_of_use_once_it_is_back(file: Path) -> None:
    """What has outlived its use is given up meanwhile and told; nothing else is lost or doubled."""
    dawn = AT + timedelta(hours=3)
    put(file, some_letters(10))
    put(
        file, [Letter("late", ADA, "<l@x>", "Frost", message(99), useful_until=dawn, garden="home")]
    )
    with SmtpSink() as sink:
        port = sink.port
    minutes = range(0, 6 * 60, 10)
    down = sum((run(file, port, AT + timedelta(minutes=each)) for each in minutes), Delivered())
    assert (down.sent, down.given_up) == (0, 1)
    with SmtpSink(port=port) as back:
        later = [run(file, port, AT + timedelta(minutes=each)) for each in range(360, 425, 5)]
    assert sum(later, Delivered()).sent == 10
    assert names(back.received) == Counter(letter.content for letter in some_letters(10))
    with closing(Database(file)) as database:
        (unsent,) = DatabaseOutbox(database, FixedClock(AT)).unsent("home", AT)
    assert unsent.reason == "too late to be of use"


def test_a_line_cut_after_the_text_brings_the_same_letter_again(file: Path) -> None:
    """The unknowable case: the same bytes and Message-ID, twice at most here."""
    put(file, some_letters(6))
    cut = [2, 4]

    def at_text(envelope: Any) -> str:
        number = int(envelope.original_content.partition(b"<")[2].partition(b"@")[0])
        if number in cut:
            cut.remove(number)
            return "drop"
        return ""

    with SmtpSink(at_text=at_text) as sink:
        assert run(file, sink.port, AT) == Delivered(sent=4, put_off=2)
        assert run(file, sink.port, AT + timedelta(minutes=1)) == Delivered(sent=2)
    expected = Counter(message(number) for number in range(6))
    expected[message(2)] = expected[message(4)] = 2
    assert names(sink.received) == expected


def test_a_refused_recipient_is_noted_and_the_rest_goes(file: Path) -> None:
    """5.1.1: given up, the address blocked; 4xx goes later."""
    later = iter(["451 4.7.1 later"])
    answers: dict[str, Callable[[], str]] = {
        "no@example.org": lambda: "550 5.1.1 unknown",
        "ben@example.org": lambda: next(later, ""),
    }
    put(
        file,
        some_letters(1, "no@example.org") + some_letters(1, "ben@example.org") + some_letters(1),
    )
    with SmtpSink(at_recipient=lambda who: answers.get(who, lambda: "")()) as sink:
        assert run(file, sink.port, AT) == Delivered(sent=1, put_off=1, given_up=1)
        assert run(file, sink.port, AT + timedelta(minutes=1)) == Delivered(sent=1)
    assert sorted(one.recipient for one in sink.received) == [ADA, "ben@example.org"]
    with closing(Database(file)) as database:
        book = AddressBook(database)
        assert [book.blocked(who) for who in ("no@example.org", "ben@example.org")] == [True, False]


def _kill(file: Path, sink: SmtpSink, at: datetime, chance: random.Random) -> None:
    """Let a process send, and kill it at a random point."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.mail.senders"])
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=send_for_ever, args=(str(file), sink.port, at, theirs))
    process.start()
    theirs.close()
    assert ours.recv() == "ready"
    wanted = len(sink.received) + chance.randint(1, 40)
    while len(sink.received) < wanted:
        assert process.is_alive()
        time.sleep(0.002)
    time.sleep(chance.uniform(0, 0.01))  # anywhere within a letter: claiming, saying, noting
    process.kill()
    process.join()
    process.close()
    ours.close()


def _kill_again_and_again(file: Path, letters: int, kills: int) -> None:
    put(file, some_letters(letters))
    chance = random.Random(SEED)  # noqa: S311 - chance, not a secret
    with SmtpSink() as sink:
        for number in range(kills):
            _kill(file, sink, AT + number * Terms().lease, chance)
        during = len(sink.received)
        run(file, sink.port, AT + kills * Terms().lease)
    came = names(sink.received)
    assert kills <= during < letters
    assert set(came) == {message(number) for number in range(letters)}
    # at most the two letters in hand at each kill were taken and could not be noted
    assert sum(came.values()) - letters <= 2 * kills
    with closing(Database(file)) as database:
        assert DatabaseOutbox(database, FixedClock(AT)).depth().waiting == 0


def test_a_sender_killed_ten_times_loses_nothing(file: Path) -> None:
    """Each letter arrives; one that comes twice has the same bytes, its Message-ID among them."""
    _kill_again_and_again(file, 800, 10)


@pytest.mark.long
def test_a_sender_killed_two_hundred_times_loses_nothing(file: Path) -> None:
    """As above, at two hundred random points."""
    _kill_again_and_again(file, 12_000, 200)
