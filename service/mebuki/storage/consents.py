"""Who wants mails: nobody is written to before the owner of an address has said so.

A consent belongs to a garden and an address, so another address has to be confirmed
anew. It does not matter who put the address down: a subscriber of a garden file or of an
older database is asked too, once, and again a few times where no answer comes.

Who left stays away until the same person comes back; being asked again, importing the
garden again, or an old link to confirm changes nothing in that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa

from mebuki.domain.garden import Subscriber
from mebuki.rounds.ports import QUESTION
from mebuki.storage.database import Database
from mebuki.storage.reader_tables import consents
from mebuki.storage.round_tables import outbox
from mebuki.storage.upsert import put

ASKED_AGAIN_AFTER: Final = timedelta(days=7)
ASKED_AT_MOST: Final = 3
"""When and how often an address is asked that does not answer (design default)."""


@dataclass(frozen=True, slots=True)
class Consent:
    """What is known of the wish of one address for one garden.

    Parameters
    ----------
    asks, asked_at
        How often it was asked, and when last (UTC).
    confirmed_at, left_at
        Since when it wants mails, and since when none any more; none if never.
    left_kinds
        Kinds of notice it does not want, as `mebuki.agenda.audience.notice_kind` names them.
    """

    asks: int = 0
    asked_at: datetime | None = None
    confirmed_at: datetime | None = None
    left_at: datetime | None = None
    left_kinds: tuple[str, ...] = ()

    @property
    def wants_mail(self) -> bool:
        """Whether mails may be sent at all."""
        return self.confirmed_at is not None and self.left_at is None

    def may(self, kind: str) -> bool:
        """Return whether a notice of a kind may be sent."""
        return self.wants_mail and kind not in self.left_kinds

    def may_be_asked(self, at: datetime) -> bool:
        """Return whether a mail that asks for confirmation may go out."""
        if self.confirmed_at is not None or self.left_at is not None or self.asks >= ASKED_AT_MOST:
            return False
        return self.asked_at is None or at - self.asked_at >= ASKED_AGAIN_AFTER


NOTHING_KNOWN: Final = Consent()


class Consents:
    """The consents of a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def state(self, garden: str, address: str) -> Consent:
        """Return what is known of an address; nothing where it was never asked."""
        with self._database.read() as connection:
            row = connection.execute(_query(garden, address)).one_or_none()
        return NOTHING_KNOWN if row is None else _consent(row)

    def of_garden(self, garden: str) -> Mapping[str, Consent]:
        """Return the consents of a garden by address, in lower case."""
        query = sa.select(consents).where(consents.c.garden == garden)
        with self._database.read() as connection:
            return {row.address: _consent(row) for row in connection.execute(query)}

    def ask(self, garden: str, address: str, at: datetime) -> bool:
        """Note that an address is asked now; False, and nothing changes, if it may not be."""
        with self._database.write() as connection:
            known = _load(connection, garden, address)
            if not known.may_be_asked(at):
                return False
            _keep(connection, garden, address, known, asks=known.asks + 1, asked_at=at)
        return True

    def ask_anew(self, garden: str, address: str) -> bool:
        """Forget that an address was asked, so that it is asked again; False if it answered.

        The letters that asked are forgotten too: their keys stand in the way of new ones.
        """
        with self._database.write() as connection:
            known = _load(connection, garden, address)
            if known.confirmed_at is not None or known.left_at is not None:
                return False
            _keep(connection, garden, address, known, asks=0, asked_at=None)
            asked = (
                outbox.c.garden == garden,
                outbox.c.kind == QUESTION,
                sa.func.lower(outbox.c.recipient) == address_key(address),
            )
            connection.execute(sa.delete(outbox).where(*asked))
        return True

    def confirm(self, garden: str, address: str, at: datetime) -> bool:
        """Note that an address wants mails; False if it left, which stays as it is."""
        with self._database.write() as connection:
            known = _load(connection, garden, address)
            if known.left_at is not None:
                return False
            if known.confirmed_at is None:
                _keep(connection, garden, address, known, confirmed_at=at)
        return True

    def leave(self, garden: str, address: str, at: datetime, kind: str = "") -> None:
        """Note that an address wants no mails of a kind, or (empty) none at all.

        What waits for it in the outbox is taken out with the same step.
        """
        with self._database.write() as connection:
            known = _load(connection, garden, address)
            if not kind and known.left_at is None:
                _keep(connection, garden, address, known, left_at=at)
            elif kind and kind not in known.left_kinds:
                left = sorted({*known.left_kinds, kind})
                _keep(connection, garden, address, known, left_kinds=left)
            _take_out(connection, garden, address, (kind, at))

    def rejoin(self, garden: str, address: str, at: datetime, kind: str = "") -> None:
        """Note that an address wants mails of a kind again, or (empty) mails at all.

        Whoever has the link to leave gets the mails, so this confirms the address.
        """
        with self._database.write() as connection:
            known = _load(connection, garden, address)
            if kind:
                left = [each for each in known.left_kinds if each != kind]
                _keep(connection, garden, address, known, left_kinds=left)
            else:
                since = known.confirmed_at or at
                _keep(connection, garden, address, known, left_at=None, confirmed_at=since)

    def everybody(self) -> Mapping[tuple[str, str], Consent]:
        """Return all consents by garden and address, in lower case."""
        with self._database.read() as connection:
            rows = connection.execute(sa.select(consents))
            return {(row.garden, row.address): _consent(row) for row in rows}


