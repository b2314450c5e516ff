"""What a round needs from the outside, as protocols; adapters and fakes implement them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from mebuki.agenda.entry import Entry, Notice, Published
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.site import Site
from mebuki.domain.weather import WeatherPicture


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


class CalendarWriter(Protocol):
    """Entries to the bytes of a feed."""

    def write(self, garden: Garden, entries: Sequence[Entry], credits_: Sequence[str]) -> bytes:
        """Return the whole feed; the same entries give the same bytes."""
        ...


@dataclass(frozen=True, slots=True)
class Letter:
    """One rendered message for one recipient, ready to be stored and sent."""

    key: str
    recipient: str
    message_id: str
    subject: str
    content: bytes


class LetterWriter(Protocol):
    """Notices to rendered messages."""

    def write(self, garden: Garden, notice: Notice, to: Subscriber) -> Letter:
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
