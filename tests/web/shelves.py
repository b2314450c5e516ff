"""A shelf of feeds for tests of the web, which can be told to fail or to be slow."""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass
from datetime import UTC, datetime

from mebuki.domain.feed import Revoked

CHANGED = datetime(2026, 3, 27, 11, 0, 0, 900_000, tzinfo=UTC)
ADA, BEN, EVE = "Ada-0123456789abcdefABCD", "Ben_0123456789abcdefABCD", "Eve-0123456789abcdefABCD"
PLAIN = {"accept-encoding": "identity"}


@dataclass(frozen=True, slots=True)
class KeptFeed:
    """A feed as a shelf gives it."""

    content: bytes
    changed_at: datetime = CHANGED

    @property
    def etag(self) -> str:
        """The tag of the bytes."""
        return f'"{hashlib.sha256(self.content).hexdigest()[:32]}"'


class FakeShelf:
    """Feeds by token; counts what it is asked."""

    def __init__(self, **feeds: KeptFeed | Revoked) -> None:
        self.feeds: dict[str, KeptFeed | Revoked] = dict(feeds)
        self.asked: list[str] = []
        self.failure: Exception | None = None
        self.gate = threading.Event()
        self.gate.set()

    def read(self, token: str) -> KeptFeed | Revoked | None:
        """Return what is kept, or fail as told."""
        self.asked.append(token)
        assert self.gate.wait(30)
        if self.failure is not None:
            raise self.failure
        return self.feeds.get(token)


def a_shelf() -> FakeShelf:
    """Return a shelf with a feed for Ada and a withdrawn address of Ben."""
    shelf = FakeShelf()
    shelf.feeds[ADA] = KeptFeed(b"BEGIN:VCALENDAR\r\n" + b"X-PAD:mebuki\r\n" * 400)
    shelf.feeds[BEN] = Revoked()
    return shelf


class Seconds:
    """A stopwatch that is moved by hand."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        """Return the seconds it shows."""
        return self.now
