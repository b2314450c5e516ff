"""Addresses that refuse mail: left alone in time, and not too soon."""

from __future__ import annotations

from datetime import timedelta

import pytest

from mebuki.rounds.ports import Letter
from mebuki.storage.bounces import AddressBook, says_no_such_address, without_blocked
from mebuki.storage.database import Database
from tests.builders import AT

ADA, BEN = "ada@example.org", "ben@example.org"
FULL = "552 5.2.2 mailbox full"
DAY = timedelta(days=1)


@pytest.fixture
def book(database: Database) -> AddressBook:
    """Return an empty address book."""
    return AddressBook(database)


def test_an_address_that_does_not_exist_is_blocked_at_once(book: AddressBook) -> None:
    """The server said so (5.1.1); others are not touched."""
    book.bounced(ADA, AT, "550 5.1.1 no such user")
    assert book.blocked(ADA)
    assert book.blocked("Ada@Example.ORG")
    assert not book.blocked(BEN)


def test_other_refusals_block_on_the_third_day(book: AddressBook) -> None:
    """Ten in a day are one day; a mailbox may be full for a while."""
    for hour in range(10):
        book.bounced(ADA, AT + timedelta(hours=hour), FULL)
    book.bounced(ADA, AT + DAY, FULL)
    assert not book.blocked(ADA)
    book.bounced(ADA, AT + 2 * DAY, FULL)
    assert book.blocked(ADA)


def test_refusals_of_long_ago_are_forgotten(book: AddressBook) -> None:
    """Two in spring and one in autumn are three first ones."""
    for days in (0, 1, 100, 101):
        book.bounced(ADA, AT + days * DAY, FULL)
    assert not book.blocked(ADA)
    book.bounced(ADA, AT + 102 * DAY, FULL)
    assert book.blocked(ADA)


def test_an_address_that_was_confirmed_again_starts_anew(book: AddressBook) -> None:
    """What was noted is gone."""
    book.bounced(ADA, AT, "550 5.1.1 no such user")
    assert book.cleared(ADA)
    assert not book.blocked(ADA)
    assert not book.cleared(ADA)


def test_letters_to_blocked_addresses_are_left_out(book: AddressBook, database: Database) -> None:
    """The others stay, in their order."""
    book.bounced(ADA, AT, "550 5.1.1 no such user")
    letters = [Letter(f"k{n}", who, f"<{n}@x>", "s", b"") for n, who in enumerate((BEN, ADA, BEN))]
    with database.read() as connection:
        assert without_blocked(connection, letters) == (letters[0], letters[2])
        assert without_blocked(connection, []) == ()


@pytest.mark.parametrize(
    ("reply", "says"),
    [
        ("550 5.1.1 <ada@example.org>: unknown", True),
        ("556 5.1.10 takes no mail at all", True),
        ("550 user unknown", False),
        ("550 5.7.1 not wanted", False),
        ("553 5.1.8 sender's address unknown", False),
        ("553 5.1.7 bad sender", False),
        ("550 refused by 10.5.1.1", False),
    ],
)
def test_only_status_5_1_speaks_of_an_address_that_is_not_there(reply: str, says: bool) -> None:
    """RFC 3463, section 3.2, and RFC 7505 for 5.1.10; 5.1.7 and 5.1.8 are the sender's."""
    assert says_no_such_address(reply) == says


def test_an_answer_of_any_length_and_kind_is_kept_in_part(book: AddressBook) -> None:
    """A server may say what it likes."""
    book.bounced(ADA, AT, "550 \x00" + "x" * 10_000)
    assert not book.blocked(ADA)
