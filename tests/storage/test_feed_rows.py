"""Feeds in the database: prepared bytes behind secret addresses."""

from __future__ import annotations

from datetime import timedelta

import pytest
import sqlalchemy as sa

from mebuki.clock import FixedClock
from mebuki.domain.feed import Revoked
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf, PreparedFeed
from mebuki.storage.round_tables import feed_addresses
from tests.builders import AT


@pytest.fixture
def shelf(database: Database) -> DatabaseFeedShelf:
    """Return the feeds of an empty database."""
    return DatabaseFeedShelf(database, FixedClock(AT))


def test_a_feed_is_found_by_its_secret_address_alone(shelf: DatabaseFeedShelf) -> None:
    """Each holder has an address of their own; any other one is none."""
    shelf.put("home", b"\x00feed")
    shelf.put("away", b"other")
    ada, ben = shelf.issue("home", "ada"), shelf.issue("home", "ben")
    assert ada != ben
    for token in (ada, ben):
        feed = shelf.read(token)
        assert isinstance(feed, PreparedFeed)
        assert (feed.garden, feed.content, feed.changed_at) == ("home", b"\x00feed", AT)
    for wrong in ("", "home", ada[:-1], ada.upper(), "é\ud800"):
        assert shelf.read(wrong) is None


def test_the_address_itself_is_not_in_the_database(
    database: Database, shelf: DatabaseFeedShelf
) -> None:
    """Who reads a backup cannot subscribe; the address is long enough not to be guessed."""
    token = shelf.issue("home", "ada")
    with database.read() as connection:
        (row,) = connection.execute(sa.select(feed_addresses))
    assert token not in str(row)
    assert len(token) >= 43


def test_a_withdrawn_address_leads_nowhere(shelf: DatabaseFeedShelf) -> None:
    """It says that it was ended; the others of the garden stay."""
    shelf.put("home", b"feed")
    ada, ben = shelf.issue("home", "ada"), shelf.issue("home", "ben")
    assert shelf.revoke("home", "ada") == 1
    assert shelf.revoke("home", "ada") == 0
    assert shelf.read(ada) == Revoked()
    assert isinstance(shelf.read(ben), PreparedFeed)
    assert isinstance(shelf.read(shelf.issue("home", "ada")), PreparedFeed)


def test_an_address_given_before_the_first_round_has_no_feed_yet(shelf: DatabaseFeedShelf) -> None:
    """And has one afterwards."""
    token = shelf.issue("home", "ada")
    assert shelf.read(token) is None
    shelf.put("home", b"feed")
    assert shelf.read(token) is not None


def test_the_tag_changes_with_the_bytes_alone(database: Database, shelf: DatabaseFeedShelf) -> None:
    """The same bytes later keep tag and date; other bytes get new ones."""
    later = DatabaseFeedShelf(database, FixedClock(AT + timedelta(days=1)))
    token = shelf.issue("home", "ada")
    shelf.put("home", b"one")
    first = shelf.read(token)
    later.put("home", b"one")
    same = shelf.read(token)
    later.put("home", b"two")
    second = shelf.read(token)
    assert isinstance(first, PreparedFeed)
    assert isinstance(second, PreparedFeed)
    assert same == first
    assert second.etag != first.etag
    assert second.changed_at - first.changed_at == timedelta(days=1)


def test_other_bytes_always_have_a_later_date(shelf: DatabaseFeedShelf) -> None:
    """Even within one second: a program that asks by date must not keep the old ones."""
    token = shelf.issue("home", "ada")
    dates = []
    for content in (b"one", b"two", b"one"):
        shelf.put("home", content)
        feed = shelf.read(token)
        assert isinstance(feed, PreparedFeed)
        dates.append(feed.changed_at)
    assert dates == [AT, AT + timedelta(seconds=1), AT + timedelta(seconds=2)]
