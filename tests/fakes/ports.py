"""Stand-ins for the ports of a round that keep everything in memory and can be told to fail."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from mebuki.agenda.entry import Entry, Notice, Published
from mebuki.domain.feed import FeedChoice
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.site import Site
from mebuki.domain.weather import WeatherPicture
from mebuki.errors import FaultError, WeatherError
from mebuki.rounds.ports import Letter, Picture


class FakeWeatherSource:
    """A source that knows nothing: it always fails, for a reason."""

    def look(self, site: Site, at: datetime) -> WeatherPicture:
        """Raise `WeatherError`."""
        msg = f"{site.name} at {at:%H:%M}: no answer"
        raise WeatherError(msg)


class FakeCalendarWriter:
    """Writes the keys and revisions of entries, a line each."""

    def write(
        self,
        garden: Garden,
        entries: Sequence[Entry],
        credits_: Sequence[str],
        choice: FeedChoice | None = None,
    ) -> bytes:
        """Return the lines."""
        lines = [f"{entry.key} {entry.revision}" for entry in entries]
        return "\n".join((garden.id, *lines, *credits_)).encode()


class FakeLetterWriter:
    """Writes a notice's subject as the whole message."""

    def write(
        self, garden: Garden, notice: Notice, to: Subscriber, picture: Picture | None = None
    ) -> Letter:
        """Return the letter."""
        return Letter(
            key=notice.key,
            recipient=to.email,
            message_id=f"<{notice.key}@{garden.id}>",
            subject=notice.subject,
            content=notice.subject.encode(),
        )


class FakeDisk:
    """Outbox, store and shelf in one memory, with a switch that fails the n-th write.

    ``writes`` names what was written, in order.
    """

    def __init__(self) -> None:
        self.letters: dict[tuple[str, str], Letter] = {}
        self.published = Published.nothing()
        self.feed = b""
        self.writes: list[str] = []
        self.fails_at: int | None = None

    def _write(self, what: str) -> None:
        if self.fails_at is not None and len(self.writes) == self.fails_at:
            msg = f"{what}: disk full"
            raise FaultError(msg)
        self.writes.append(what)


class FakeOutbox:
    """The outbox part of a `FakeDisk`."""

    def __init__(self, disk: FakeDisk) -> None:
        self.disk = disk

    def put(self, letters: Sequence[Letter]) -> None:
        """Keep letters not yet kept."""
        for letter in letters:
            key = (letter.key, letter.recipient)
            if key not in self.disk.letters:
                self.disk._write(f"letter {letter.key}")
                self.disk.letters[key] = letter


class FakeAgendaStore:
    """The state part of a `FakeDisk`."""

    def __init__(self, disk: FakeDisk) -> None:
        self.disk = disk

    def load(self, garden: str) -> Published:
        """Return what was saved."""
        return self.disk.published

    def save(self, garden: str, published: Published) -> None:
        """Keep the state."""
        self.disk._write("state")
        self.disk.published = published


class FakeFeedShelf:
    """The feed part of a `FakeDisk`."""

    def __init__(self, disk: FakeDisk) -> None:
        self.disk = disk

    def put(self, garden: str, content: bytes) -> None:
        """Replace the feed."""
        self.disk._write("feed")
        self.disk.feed = content
