"""Links in mails: each names one thing that one reader may do, and is signed.

A link carries a garden, a reader, what it is about and until when it holds, and a
signature over all of it with a key of the service. The reader stands in it as a keyed
digest, never as an address. The purpose is part of the signature, so that a link made
to look at something cannot be turned into one that changes something.

Links are made from the notice alone: the same notice and reader give the same link,
and with it the same bytes of a mail.
"""

from __future__ import annotations

import hashlib
import hmac
from base64 import urlsafe_b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from typing import Final, Protocol

from itsdangerous import BadData, URLSafeSerializer

from mebuki.agenda.entry import Notice
from mebuki.domain.garden import Garden, Subscriber
from mebuki.errors import InputError

PREFIX: Final = "/m/"
"""How the paths of links begin; logs leave out what follows."""

LONGEST_TOKEN: Final = 1500
SHORTEST_KEY: Final = 16
"""Signs of a key, at least."""

_EPOCH: Final = date(1970, 1, 1)


class Purpose(StrEnum):
    """What a link is for."""

    SEE = "see"
    ACKNOWLEDGE = "acknowledge"
    RECORD = "record"
    LEAVE = "leave"
    CONFIRM = "confirm"
    SCORES = "scores"


HOLDS: Final[Mapping[Purpose, timedelta | None]] = {
    Purpose.SEE: timedelta(days=60),
    Purpose.ACKNOWLEDGE: timedelta(days=7),
    Purpose.RECORD: timedelta(days=30),
    Purpose.LEAVE: None,
    Purpose.CONFIRM: timedelta(days=14),
    Purpose.SCORES: timedelta(days=60),
}
"""How long links hold; one that lets a reader leave holds for ever (design default)."""


