"""How readers stand to their mails, for whoever runs the service: wanted, asked for, refused."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import sqlalchemy as sa

from mebuki.domain.wording import count_text, dated
from mebuki.storage.bounces import AddressBook
from mebuki.storage.consents import ASKED_AT_MOST, NOTHING_KNOWN, Consent, Consents, address_key
from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import subscribers


@dataclass(frozen=True, slots=True)
class ReaderStanding:
    """A reader of a garden, and what is known of the address.

    Parameters
    ----------
    blocked
        Whether the address refuses mail.
    """

    garden: str
    name: str
    address: str
    consent: Consent
    blocked: bool

    @property
    def silent(self) -> bool:
        """Whether nothing is sent since no answer came yet."""
        return self.consent.confirmed_at is None and self.consent.left_at is None

    @property
    def words(self) -> str:
        """The same in a sentence without its beginning."""
        said = _said(self.consent)
        return f"{said}; the address refuses mail" if self.blocked else said


def reader_standings(database: Database) -> Iterator[ReaderStanding]:
    """Yield every reader of every garden, by garden, in the order of its file."""
    query = sa.select(subscribers).order_by(subscribers.c.garden_id, subscribers.c.position)
    with database.read() as connection:
        rows = connection.execute(query).all()
    known, blocked = Consents(database).everybody(), AddressBook(database).all_blocked()
    for row in rows:
        address = address_key(row.email)
        consent = known.get((row.garden_id, address), NOTHING_KNOWN)
        yield ReaderStanding(row.garden_id, row.name, row.email, consent, address in blocked)


def _said(consent: Consent) -> str:
    if consent.left_at is not None:
        return f"stopped all mails on {dated(consent.left_at.date())}"
    if consent.confirmed_at is not None:
        but = f", but none about: {', '.join(consent.left_kinds)}" if consent.left_kinds else ""
        return f"wants mails since {dated(consent.confirmed_at.date())}{but}"
    if consent.asked_at is None:
        return "is asked in the next round, and gets no mail before the answer"
    asked = (
        f"was asked {count_text(consent.asks, 'time')}, last on {dated(consent.asked_at.date())}"
    )
    over = "; is not asked any more" if consent.asks >= ASKED_AT_MOST else ""
    return f"{asked}, and has not answered: gets no mail{over}"
