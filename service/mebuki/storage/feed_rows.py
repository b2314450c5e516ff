"""Prepared feeds in the database, behind secret addresses that can be withdrawn.

Of an address only a hash is kept: who reads the database, or a backup of it,
cannot subscribe with what is found there.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.domain.feed import WHOLE_FEED, FeedChoice, Revoked
from mebuki.storage.database import Database
from mebuki.storage.round_tables import feed_addresses, feed_choices, feed_credits, feeds
from mebuki.storage.upsert import put

SECOND: Final = timedelta(seconds=1)

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
        """Replace the feed of a whole garden, whole or not at all.

        Raises
        ------
        mebuki.errors.FaultError
            If the database cannot be written.
        """
        with self._database.write() as connection:
            put_feeds(connection, garden, {WHOLE_FEED: content}, self._clock.now())

    def issue(self, garden: str, holder: str, variant: str = WHOLE_FEED) -> str:
        """Return a new secret address part for somebody's feed; it cannot be shown again."""
        with self._database.write() as connection:
            return issue_address(connection, (garden, variant), holder, self._clock.now())

    def revoke(self, garden: str, holder: str) -> int:
        """Withdraw every address of a holder; return how many there were."""
        with self._database.write() as connection:
            mine = (feed_addresses.c.garden == garden, feed_addresses.c.holder == holder)
            return revoke_addresses(connection, self._clock.now(), *mine)

    def read(self, token: str) -> PreparedFeed | Revoked | None:
        """Return the feed behind a secret address; None if it is, or was, no address.

        The address is looked up by its hash: how long that takes tells nothing of
        an address that is one.

        Raises
        ------
        mebuki.errors.FaultError
            If the database cannot be read.
        """
        wanted = _hash(token)
        query = (
            sa.select(
                feed_addresses.c.token_hash,
                feed_addresses.c.revoked_at,
                feeds.c.garden,
                feeds.c.etag,
                feeds.c.content,
                feeds.c.changed_at,
            )
            .join(
                feeds,
                sa.and_(
                    feeds.c.garden == feed_addresses.c.garden,
                    feeds.c.variant == feed_addresses.c.variant,
                ),
                isouter=True,
            )
            .where(feed_addresses.c.token_hash == wanted)
        )
        with self._database.read() as connection:
            row = connection.execute(query).first()
        if row is None or not hmac.compare_digest(row.token_hash, wanted):
            return None
        if row.revoked_at is not None:
            return Revoked()
        return None if row.garden is None else PreparedFeed(*row[2:])


def put_feeds(
    connection: sa.Connection, garden: str, prepared: Mapping[str, bytes], at: datetime
) -> None:
    """Replace feeds, by variant, within a transaction.

    The same bytes stay as they are, date and all. Other bytes have a later date,
    by the whole seconds that HTTP knows, even if they belong to an earlier moment.
    """
    query = sa.select(feeds.c.variant, feeds.c.etag, feeds.c.changed_at).where(
        feeds.c.garden == garden
    )
    kept = {row.variant: (row.etag, row.changed_at) for row in connection.execute(query)}
    rows = []
    for variant, content in prepared.items():
        tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
        before, changed_at = kept.get(variant, ("", at - SECOND))
        if before != tag:
            row = {"garden": garden, "variant": variant, "etag": tag, "content": content}
            rows.append({**row, "changed_at": max(at, changed_at + SECOND)})
    put(connection, feeds, rows)


def chosen_feeds(connection: sa.Connection, garden: str) -> dict[str, FeedChoice]:
    """Return the choices of a garden's feeds that have not ended, by variant."""
    query = (
        sa.select(feed_choices.c.variant, feed_choices.c.choice)
        .where(feed_choices.c.garden == garden, feed_choices.c.ended_at.is_(None))
        .order_by(feed_choices.c.variant)
    )
    return {row.variant: FeedChoice.model_validate(row.choice) for row in connection.execute(query)}


def put_credits(connection: sa.Connection, garden: str, credits_: Sequence[str]) -> None:
    """Keep whom the weather of the newest round is owed to."""
    put(connection, feed_credits, [{"garden": garden, "credits": list(credits_)}])


def credits_of(connection: sa.Connection, garden: str) -> tuple[str, ...]:
    """Return whom the weather of the newest round is owed to."""
    query = sa.select(feed_credits.c.credits).where(feed_credits.c.garden == garden)
    return tuple(connection.scalar(query) or ())


def issue_address(
    connection: sa.Connection, feed: tuple[str, str], holder: str, at: datetime
) -> str:
    """Return a new secret address part for a feed (garden, variant), within a transaction."""
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    garden, variant = feed
    row = {
        "token_hash": _hash(token),
        "garden": garden,
        "variant": variant,
        "holder": holder,
        "issued_at": at,
        "revoked_at": None,
    }
    connection.execute(sa.insert(feed_addresses), row)
    return token


def revoke_addresses(
    connection: sa.Connection, at: datetime, *which: sa.ColumnElement[bool]
) -> int:
    """Withdraw the addresses that conditions name, within a transaction; return how many."""
    change = (
        sa.update(feed_addresses)
        .where(feed_addresses.c.revoked_at.is_(None), *which)
        .values(revoked_at=at)
    )
    return connection.execute(change).rowcount


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()