class ConsentDoor:
    """Lets notices through to those alone who want them."""

    def __init__(self, consents: Consents) -> None:
        self._consents = consents

    def of(self, garden: str) -> GardenDoor:
        """Return the door to the readers of a garden, as of now."""
        return GardenDoor(self._consents.of_garden(garden))


@dataclass(frozen=True, slots=True)
class GardenDoor:
    """The door to the readers of one garden, by address in lower case."""

    consents: Mapping[str, Consent]

    def may(self, reader: Subscriber, kind: str) -> bool:
        """Return whether a notice of a kind may be sent to a reader."""
        return self.consents.get(address_key(reader.email), NOTHING_KNOWN).may(kind)


def address_key(address: str) -> str:
    """Return an address as it is kept; servers that tell Ada from ada are not met any more.

    >>> address_key(" Ada@Example.org")
    'ada@example.org'
    """
    return address.strip().lower()


def _query(garden: str, address: str) -> sa.Select[Any]:
    return sa.select(consents).where(
        consents.c.garden == garden, consents.c.address == address_key(address)
    )


def _load(connection: sa.Connection, garden: str, address: str) -> Consent:
    """Return what is known within a transaction that may change it."""
    row = connection.execute(_query(garden, address).with_for_update()).one_or_none()
    return NOTHING_KNOWN if row is None else _consent(row)


def _consent(row: sa.Row[Any]) -> Consent:
    return Consent(row.asks, row.asked_at, row.confirmed_at, row.left_at, tuple(row.left_kinds))


def _keep(
    connection: sa.Connection, garden: str, address: str, known: Consent, **changes: object
) -> None:
    row = {
        "garden": garden,
        "address": address_key(address),
        "asks": known.asks,
        "asked_at": known.asked_at,
        "confirmed_at": known.confirmed_at,
        "left_at": known.left_at,
        "left_kinds": list(known.left_kinds),
    }
    put(connection, consents, [row | changes])


def _take_out(
    connection: sa.Connection, garden: str, address: str, which: tuple[str, datetime]
) -> None:
    """Take letters that wait out of the outbox; one that is being sent is out of reach."""
    kind, at = which
    waiting = [
        outbox.c.garden == garden,
        sa.func.lower(outbox.c.recipient) == address_key(address),
        outbox.c.sent_at.is_(None),
        outbox.c.given_up_at.is_(None),
        sa.or_(outbox.c.lease_until.is_(None), outbox.c.lease_until <= at),
    ]
    if kind:
        waiting.append(outbox.c.kind == kind)
    connection.execute(sa.delete(outbox).where(*waiting))
