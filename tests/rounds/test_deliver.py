"""Delivering: each letter once, patiently, and in spite of its neighbours."""

from __future__ import annotations

import asyncio
import logging
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from mebuki.clock import FixedClock
from mebuki.errors import DeliveryError
from mebuki.rounds.deliver import TOO_LATE, Delivered, Terms, deliver
from mebuki.rounds.ports import Letter, Posting
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
    return asyncio.run(deliver(outbox, mailer, FixedClock(at), Terms(batch=batch)))


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


BROKE = DeliveryError("the line broke after the text was handed over", broken=True)


def test_a_line_that_breaks_puts_off_one_letter(
    outbox: DatabaseOutbox, caplog: pytest.LogCaptureFixture
) -> None:
    """It may have come: tried again later under the same Message-ID, and both are logged."""
    caplog.set_level(logging.INFO)
    mailer = FakeMailer()
    mailer.fails[LETTERS[2].key] = BROKE
    assert _deliver(outbox, mailer) == Delivered(sent=4, put_off=1)
    mailer.fails.clear()
    assert _deliver(outbox, mailer, AT + timedelta(minutes=1)) == Delivered(sent=1)
    assert mailer.taken[-1] == LETTERS[2]
    assert "<2@x> is put off: the line broke after the text was handed over" in caplog.text
    assert "<2@x> is tried for the 2. time" in caplog.text


def test_three_broken_lines_in_a_row_are_the_servers_trouble(outbox: DatabaseOutbox) -> None:
    """The rest is not thrown at it; one letter that breaks every line holds up no other."""
    mailer = FakeMailer()
    mailer.fails = dict.fromkeys((letter.key for letter in LETTERS), BROKE)
    assert _deliver(outbox, mailer) == Delivered(put_off=5)
    assert mailer.attempts == 3
    mailer.fails = {LETTERS[0].key: BROKE}
    assert _deliver(outbox, mailer, AT + timedelta(minutes=1)) == Delivered(sent=4, put_off=1)


def test_a_fault_of_the_program_over_one_letter_stops_no_other(outbox: DatabaseOutbox) -> None:
    """The poison letter is put off, its neighbours go."""
    mailer = FakeMailer()
    mailer.fails[LETTERS[0].key] = ZeroDivisionError("a bug")
    assert _deliver(outbox, mailer) == Delivered(sent=4, put_off=1)


def test_no_letter_is_sent_once_it_is_of_no_use(outbox: DatabaseOutbox) -> None:
    """No frost mail after dawn: it is given up with the reason, unsent."""
    dawn = AT + timedelta(hours=12)
    late = replace(LETTERS[0], key="late", message_id="<late@x>", useful_until=dawn, garden="home")
    outbox.put([late])
    mailer = FakeMailer()
    mailer.fails = {late.key: DeliveryError("451 later")}
    assert _deliver(outbox, mailer) == Delivered(sent=5, put_off=1)
    mailer.fails.clear()
    assert _deliver(outbox, mailer, dawn) == Delivered(given_up=1)
    assert late not in mailer.taken
    (unsent,) = outbox.unsent("home", AT)
    assert (unsent.subject, unsent.reason, unsent.at) == ("Frost", TOO_LATE, dawn)


def test_a_letter_is_sent_up_to_the_end_of_its_use(outbox: DatabaseOutbox) -> None:
    """A second before dawn is not after dawn."""
    dawn = AT + timedelta(hours=12)
    outbox.put([replace(LETTERS[0], key="just", useful_until=dawn)])
    assert _deliver(outbox, FakeMailer(), dawn - timedelta(seconds=1)) == Delivered(sent=6)


def test_a_letter_is_tried_more_often_as_its_end_comes_near(outbox: DatabaseOutbox) -> None:
    """A server that is back ten minutes before dawn still gets it."""
    dawn = AT + timedelta(hours=12)
    mailer = FakeMailer()
    _deliver(outbox, mailer)
    outbox.put([replace(LETTERS[0], key="frost", useful_until=dawn)])
    mailer.fails = {"frost": DeliveryError("connection refused", server=True)}
    tries = [minute for minute in range(12 * 60)
             if _deliver(outbox, mailer, AT + timedelta(minutes=minute)).put_off]  # fmt: skip
    waits = [after - before for before, after in pairwise(tries)]
    assert max(waits) <= 60
    assert tries[-1] >= 12 * 60 - 2
    for begun, wait in zip(tries, waits, strict=False):
        assert wait <= max((12 * 60 - begun) / 8, 1) + 1


