"""Prepared feeds in the database, behind secret addresses that can be withdrawn.

Of an address only a hash is kept: who reads the database, or a backup of it,
cannot subscribe with what is found there.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.storage.database import Database
from mebuki.storage.round_tables import feed_addresses, feeds
from mebuki.storage.upsert import put

WHOLE: Final = ""
"""The variant of a feed that holds the whole garden."""

_TOKEN_BYTES: Final = 32


@dataclass(frozen=True, slots=True)
class PreparedFeed:
    """A feed as it is sent."""

    garden: str
    etag: str
    content: bytes
    changed_at: datetime


class DatabaseFeedShelf:
    """The feeds of all gardens of a database."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def put(self, garden: str, content: bytes) -> None:
        """Replace the feed of a garden, whole or not at all.

        Raises
        ------
        mebuki.errors.FaultError
            If the database cannot be written.
        """
        with self._database.write() as connection:
            put_feed(connection, garden, content, self._clock.now())

    def issue(self, garden: str, holder: str) -> str:
        """Return a new secret address part for somebody's feed; it cannot be shown again."""
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        row = {
            "token_hash": _hash(token),
            "garden": garden,
            "variant": WHOLE,
            "holder": holder,
            "issued_at": self._clock.now(),
            "revoked_at": None,
        }
        with self._database.write() as connection:
            connection.execute(sa.insert(feed_addresses), row)
        return token

    def revoke(self, garden: str, holder: str) -> int:
        """Withdraw every address of a holder; return how many there were."""
        change = (
            sa.update(feed_addresses)
            .where(
                feed_addresses.c.garden == garden,
                feed_addresses.c.holder == holder,
                feed_addresses.c.revoked_at.is_(None),
            )
            .values(revoked_at=self._clock.now())
        )
        with self._database.write() as connection:
            return connection.execute(change).rowcount

    def read(self, token: str) -> PreparedFeed | None:
        """Return the feed behind a secret address; None if the address is not, or no longer, one.

        Raises
        ------
        mebuki.errors.FaultError
            If the database cannot be read.
        """
        query = (
            sa.select(feeds.c.garden, feeds.c.etag, feeds.c.content, feeds.c.changed_at)
            .join(
                feed_addresses,
                sa.and_(
                    feeds.c.garden == feed_addresses.c.garden,
                    feeds.c.variant == feed_addresses.c.variant,
                ),
            )
            .where(
                feed_addresses.c.token_hash == _hash(token),
                feed_addresses.c.revoked_at.is_(None),
            )
        )
        with self._database.read() as connection:
            row = connection.execute(query).first()
        return None if row is None else PreparedFeed(*row)


def put_feed(
    connection: sa.Connection, garden: str, content: bytes, at: datetime, variant: str = WHOLE
) -> None:
    """Replace a feed within a transaction; the same bytes leave it as it is, date and all."""
    etag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    kept = sa.select(feeds.c.etag).where(feeds.c.garden == garden, feeds.c.variant == variant)
    if connection.scalar(kept) != etag:
        row = {"garden": garden, "variant": variant, "etag": etag, "content": content}
        put(connection, feeds, [{**row, "changed_at": at}])


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()
