"""The feeds of readers over a database, from settings."""

from __future__ import annotations

from mebuki.clock import Clock
from mebuki.feeds.calendar import IcsWriter
from mebuki.rulebook import read_rulebook
from mebuki.settings import Settings
from mebuki.storage.database import Database
from mebuki.storage.feed_book import FeedBook


def make_feed_book(settings: Settings, database: Database, clock: Clock) -> FeedBook:
    """Return the book in which feeds are added, ended, given a new address and prepared anew."""
    practice = read_rulebook(settings.config_dir).practice
    return FeedBook(
        database,
        clock,
        IcsWriter(settings.host_name),
        kept_days=int(practice.value("agenda.cancelled_kept_days")),
    )
