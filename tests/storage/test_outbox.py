"""The outbox: kept once, claimed by one, sent with the same bytes and Message-ID."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mebuki.clock import FixedClock
from mebuki.rounds.ports import Letter
from mebuki.storage.database import Database
from mebuki.storage.outbox import DatabaseOutbox, Depth, Unsent
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


def test_a_letter_keeps_what_it_is_about_and_until_when_it_is_of_use(
    outbox: DatabaseOutbox,
) -> None:
    """Garden, kind and the end of its use come back with it."""
    letter = replace(ONE, garden="home", kind="frost", useful_until=AT + timedelta(hours=9))
    outbox.put([letter])
    (posting,) = outbox.claim(AT, LEASE)
    assert posting.letter == letter


def test_a_letter_for_later_is_not_due_before(outbox: DatabaseOutbox) -> None:
    """Its own moment counts, not that of putting it."""
    later = AT + timedelta(hours=9)
    outbox.put([replace(ONE, not_before=later), TWO])
    assert [each.letter for each in outbox.claim(later - timedelta(seconds=1), LEASE)] == [TWO]
    (posting,) = outbox.claim(later, LEASE)
    assert (posting.letter, posting.put_at) == (ONE, AT)


def test_what_could_not_be_sent_is_listed_by_garden_since_a_moment(
    outbox: DatabaseOutbox,
) -> None:
    """Oldest first; sent, waiting and other gardens' letters are not in it."""
    letters = [replace(ONE, key=f"k{n}", subject=f"Frost {n}", garden="home") for n in range(5)]
    outbox.put([*letters, replace(ONE, key="away", garden="away"), replace(ONE, key="none")])
    numbers = [posting.number for posting in outbox.claim(AT, LEASE)]
    for hours, number in ((3, 0), (1, 1), (2, 2), (4, 5), (5, 6)):
        outbox.give_up(numbers[number], AT + timedelta(hours=hours), f"reason {number}")
    outbox.sent(numbers[3], AT + timedelta(hours=6))
    hour = timedelta(hours=1)
    third = Unsent("Frost 0", "ada@example.org", "reason 0", AT + 3 * hour)
    second = Unsent("Frost 2", "ada@example.org", "reason 2", AT + 2 * hour)
    assert outbox.unsent("home", AT + hour) == (second, third)
    assert outbox.unsent("home", AT + 3 * hour) == ()


def test_old_letters_lose_their_bytes_and_keep_their_rows(outbox: DatabaseOutbox) -> None:
    """What waits keeps its bytes however old; nothing that was sent is ever put again."""
    three = replace(ONE, key="k3")
    outbox.put([ONE, TWO, three])
    first, second, _ = outbox.claim(AT, LEASE)
    outbox.sent(first.number, AT)
    outbox.give_up(second.number, AT, "550 no such user")
    later = AT + timedelta(days=60)
    assert outbox.tidy(AT) == 0
    assert outbox.tidy(later) == 2
    assert outbox.tidy(later) == 0
    outbox.put([ONE, TWO])
    assert [each.letter for each in outbox.claim(later, LEASE)] == [three]
    assert outbox.depth() == Depth(waiting=1, oldest=AT, given_up=1)