class FakeBounces:
    """Notes the addresses it is told of."""

    def __init__(self) -> None:
        self.told: list[tuple[str, datetime, str]] = []

    def bounced(self, address: str, at: datetime, reply: str) -> None:
        """Note an address."""
        self.told.append((address, at, reply))


def test_an_address_that_was_refused_for_good_is_noted(outbox: DatabaseOutbox) -> None:
    """With what the server said; other refusals are not."""
    mailer, bounces = FakeMailer(), FakeBounces()
    mailer.fails[LETTERS[1].key] = DeliveryError("550 no", permanent=True, bounce="550 5.1.1 no")
    mailer.fails[LETTERS[2].key] = DeliveryError("554 spam", permanent=True)
    done = asyncio.run(deliver(outbox, mailer, FixedClock(AT), bounces=bounces))
    assert done == Delivered(sent=3, given_up=2)
    assert bounces.told == [("ada@example.org", AT, "550 5.1.1 no")]


@pytest.mark.parametrize("hands", [1, 3, 9])
def test_several_hands_send_each_letter_once(hands: int, outbox: DatabaseOutbox) -> None:
    """At the same time, and the line is hung up at the end."""
    mailer = FakeMailer()
    mailer.slow = 0.01
    done = asyncio.run(deliver(outbox, mailer, FixedClock(AT), Terms(batch=1, hands=hands)))
    assert done == Delivered(sent=5)
    assert sorted(letter.key for letter in mailer.taken) == [letter.key for letter in LETTERS]
    assert mailer.closed == 1


@pytest.mark.parametrize("hands", [1, 3])
def test_a_cancelled_delivery_finishes_the_letter_in_hand_alone(
    hands: int, outbox: DatabaseOutbox
) -> None:
    """What is in hand is sent and noted; the rest is free at once, not held by a lease."""
    mailer = FakeMailer()
    mailer.slow = 0.1

    async def cancelled() -> None:
        work = asyncio.create_task(deliver(outbox, mailer, FixedClock(AT), Terms(hands=hands)))
        while mailer.attempts < hands:
            await asyncio.sleep(0.005)
        work.cancel()
        with pytest.raises(asyncio.CancelledError):
            await work

    asyncio.run(cancelled())
    assert len(mailer.taken) == hands
    assert mailer.closed == 1
    assert outbox.depth().waiting == 5 - hands
    mailer.slow = 0
    assert _deliver(outbox, mailer) == Delivered(sent=5 - hands)
    assert sorted(letter.key for letter in mailer.taken) == [letter.key for letter in LETTERS]


def test_a_letter_that_takes_too_long_to_finish_is_left_to_its_lease(
    outbox: DatabaseOutbox,
) -> None:
    """A stop does not wait for a server that says nothing."""
    mailer = FakeMailer()
    mailer.slow = 30

    async def cancelled() -> None:
        terms = Terms(grace=timedelta(seconds=0.05))
        work = asyncio.create_task(deliver(outbox, mailer, FixedClock(AT), terms))
        while not mailer.attempts:
            await asyncio.sleep(0.005)
        work.cancel()
        with pytest.raises(asyncio.CancelledError):
            await work

    asyncio.run(cancelled())
    mailer.slow = 0
    assert _deliver(outbox, mailer) == Delivered(sent=4)
    assert _deliver(outbox, mailer, AT + Terms().lease) == Delivered(sent=1)


def test_a_delivery_that_is_to_stop_begins_no_further_letter(outbox: DatabaseOutbox) -> None:
    """And leaves the rest free for the next."""
    mailer = FakeMailer()
    terms, clock = Terms(), FixedClock(AT)
    done = asyncio.run(deliver(outbox, mailer, clock, terms, stopping=lambda: mailer.attempts == 2))
    assert done == Delivered(sent=2)
    assert _deliver(outbox, mailer) == Delivered(sent=3)


def test_a_slow_server_does_not_outlast_the_lease(
    outbox: DatabaseOutbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a third of the lease the rest of a batch is claimed anew."""
    claims: list[int] = []
    claim = outbox.claim

    def counted(at: datetime, lease: timedelta, limit: int = 100) -> tuple[Posting, ...]:
        found = claim(at, lease, limit)
        claims.append(len(found))
        return found

    monkeypatch.setattr(outbox, "claim", counted)
    mailer = FakeMailer()
    mailer.slow = 0.05
    terms = Terms(lease=timedelta(seconds=0.2))
    assert asyncio.run(deliver(outbox, mailer, FixedClock(AT), terms)) == Delivered(sent=5)
    assert mailer.taken == list(LETTERS)
    assert claims[0] == 5
    assert len(claims) > 2
