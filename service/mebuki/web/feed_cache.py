"""Prepared feeds in memory: read once, packed once, sent many times, and kept for bad days.

A feed is looked at again when something was published (`FeedCache.forget`) and
every few seconds besides, since a command may publish or withdraw behind the
back of the service. If it cannot be read then, the last good bytes are sent:
calendar programs drop what they have, or the whole calendar, after an error.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from enum import Enum
from typing import Final

from mebuki.clock import stopwatch
from mebuki.domain.feed import Revoked
from mebuki.web.feed_desk import FeedReader, digest_of
from mebuki.web.shown_feed import ShownFeed

log = logging.getLogger(__name__)

LOOK_AGAIN: Final = 5.0
"""Seconds after which a feed is read again though nothing was published (design default)."""

PATIENCE: Final = 3.0
"""Seconds that a request waits for the shelf before it gets the last good bytes."""

MOST_BYTES: Final = 128 * 2**20
MOST_FEEDS: Final = 20_000
READERS: Final = 4


class Missing(Enum):
    """Why there is no feed to send."""

    UNKNOWN = "unknown"
    REVOKED = "revoked"
    UNREADABLE = "unreadable"


@dataclass(slots=True)
class _Kept:
    key: bytes
    feed: ShownFeed
    edition: object
    due: float


class FeedCache:
    """The feeds that were asked for lately, within a budget of bytes.

    Everything but `forget` is to be called in the event loop.

    Parameters
    ----------
    reader
        Where feeds are read; called on threads of this cache.
    seconds
        A clock that runs evenly.
    most_bytes
        Over this, plain bytes are let go first, then whole feeds, longest unused first.
    """

    def __init__(
        self,
        reader: FeedReader,
        seconds: Callable[[], float] = stopwatch,
        most_bytes: int = MOST_BYTES,
        most_feeds: int = MOST_FEEDS,
    ) -> None:
        self._reader = reader
        self._seconds = seconds
        self._most_bytes = most_bytes
        self._most_feeds = most_feeds
        self._kept: OrderedDict[bytes, _Kept] = OrderedDict()
        self._with_plain: OrderedDict[bytes, None] = OrderedDict()
        self._size = 0
        self._edition = object()
        self._reading: dict[bytes, tuple[object, asyncio.Task[ShownFeed | Missing]]] = {}
        self._threads = ThreadPoolExecutor(READERS, thread_name_prefix="feeds")

    @property
    def size(self) -> int:
        """Bytes of feeds held."""
        return self._size

    def __len__(self) -> int:
        return len(self._kept)

    def forget(self) -> None:
        """Have every feed looked at again before it is sent; call it after a publication.

        From any thread. The bytes stay as the last good ones.
        """
        self._edition = object()

    def close(self) -> None:
        """Let the threads go."""
        self._threads.shutdown(wait=False, cancel_futures=True)

    def fresh(self, token: str) -> ShownFeed | None:
        """Return the feed if it need not be looked at again now."""
        kept = self._find(digest_of(token))
        if kept is None or kept.edition is not self._edition or self._seconds() >= kept.due:
            return None
        return kept.feed

    def plain_bytes(self, token: str, feed: ShownFeed) -> bytes:
        """Return the plain bytes of a feed, and keep them within the budget."""
        if feed.holds_plain:
            return feed.plain_bytes()
        content = feed.plain_bytes()
        key = digest_of(token)
        kept = self._kept.get(key)
        if kept is not None and kept.feed is feed:
            self._size += len(content)
            self._with_plain[key] = None
            self._shrink()
        return content

    async def find(self, token: str) -> ShownFeed | Missing:
        """Return the feed as it is now, or as it was last if that cannot be known in time."""
        key = digest_of(token)
        edition, reading = self._reading.get(key, (None, None))
        if reading is None or edition is not self._edition:
            reading = asyncio.create_task(self._look(key, token, self._edition))
            self._reading[key] = (self._edition, reading)
            reading.add_done_callback(lambda task: self._read_ended(key, task))
        try:
            async with asyncio.timeout(PATIENCE):
                return await asyncio.shield(reading)
        except TimeoutError:
            log.warning("a feed could not be read within %g s", PATIENCE)
            return self._last_good(key, self._edition)

    def _read_ended(self, key: bytes, task: asyncio.Task[ShownFeed | Missing]) -> None:
        if self._reading.get(key, (None, None))[1] is task:
            del self._reading[key]

    async def _look(self, key: bytes, token: str, edition: object) -> ShownFeed | Missing:
        """Read a feed; never raises but when cancelled."""
        kept = self._find(key)
        shown = None if kept is None else kept.feed
        try:
            found = await asyncio.get_running_loop().run_in_executor(
                self._threads, self._read, token, shown
            )
        except Exception as error:  # whatever it is, readers get the last good bytes
            reason = str(error).replace(token, "…")
            log.warning("a feed could not be read: %s: %s", type(error).__name__, reason)
            return self._last_good(key, edition)
        if isinstance(found, Missing):
            self._drop(key)
            return found
        self._keep(key, found, edition)
        return found

    def _read(self, token: str, shown: ShownFeed | None) -> ShownFeed | Missing:
        """Read, and pack what is new; on a thread."""
        found = self._reader.read(token)
        if found is None:
            return Missing.UNKNOWN
        if isinstance(found, Revoked):
            return Missing.REVOKED
        return shown if shown is not None and shown.same_as(found) else ShownFeed(found)

    def _find(self, key: bytes) -> _Kept | None:
        kept = self._kept.get(key)
        if kept is None or not hmac.compare_digest(kept.key, key):
            return None
        self._kept.move_to_end(key)
        return kept

    def _last_good(self, key: bytes, edition: object) -> ShownFeed | Missing:
        """Return what is kept, and leave the shelf alone for a while."""
        kept = self._find(key)
        if kept is None:
            return Missing.UNREADABLE
        kept.edition, kept.due = edition, self._seconds() + LOOK_AGAIN
        return kept.feed

    def _keep(self, key: bytes, feed: ShownFeed, edition: object) -> None:
        due = self._seconds() + LOOK_AGAIN
        kept = self._kept.get(key)
        if kept is not None and kept.feed is feed:
            kept.edition, kept.due = edition, due
            return
        self._drop(key)
        self._kept[key] = _Kept(key, feed, edition, due)
        self._with_plain[key] = None
        self._size += feed.size
        self._shrink()

    def _drop(self, key: bytes) -> None:
        kept = self._kept.pop(key, None)
        if kept is not None:
            self._size -= kept.feed.size
            self._with_plain.pop(key, None)

    def _shrink(self) -> None:
        while self._size > self._most_bytes and self._with_plain:
            key, _ = self._with_plain.popitem(last=False)
            feed = self._kept[key].feed
            self._size -= feed.size
            feed.let_plain_go()
            self._size += feed.size
        while self._kept and (self._size > self._most_bytes or len(self._kept) > self._most_feeds):
            self._drop(next(iter(self._kept)))
