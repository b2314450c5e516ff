"""Notices as readers look at them again, and who said that one was seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from pydantic import ValidationError

from mebuki.agenda.entry import Notice
from mebuki.domain.garden import Subscriber
from mebuki.errors import FaultError
from mebuki.storage.agendas import notice_shape
from mebuki.storage.consents import address_key
from mebuki.storage.database import Database
from mebuki.storage.reader_tables import acknowledgements
from mebuki.storage.round_tables import agendas, notices, outbox
from mebuki.storage.upsert import add


@dataclass(frozen=True, slots=True)
class Seen:
    """Who saw a notice, by name and kept address, and when (UTC)."""

    name: str
    address: str
    at: datetime

    def by(self, reader: Subscriber) -> bool:
        """Return whether it was this reader; two may go by one name."""
        return self.address == address_key(reader.email)


class NoticeBook:
    """The notices that were told in the gardens of a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def told(self, garden: str, key: str) -> Notice | None:
        """Return a notice by what `Notice.told` said; none where its words were not kept.

        Raises
        ------
        FaultError
            If what is kept cannot be read.
        """
        query = sa.select(notices.c.content).where(notices.c.garden == garden, notices.c.key == key)
        with self._database.read() as connection:
            content = connection.scalar(query)
        if content is None:
            return None
        try:
            return notice_shape().validate_python(content)
        except ValidationError as error:
            msg = f"a notice of the garden {garden!r} in the database is broken: {error}"
            raise FaultError(msg) from error

    def keep(self, garden: str, notice: Notice) -> None:
        """Keep the words of a notice that no plan holds; one that is kept already stays."""
        row = {
            "garden": garden,
            "key": notice.told,
            "told_at": notice.at,
            "position": None,
            "content": notice_shape().dump_python(notice, mode="json"),
        }
        with self._database.write() as connection:
            add(connection, agendas, [{"garden": garden, "at": None}])  # where no round was yet
            add(connection, notices, [row])

    def mail(self, garden: str, notice: Notice, address: str) -> bytes:
        """Return the mail of a notice to an address; empty where its bytes are not kept."""
        query = sa.select(outbox.c.content).where(
            outbox.c.key == f"{garden}:{notice.key}:{notice.revision}",
            sa.func.lower(outbox.c.recipient) == address_key(address),
        )
        with self._database.read() as connection:
            found: bytes | None = connection.scalar(query)
        return found or b""

    def acknowledge(self, garden: str, key: str, reader: Subscriber, at: datetime) -> None:
        """Note that a reader saw a notice; saying so again changes nothing."""
        row = {
            "garden": garden,
            "notice": key,
            "address": address_key(reader.email),
            "name": reader.name,
            "at": at,
        }
        with self._database.write() as connection:
            add(connection, acknowledgements, [row])

    def seen(self, garden: str, key: str) -> tuple[Seen, ...]:
        """Return who saw a notice, the first one first."""
        query = (
            sa.select(acknowledgements)
            .where(acknowledgements.c.garden == garden, acknowledgements.c.notice == key)
            .order_by(acknowledgements.c.at, acknowledgements.c.address)
        )
        with self._database.read() as connection:
            return tuple(Seen(row.name, row.address, row.at) for row in connection.execute(query))
