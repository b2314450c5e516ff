"""What a round needs from the outside, as protocols; adapters and fakes implement them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, Protocol

from mebuki.agenda.entry import Entry, Notice, Published
from mebuki.domain.feed import FeedChoice
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.lessons import NightForecast
from mebuki.domain.quantity import Units
from mebuki.domain.site import Site
from mebuki.domain.weather import WeatherPicture
from mebuki.rounds.planned import Plan


class WeatherSource(Protocol):
    """Where weather comes from: a provider, a chain of them, or a replayed file."""

    def look(self, site: Site, at: datetime) -> WeatherPicture:
        """Return all that is known of a site's weather at a moment.

        Raises
        ------
        mebuki.errors.InputError
            If the moment lies outside what the source can ever know.
        mebuki.errors.WeatherError
            If nothing at all could be had.
        """
        ...


class AgendaStore(Protocol):
    """What was published, by garden."""

    def load(self, garden: str) -> Published:
        """Return what the readers of a garden have been shown so far."""
        ...

    def save(self, garden: str, published: Published) -> None:
        """Keep what is about to be shown, before anything is shown."""
        ...


class PastForecasts(Protocol):
    """What was forecast of each night, by garden, as providers said it."""

    def remember(self, garden: str, forecasts: Sequence[NightForecast]) -> None:
        """Keep forecasts; of a night and lead the one kept first stays."""
        ...

    def recall(self, garden: str, since: date) -> Sequence[NightForecast]:
        """Return the forecasts of nights that began on a day or later, by night and lead."""
        ...


class CalendarWriter(Protocol):
    """Entries to the bytes of a feed."""

    def write(
        self,
        garden: Garden,
        entries: Sequence[Entry],
        credits_: Sequence[str],
        choice: FeedChoice | None = None,
    ) -> bytes:
        """Return the feed of a choice, or of all entries; the same entries give the same bytes."""
        ...


QUESTION: Final = "confirm"
"""The kind of the letters that ask whether an address wants mails."""


@dataclass(frozen=True, slots=True)
class Letter:
    """One rendered message for one recipient, ready to be stored and sent.

    Parameters
    ----------
    useful_until
        From then on it is not sent any more (UTC); none if it never ages.
    not_before
        Before then it is not sent (UTC); none if it may go at once. An outbox
        heeds it and does not give it back.
    garden, kind
        Which garden it is about, and what: a care kind, the step of a notice, or `QUESTION`.
    """

    key: str
    recipient: str
    message_id: str
    subject: str
    content: bytes
    useful_until: datetime | None = None
    not_before: datetime | None = None
    garden: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that goes with a notice.

    Parameters
    ----------
    png
        Its bytes.
    text
        What it shows, in words.
    width
        As it is to be shown [px].
    """

    png: bytes
    text: str
    width: int


class Illustrator(Protocol):
    """Who draws the picture that goes with a notice."""

    def draw(self, plan: Plan, notice: Notice, units: Units) -> Picture | None:
        """Return the picture of a notice in the units of its readers; none if it has none."""
        ...


class Door(Protocol):
    """Who of a garden's readers is let through to."""

    def may(self, reader: Subscriber, kind: str) -> bool:
        """Return whether a notice may be sent: a care kind, or the step of one about none."""
        ...


class Doorkeeper(Protocol):
    """Who knows which readers want mails: asked once a garden and round."""

    def of(self, garden: str) -> Door:
        """Return the door to the readers of a garden, as of now."""
        ...


class LetterWriter(Protocol):
    """Notices to rendered messages."""

    def write(
        self, garden: Garden, notice: Notice, to: Subscriber, picture: Picture | None = None
    ) -> Letter:
        """Return the rendered message of one notice for one subscriber."""
        ...


class Outbox(Protocol):
    """Messages kept before they are sent."""

    def put(self, letters: Sequence[Letter]) -> None:
        """Keep the letters; one that is kept already (same key and recipient) is left as it is."""
        ...


class FeedShelf(Protocol):
    """Feeds as prepared bytes."""

    def put(self, garden: str, content: bytes) -> None:
        """Replace the feed of a garden, whole or not at all."""
        ...


class Ledger(Protocol):
    """All that a round leaves behind, kept as one: whole or not at all, and once."""

    def choices(self, garden: str) -> Mapping[str, FeedChoice]:
        """Return the feeds that readers of a garden have chosen, by variant."""
        ...

    def commit(
        self,
        plan: Plan,
        published: Published,
        letters: Sequence[Letter],
        feeds: Mapping[str, bytes],
    ) -> bool:
        """Keep the state, the letters and the feeds (by variant) that a plan leads to.

        Returns
        -------
        bool
            False if the round of this garden and moment was kept before: nothing
            is changed then.

        Raises
        ------
        mebuki.errors.InputError
            If a later round of the garden was kept already.
        mebuki.errors.FaultError
            If it cannot be written; nothing is kept then.
        """
        ...


@dataclass(frozen=True, slots=True)
class Posting:
    """A letter claimed for sending.

    Parameters
    ----------
    number
        Under which the outbox knows it.
    attempts
        How often it was claimed, this time too.
    put_at
        Since when it waits (UTC).
    """

    number: int
    letter: Letter
    attempts: int
    put_at: datetime


class PostOffice(Protocol):
    """The sending side of an outbox."""

    def claim(self, at: datetime, lease: timedelta, limit: int = 100) -> tuple[Posting, ...]:
        """Return letters that are due, oldest first, held for nobody else until the lease ends."""
        ...

    def sent(self, number: int, at: datetime) -> bool:
        """Note that a letter was taken over; False if that was noted before."""
        ...

    def put_off(self, number: int, until: datetime, reason: str) -> bool:
        """Have a letter tried again later; False if it was sent meanwhile."""
        ...

    def give_up(self, number: int, at: datetime, reason: str) -> bool:
        """Have a letter never tried again; it stays, with the reason."""
        ...


class Mailer(Protocol):
    """A way to a mail server."""

    async def send(self, letter: Letter) -> None:
        """Hand over one letter, as its bytes are; on return the server has taken it.

        Raises
        ------
        mebuki.errors.DeliveryError
            If it was not taken over, or that is not known.
        """
        ...

    async def close(self) -> None:
        """Hang up; the next letter opens the line again."""
        ...


class Bounces(Protocol):
    """Somebody who keeps account of addresses that no longer take mail."""

    def bounced(self, address: str, at: datetime, reply: str) -> None:
        """Note that a server refused an address for good, with what it answered."""
        ...
