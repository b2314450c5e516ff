"""Addresses that no longer take mail: noted from what servers answer, left alone after a while.

A server that keeps being asked for people it does not have comes to take the
sender for a spammer, and then nobody's mail arrives. So an address is blocked
once a server said that there is no such, or once it was refused for good on
three days. The status codes are those of RFC 3463; 5.1.7 and 5.1.8 speak of the
sender's address and count as any other refusal does.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Final

import sqlalchemy as sa

from mebuki.rounds.ports import Letter
from mebuki.storage.column_types import YES
from mebuki.storage.consents import address_key
from mebuki.storage.database import Database
from mebuki.storage.round_tables import bounces
from mebuki.storage.upsert import put

BLOCKED_AFTER_DAYS: Final = 3
"""On so many days an address must be refused before it is left alone (default)."""

FORGOTTEN_AFTER: Final = timedelta(days=60)
"""A refusal after so long a time without one counts as the first (default)."""

REPLY_KEPT: Final = 500
"""Signs of a server's answer that are kept."""

_NO_SUCH_ADDRESS: Final = re.compile(r"(?<![\d.])5\.1\.(?!(?:7|8)(?!\d))\d{1,3}(?![\d.])")


class AddressBook:
    """What a database knows of addresses that refuse mail."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def bounced(self, address: str, at: datetime, reply: str) -> None:
        """Note that a server refused an address for good, with what it answered."""
        key = address_key(address)
        query = sa.select(bounces).where(bounces.c.address == key)
        with self._database.write() as connection:
            known = connection.execute(query).one_or_none()
            forgotten = known is None or at - known.last_at > FORGOTTEN_AFTER
            seen = [] if known is None or forgotten else [known]
            row = {
                "address": key,
                "times": 1 + sum(one.times for one in seen),
                "days": 1 + sum(one.days - _same_day(one.last_at, at) for one in seen),
                "first_at": next((one.first_at for one in seen), at),
                "last_at": max([at, *(one.last_at for one in seen)]),
                "last_reply": reply.replace("\x00", " ")[:REPLY_KEPT],
                "gone": says_no_such_address(reply) or any(one.gone for one in seen),
            }
            put(connection, bounces, [row])

    def cleared(self, address: str) -> bool:
        """Forget what was noted, as when its owner confirmed it; False if there was nothing."""
        query = sa.delete(bounces).where(bounces.c.address == address_key(address))
        with self._database.write() as connection:
            return connection.execute(query).rowcount == 1

    def blocked(self, address: str) -> bool:
        """Return whether nothing should be sent to an address."""
        query = sa.select(sa.exists().where(bounces.c.address == address_key(address), _blocks()))
        with self._database.read() as connection:
            return bool(connection.scalar(query))

    def all_blocked(self) -> frozenset[str]:
        """Return every address, as it is kept, to which nothing should be sent."""
        with self._database.read() as connection:
            return frozenset(connection.scalars(sa.select(bounces.c.address).where(_blocks())))


def without_blocked(connection: sa.Connection, letters: Sequence[Letter]) -> tuple[Letter, ...]:
    """Return the letters whose recipients still take mail, within a transaction."""
    keys = {address_key(letter.recipient) for letter in letters}
    if not keys:
        return ()
    query = sa.select(bounces.c.address).where(bounces.c.address.in_(sorted(keys)), _blocks())
    blocked = set(connection.scalars(query))
    return tuple(letter for letter in letters if address_key(letter.recipient) not in blocked)


def says_no_such_address(reply: str) -> bool:
    """Return whether a server's answer says that the address does not exist (RFC 3463, 5.1.x).

    >>> says_no_such_address("550 5.1.1 unknown user"), says_no_such_address("550 unknown user")
    (True, False)
    """
    return _NO_SUCH_ADDRESS.search(reply) is not None


def _blocks() -> sa.ColumnElement[bool]:
    return sa.or_(bounces.c.gone == YES, bounces.c.days >= BLOCKED_AFTER_DAYS)


def _same_day(one: datetime, other: datetime) -> bool:
    return one.astimezone(UTC).date() == other.astimezone(UTC).date()
