"""Secrets that the service makes for itself, once, and keeps with its data.

They go with every backup, so that links in old mails still work after a restore.
"""

from __future__ import annotations

import secrets
from typing import Final

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.storage.database import Database
from mebuki.storage.reader_tables import keys
from mebuki.storage.upsert import add

LINKS: Final = "links"
_BYTES: Final = 32


def link_key(database: Database, clock: Clock) -> str:
    """Return the key that signs the links in mails; it is made the first time.

    Two processes that ask for the first time at once are given the same one.

    Raises
    ------
    FaultError
        If the database cannot be read or written.
    """
    query = sa.select(keys.c.secret).where(keys.c.name == LINKS)
    with database.read() as connection:
        found: str | None = connection.scalar(query)
    if found is not None:
        return found
    made = {"name": LINKS, "secret": secrets.token_urlsafe(_BYTES), "made_at": clock.now()}
    with database.write() as connection:
        add(connection, keys, [made])
    with database.read() as connection:
        kept: str = connection.execute(query).scalar_one()
    return kept
