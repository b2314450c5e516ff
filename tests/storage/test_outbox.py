"""The outbox: kept once, claimed by one, sent with the same bytes and Message-ID."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mebuki.clock import FixedClock
from mebuki.rounds.ports import Letter
from mebuki.storage.database import Database
from mebuki.storage.outbox import DatabaseOutbox, Depth
from tests.builders import AT

LEASE = timedelta(minutes=5)
ONE = Letter("home:frost:act:0", "ada@example.org", "<1@x>", "Frost", b"\x00\xffbytes\r\n")
TWO = replace(ONE, recipient="ben@example.org", message_id="<2@x>")


@pytest.fixture
def outbox(database: Database) -> DatabaseOutbox:
    """Return the outbox of an empty database."""
    return DatabaseOutbox(database, FixedClock(AT))


def test_a_letter_is_kept_once_as_it_was_first(outbox: DatabaseOutbox) -> None:
    """The same key and recipient again is left as it is: bytes and Message-ID stay."""
    outbox.put([ONE, TWO])
    outbox.put([])
    outbox.put([replace(ONE, content=b"other", message_id="<3@x>"), TWO])
    claimed = outbox.claim(AT, LEASE)
    assert [posting.letter for posting in claimed] == [ONE, TWO]


def test_a_letter_is_claimed_by_one_until_its_lease_ends(outbox: DatabaseOutbox) -> None:
    """A sender that died leaves it to the next, who knows that it was tried."""
    outbox.put([ONE])
    (first,) = outbox.claim(AT, LEASE)
    assert outbox.claim(AT + LEASE - timedelta(seconds=1), LEASE) == ()
    (second,) = outbox.claim(AT + LEASE, LEASE)
    assert (second.number, second.letter) == (first.number, ONE)
    assert (first.attempts, second.attempts) == (1, 2)


def test_a_sent_letter_is_never_claimed_again(outbox: DatabaseOutbox) -> None:
    """The first note counts; a second sender learns that it came too late."""
    outbox.put([ONE])
    (posting,) = outbox.claim(AT, LEASE)
    assert outbox.sent(posting.number, AT)
    assert not outbox.sent(posting.number, AT)
    assert not outbox.put_off(posting.number, AT, "late")
    assert not outbox.give_up(posting.number, AT, "late")
    outbox.put([ONE])
    assert outbox.claim(AT + timedelta(days=9), LEASE) == ()


def test_a_letter_that_was_put_off_is_due_again_later(outbox: DatabaseOutbox) -> None:
    """Others go before it."""
    outbox.put([ONE, TWO])
    first, _ = outbox.claim(AT, LEASE)
    assert outbox.put_off(first.number, AT + timedelta(hours=1), "421 try later")
    assert outbox.depth() == Depth(waiting=2, oldest=AT, given_up=0)
    assert [each.letter for each in outbox.claim(AT + LEASE, LEASE)] == [TWO]
    assert [each.letter for each in outbox.claim(AT + timedelta(hours=1), LEASE)] == [TWO, ONE]


def test_a_letter_that_was_given_up_stays_and_is_counted(outbox: DatabaseOutbox) -> None:
    """It is not tried again, and not forgotten."""
    outbox.put([ONE])
    (posting,) = outbox.claim(AT, LEASE)
    assert outbox.give_up(posting.number, AT, "550 no such user")
    assert outbox.claim(AT + timedelta(days=9), LEASE) == ()
    assert outbox.depth() == Depth(waiting=0, oldest=None, given_up=1)


def test_no_more_are_claimed_than_asked_for_oldest_first(outbox: DatabaseOutbox) -> None:
    """In the order they were put."""
    letters = [replace(ONE, key=f"k{n}") for n in range(5)]
    outbox.put(letters)
    found = [each.letter for _ in range(3) for each in outbox.claim(AT, LEASE, limit=2)]
    assert found == letters


def test_two_senders_share_the_work(database: Database) -> None:
    """Claims made at one moment by two do not overlap."""
    other = Database(database.url.render_as_string(hide_password=False))
    first, second = (DatabaseOutbox(each, FixedClock(AT)) for each in (database, other))
    first.put([replace(ONE, key=f"k{n}") for n in range(10)])
    claims = [each.number for who in (first, second, first, second)
              for each in who.claim(AT, LEASE, limit=3)]  # fmt: skip
    assert len(claims) == len(set(claims)) == 10
    other.close()