class Links(Protocol):
    """Who knows the addresses that a mail links to; all of them are absolute."""

    def see(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a notice can be looked at."""
        ...

    def acknowledge(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a reader says that a notice was seen and is taken care of."""
        ...

    def record(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a reader records what was done."""
        ...

    def scores(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a reader sees how earlier warnings turned out."""
        ...

    def leave(self, garden: Garden, to: Subscriber, kind: str = "") -> str:
        """Return where a reader leaves, for a kind of notice or (empty) for all of a garden.

        A kind is what `mebuki.agenda.audience.notice_kind` says. The address takes the one
        click of RFC 8058.
        """
        ...

    def confirm(self, garden: Garden, to: Subscriber, asked_at: datetime) -> str:
        """Return where a reader confirms an address."""
        ...


class LinkError(InputError):
    """A link cannot be used.

    Parameters
    ----------
    expired
        Whether it was good once.
    """

    def __init__(self, reason: str, *, expired: bool = False) -> None:
        self.expired = expired
        super().__init__(reason)


@dataclass(frozen=True, slots=True)
class Ticket:
    """What a link carries.

    Parameters
    ----------
    reader
        The digest of the reader, as `Signer.reader` has it.
    about
        A notice (`Notice.told`), a kind of notice, or nothing.
    last_day
        The last day on which it holds (UTC); none if it holds for ever.
    """

    purpose: Purpose
    garden: str
    reader: str
    about: str = ""
    last_day: date | None = None


class Signer:
    """Makes and reads the tokens of links.

    Parameters
    ----------
    key
        The secret of the service, of 16 signs or more.

    Raises
    ------
    InputError
        If the key is too short to be a secret.
    """

    def __init__(self, key: str) -> None:
        if len(key) < SHORTEST_KEY:
            msg = f"the secret key needs {SHORTEST_KEY} signs or more"
            raise InputError(msg)
        self._key = key.encode()
        self._serializers = {
            purpose: URLSafeSerializer(
                self._key,
                salt=f"mebuki.link.{purpose}".encode(),
                signer_kwargs={"digest_method": hashlib.sha256, "key_derivation": "hmac"},
            )
            for purpose in Purpose
        }

    def reader(self, garden: str, email: str) -> str:
        """Return the digest under which links know a reader of a garden."""
        text = f"mebuki.reader\x1f{garden}\x1f{email.strip().lower()}"
        digest = hmac.digest(self._key, text.encode("utf-8", "replace"), "sha256")
        return urlsafe_b64encode(digest[:12]).decode()

    def sign(self, ticket: Ticket) -> str:
        """Return the token of a ticket; it holds letters, digits and ``-_.`` alone."""
        day = 0 if ticket.last_day is None else (ticket.last_day - _EPOCH).days
        content = [ticket.garden, ticket.reader, ticket.about, day]
        return self._serializers[ticket.purpose].dumps(content)

    def read(self, purpose: Purpose, token: str, at: datetime) -> Ticket:
        """Return the ticket of a token.

        Raises
        ------
        LinkError
            If it was not made here, was made for another purpose, was changed, or is too old.
        """
        ticket = self._ticket(purpose, token)
        if ticket.last_day is not None and at.astimezone(UTC).date() > ticket.last_day:
            msg = "this link is too old"
            raise LinkError(msg, expired=True)
        return ticket

    def _ticket(self, purpose: Purpose, token: str) -> Ticket:
        msg = "this is no link of ours"
        if not token.isascii() or len(token) > LONGEST_TOKEN:
            raise LinkError(msg)
        try:
            garden, reader, about, day = self._serializers[purpose].loads(token)
            last = _EPOCH + timedelta(days=int(day)) if day else None
        except (BadData, ValueError, TypeError, OverflowError) as error:
            raise LinkError(msg) from error
        return Ticket(purpose, str(garden), str(reader), str(about), last)


class SignedLinks:
    """The addresses of links under the public address of the service.

    Parameters
    ----------
    base_url
        Where the service is reached from outside, without a slash at its end.
    """

    def __init__(self, base_url: str, signer: Signer) -> None:
        self._base = base_url.rstrip("/")
        self._signer = signer

    def see(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a notice can be looked at."""
        return self._of_notice(Purpose.SEE, garden, notice, to)

    def acknowledge(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a reader says that a notice was seen and is taken care of."""
        return self._of_notice(Purpose.ACKNOWLEDGE, garden, notice, to)

    def record(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a reader records what was done."""
        return self._of_notice(Purpose.RECORD, garden, notice, to)

    def scores(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return where a reader sees how earlier warnings turned out."""
        return self._of_notice(Purpose.SCORES, garden, notice, to)

    def leave(self, garden: Garden, to: Subscriber, kind: str = "") -> str:
        """Return where a reader leaves, for a kind of notice or (empty) for all of a garden."""
        return self._address(self._ticket(Purpose.LEAVE, garden, to, kind, None))

    def confirm(self, garden: Garden, to: Subscriber, asked_at: datetime) -> str:
        """Return where a reader confirms an address."""
        return self._address(self._ticket(Purpose.CONFIRM, garden, to, "", asked_at))

    def _of_notice(self, purpose: Purpose, garden: Garden, notice: Notice, to: Subscriber) -> str:
        return self._address(self._ticket(purpose, garden, to, notice.told, notice.at))

    def _ticket(
        self, purpose: Purpose, garden: Garden, to: Subscriber, about: str, at: datetime | None
    ) -> Ticket:
        reader = self._signer.reader(garden.id, to.email)
        return Ticket(purpose, garden.id, reader, about, last_day(purpose, at))

    def _address(self, ticket: Ticket) -> str:
        return f"{self._base}{PREFIX}{ticket.purpose}/{self._signer.sign(ticket)}"


def last_day(purpose: Purpose, at: datetime | None) -> date | None:
    """Return the last day (UTC) on which a link of a purpose holds; none for ever."""
    holds = HOLDS[purpose]
    return None if holds is None or at is None else (at + holds).astimezone(UTC).date()
