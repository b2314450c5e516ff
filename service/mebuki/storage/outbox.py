"""Messages kept before they are sent, in the database.

A message is known by its key and its recipient and is kept once, as the bytes
that will be sent, under the Message-ID they carry. A sender claims messages for
a while; one that dies in between leaves them to be claimed again later, with
the same bytes and the same Message-ID. A message that was sent or given up
keeps its row, so that it is never put again; its bytes go after a while.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.rounds.ports import Letter, Posting
from mebuki.storage.bounces import without_blocked
from mebuki.storage.database import Database
from mebuki.storage.round_tables import outbox
from mebuki.storage.upsert import add


@dataclass(frozen=True, slots=True)
class Depth:
    """How many messages wait, since when the oldest does, and how many were given up."""

    waiting: int
    oldest: datetime | None
    given_up: int


@dataclass(frozen=True, slots=True)
class Unsent:
    """A message that was given up: for whom, why, and when (UTC)."""

    subject: str
    recipient: str
    reason: str
    at: datetime


class DatabaseOutbox:
    """The outbox of all gardens of a database."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def put(self, letters: Sequence[Letter]) -> None:
        """Keep the letters; one that is kept already is left as it is.

        Raises
        ------
        mebuki.errors.FaultError
            If the database cannot be written; none of the letters is kept then.
        """
        with self._database.write() as connection:
            put_letters(connection, letters, self._clock.now())

    def claim(self, at: datetime, lease: timedelta, limit: int = 100) -> tuple[Posting, ...]:
        """Return messages that are due, oldest first, held for nobody else until the lease ends."""
        due = (
            sa.select(outbox.c.id)
            .where(
                outbox.c.sent_at.is_(None),
                outbox.c.given_up_at.is_(None),
                outbox.c.not_before <= at,
                sa.or_(outbox.c.lease_until.is_(None), outbox.c.lease_until <= at),
            )
            .order_by(outbox.c.not_before, outbox.c.id)
            .limit(limit)
            .with_for_update(skip_locked=True)
        )
        claimed = (
            sa.update(outbox)
            .where(outbox.c.id.in_(due.scalar_subquery()))
            .values(lease_until=at + lease, attempts=outbox.c.attempts + 1)
            .returning(outbox)
        )
        with self._database.write() as connection:
            rows = connection.execute(claimed).all()
        return tuple(
            _posting(row) for row in sorted(rows, key=lambda row: (row.not_before, row.id))
        )

    def sent(self, number: int, at: datetime) -> bool:
        """Note that a message was taken over; False if that was noted before."""
        return self._change(number, sent_at=at, lease_until=None, last_error="")

    def put_off(self, number: int, until: datetime, reason: str) -> bool:
        """Try a message again later; False if it was sent meanwhile."""
        return self._change(number, not_before=until, lease_until=None, last_error=reason)

    def give_up(self, number: int, at: datetime, reason: str) -> bool:
        """Never try a message again; it stays, with the reason."""
        return self._change(number, given_up_at=at, lease_until=None, last_error=reason)

    def depth(self) -> Depth:
        """Return how full the outbox is."""
        waits = sa.and_(outbox.c.sent_at.is_(None), outbox.c.given_up_at.is_(None))
        query = sa.select(
            sa.func.count().filter(waits),
            sa.func.min(outbox.c.put_at).filter(waits),
            sa.func.count().filter(outbox.c.given_up_at.is_not(None)),
        )
        with self._database.read() as connection:
            waiting, oldest, given_up = connection.execute(query).one()
        return Depth(waiting, oldest, given_up)

    def unsent(self, garden: str, since: datetime) -> tuple[Unsent, ...]:
        """Return the messages of a garden that were given up after a moment, oldest first."""
        columns = (outbox.c.subject, outbox.c.recipient, outbox.c.last_error, outbox.c.given_up_at)
        query = (
            sa.select(*columns)
            .where(outbox.c.garden == garden, outbox.c.given_up_at > since)
            .order_by(outbox.c.given_up_at, outbox.c.id)
        )
        with self._database.read() as connection:
            return tuple(Unsent(*row) for row in connection.execute(query))

    def tidy(self, before: datetime) -> int:
        """Empty messages that were sent or given up before a moment; return how many.

        Their rows stay, so that none of them is ever put or sent again.
        """
        change = (
            sa.update(outbox)
            .where(
                sa.or_(outbox.c.sent_at < before, outbox.c.given_up_at < before),
                sa.func.length(outbox.c.content) > 0,
            )
            .values(content=b"")
        )
        with self._database.write() as connection:
            return connection.execute(change).rowcount

    def _change(self, number: int, **values: object) -> bool:
        change = (
            sa.update(outbox)
            .where(outbox.c.id == number, outbox.c.sent_at.is_(None))
            .values(**values)
        )
        with self._database.write() as connection:
            return connection.execute(change).rowcount == 1


def put_letters(connection: sa.Connection, letters: Sequence[Letter], at: datetime) -> None:
    """Keep letters within a transaction; they are due at once unless they say later.

    Letters to addresses that no longer take mail are left out.
    """
    rows = [
        {
            "key": letter.key,
            "recipient": letter.recipient,
            "message_id": letter.message_id,
            "subject": letter.subject,
            "content": letter.content,
            "put_at": at,
            "not_before": letter.not_before or at,
            "attempts": 0,
            "last_error": "",
            "useful_until": letter.useful_until,
            "garden": letter.garden,
            "kind": letter.kind,
        }
        for letter in without_blocked(connection, letters)
    ]
    add(connection, outbox, rows, unique=("key", "recipient"))


def _posting(row: sa.Row[tuple[object, ...]]) -> Posting:
    letter = Letter(
        key=row.key,
        recipient=row.recipient,
        message_id=row.message_id,
        subject=row.subject,
        content=row.content,
        useful_until=row.useful_until,
        garden=row.garden or "",
        kind=row.kind or "",
    )
    return Posting(row.id, letter, row.attempts, row.put_at)
