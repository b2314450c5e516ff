"""Delivering: each letter once, patiently, and in spite of its neighbours."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from mebuki.clock import FixedClock
from mebuki.errors import DeliveryError
from mebuki.rounds.deliver import Delivered, Terms, deliver
from mebuki.rounds.ports import Letter
from mebuki.storage.database import Database
from mebuki.storage.migrate import upgrade
from mebuki.storage.outbox import DatabaseOutbox
from tests.builders import AT
from tests.fakes.mailer import FakeMailer, Killed

LETTERS = tuple(
    Letter(f"home:frost-{number}:act:0", "ada@example.org", f"<{number}@x>", "Frost", b"bytes")
    for number in range(5)
)


@pytest.fixture
def outbox(tmp_path: Path) -> DatabaseOutbox:
    """Return an outbox with five letters."""
    database = Database(tmp_path / "mebuki.db")
    upgrade(database)
    found = DatabaseOutbox(database, FixedClock(AT))
    found.put(LETTERS)
    return found


def _deliver(
    outbox: DatabaseOutbox, mailer: FakeMailer, at: datetime = AT, batch: int = 10
) -> Delivered:
    return deliver(outbox, mailer, FixedClock(at), Terms(batch=batch))


def test_every_letter_is_sent_once(outbox: DatabaseOutbox) -> None:
    """In the order they were put, in batches; a second time nothing is left."""
    mailer = FakeMailer()
    assert _deliver(outbox, mailer, batch=2) == Delivered(sent=5)
    assert mailer.taken == list(LETTERS)
    assert _deliver(outbox, mailer) == Delivered()


def test_a_letter_the_server_refuses_for_ever_is_given_up_alone(outbox: DatabaseOutbox) -> None:
    """The others are sent; it is not tried again."""
    mailer = FakeMailer()
    mailer.fails[LETTERS[1].key] = DeliveryError("550 no such user", permanent=True)
    assert _deliver(outbox, mailer) == Delivered(sent=4, given_up=1)
    assert _deliver(outbox, mailer, AT + timedelta(days=9)) == Delivered()
    assert outbox.depth().given_up == 1


def test_a_letter_that_fails_for_now_is_tried_again_later_and_later(
    outbox: DatabaseOutbox,
) -> None:
    """After 1, 2, 4 ... minutes, at most an hour, until it goes."""
    mailer = FakeMailer()
    mailer.fails[LETTERS[0].key] = DeliveryError("451 try later")
    tries = []
    for minute in range(200):
        done = _deliver(outbox, mailer, AT + timedelta(minutes=minute))
        if done.put_off:
            tries.append(minute)
    assert tries == [0, 1, 3, 7, 15, 31, 63, 123, 183]
    mailer.fails.clear()
    assert _deliver(outbox, mailer, AT + timedelta(minutes=243)) == Delivered(sent=1)
    assert sorted(letter.key for letter in mailer.taken) == [letter.key for letter in LETTERS]


def test_a_server_that_is_away_is_not_asked_for_each_letter(outbox: DatabaseOutbox) -> None:
    """One attempt, then all wait."""
    mailer = FakeMailer()
    mailer.away = True
    assert _deliver(outbox, mailer) == Delivered(put_off=5)
    assert mailer.attempts == 1


def test_a_server_away_for_a_day_gets_everything_once_it_is_back(outbox: DatabaseOutbox) -> None:
    """Each letter once, within an hour."""
    mailer = FakeMailer()
    mailer.away = True
    for minute in range(0, 24 * 60, 5):
        _deliver(outbox, mailer, AT + timedelta(minutes=minute))
    mailer.away = False
    for minute in range(0, 61, 5):
        _deliver(outbox, mailer, AT + timedelta(days=1, minutes=minute))
    assert sorted(letter.key for letter in mailer.taken) == [letter.key for letter in LETTERS]
    assert outbox.depth().waiting == 0


def test_patience_ends_after_five_days(outbox: DatabaseOutbox) -> None:
    """Then the letter is given up, and counted."""
    mailer = FakeMailer()
    mailer.away = True
    for hour in range(5 * 24 + 2):
        _deliver(outbox, mailer, AT + timedelta(hours=hour))
    assert outbox.depth().given_up == 5
    assert outbox.depth().waiting == 0


@pytest.mark.parametrize("noted", [False, True])
def test_a_sender_killed_in_the_middle_loses_nothing(noted: bool, outbox: DatabaseOutbox) -> None:
    """What may or may not have arrived goes again after its lease, under the same Message-ID."""
    mailer = FakeMailer()
    mailer.dies_at, mailer.dies_after_taking = 2, noted
    with suppress(Killed):
        _deliver(outbox, mailer)
    assert _deliver(outbox, mailer, AT + timedelta(minutes=1)) == Delivered()
    again = _deliver(outbox, mailer, AT + timedelta(minutes=15))
    assert again == Delivered(sent=3)
    names = [letter.message_id for letter in mailer.taken]
    assert set(names) == {letter.message_id for letter in LETTERS}
    assert len(names) == 5 + noted
    assert all(letter in LETTERS for letter in mailer.taken)
