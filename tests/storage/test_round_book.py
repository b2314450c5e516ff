"""The book of rounds: each once for its garden and nominal moment."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mebuki.clock import FixedClock
from mebuki.storage.database import Database
from mebuki.storage.round_book import RoundBook, RoundId
from tests.builders import AT

ROUND = RoundId("plan", "home", AT)


@pytest.fixture
def book(database: Database) -> RoundBook:
    """Return the book of an empty database."""
    return RoundBook(database, FixedClock(AT))


def test_a_finished_round_is_not_begun_again(book: RoundBook) -> None:
    """For ever; the same moment of another garden or kind is another round."""
    assert book.begin(ROUND)
    assert not book.done(ROUND)
    book.finish(ROUND)
    assert book.done(ROUND)
    assert not book.begin(ROUND)
    assert book.begin(replace(ROUND, garden="away"))
    assert book.begin(replace(ROUND, round="look"))
    assert book.begin(replace(ROUND, nominal=AT + timedelta(hours=1)))


def test_a_round_that_was_cut_short_is_begun_again(book: RoundBook) -> None:
    """Nothing but its end makes it done."""
    assert book.begin(ROUND)
    assert book.begin(ROUND)
    assert not book.done(ROUND)


def test_the_newest_finished_round_is_told(book: RoundBook) -> None:
    """By kind, and by garden where asked; one under way does not count."""
    assert book.newest("plan") is None
    for hours, garden in ((0, "home"), (1, "away"), (2, "home")):
        which = RoundId("plan", garden, AT + timedelta(hours=hours))
        book.begin(which)
        if hours < 2:
            book.finish(which)
    assert book.newest("plan") == AT + timedelta(hours=1)
    assert book.newest("plan", "home") == AT
    assert book.newest("look") is None
