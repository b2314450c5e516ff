"""Readers who have not said yet whether they want mails are asked, seldom."""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from datetime import datetime

from mebuki.agenda.audience import quiet_end
from mebuki.domain.garden import Garden
from mebuki.errors import InputError
from mebuki.mail.confirmation import ConfirmationWriter
from mebuki.rounds.ports import Outbox
from mebuki.storage.bounces import AddressBook
from mebuki.storage.consents import NOTHING_KNOWN, Consents, address_key

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Asking:
    """Asks the readers of gardens whether they want mails."""

    consents: Consents
    outbox: Outbox
    writer: ConfirmationWriter
    addresses: AddressBook

    def ask(self, garden: Garden, at: datetime) -> int:
        """Put out the mails that ask; return how many.

        An address that refuses mail is not asked, and one that no mail can be written to
        stands in nobody's way.

        A letter is kept under its number before it is noted that its reader was asked, so
        that a process that ends in between asks once all the same.

        Raises
        ------
        mebuki.errors.FaultError
            If the database cannot be read or written.
        """
        known = self.consents.of_garden(garden.id)
        asked = 0
        for reader in garden.subscribers:
            consent = known.get(address_key(reader.email), NOTHING_KNOWN)
            if not consent.may_be_asked(at) or self.addresses.blocked(reader.email):
                continue
            try:
                letter = self.writer.write(garden, reader, at, consent.asks + 1)
            except InputError:
                log.exception("a reader of %s cannot be asked", garden.id)
                continue
            waits = quiet_end(reader, garden.site.zone, at)
            self.outbox.put([replace(letter, not_before=waits)])
            asked += self.consents.ask(garden.id, reader.email, at)
        return asked
