"""The feeds held in memory: when they are read again, and how much is held."""

from __future__ import annotations

import asyncio
import gzip
import hashlib
from collections.abc import Iterator

import pytest

from mebuki.errors import FaultError
from mebuki.web import feed_cache
from mebuki.web.feed_cache import FeedCache, Missing
from mebuki.web.shown_feed import ShownFeed
from tests.web.shelves import ADA, BEN, CHANGED, EVE, FakeShelf, KeptFeed, Seconds, a_shelf


@pytest.fixture
def shelf() -> FakeShelf:
    """Return a shelf with one feed."""
    return a_shelf()


@pytest.fixture
def seconds() -> Seconds:
    """Return the stopwatch of the cache."""
    return Seconds()


@pytest.fixture
def cache(shelf: FakeShelf, seconds: Seconds) -> Iterator[FeedCache]:
    """Return an empty cache over the shelf."""
    cache = FeedCache(shelf, seconds)
    yield cache
    cache.close()


def find(cache: FeedCache, token: str) -> ShownFeed | Missing:
    """Ask as the route does."""

    async def ask() -> ShownFeed | Missing:
        return cache.fresh(token) or await cache.find(token)

    return asyncio.run(ask())


def shown(cache: FeedCache, token: str = ADA) -> bytes:
    """Return the plain bytes of a feed that must be there."""
    feed = find(cache, token)
    assert isinstance(feed, ShownFeed)
    return cache.plain_bytes(token, feed)


def test_a_feed_is_read_once_in_a_while_however_often_it_is_asked_for(
    cache: FeedCache, shelf: FakeShelf, seconds: Seconds
) -> None:
    """Within five seconds from memory, then from the shelf; the same bytes stay the same object."""
    first = find(cache, ADA)
    for _ in range(9):
        assert find(cache, ADA) is first
    seconds.now += 4.9
    find(cache, ADA)
    assert len(shelf.asked) == 1
    seconds.now += 0.2
    assert find(cache, ADA) is first
    assert len(shelf.asked) == 2


def test_what_was_published_is_shown_at_once(cache: FeedCache, shelf: FakeShelf) -> None:
    """Work that was recorded as done is gone the next time the calendar is fetched."""
    shown(cache)
    shelf.feeds[ADA] = KeptFeed(b"new")
    cache.forget()
    assert shown(cache) == b"new"


def test_a_publication_behind_its_back_is_shown_within_seconds(
    cache: FeedCache, shelf: FakeShelf, seconds: Seconds
) -> None:
    """A command of another process tells nobody."""
    shown(cache)
    shelf.feeds[ADA] = KeptFeed(b"new")
    seconds.now += feed_cache.LOOK_AGAIN
    assert shown(cache) == b"new"


def test_a_feed_published_while_it_is_being_read_is_read_again(
    cache: FeedCache, shelf: FakeShelf
) -> None:
    """A reading that began before the publication may hold the old bytes: it is not trusted."""

    async def story() -> bytes:
        shelf.gate.clear()
        early = asyncio.create_task(cache.find(ADA))
        while not shelf.asked:
            await asyncio.sleep(0.001)
        cache.forget()
        late = asyncio.create_task(cache.find(ADA))
        await asyncio.sleep(0)
        shelf.gate.set()
        await asyncio.gather(early, late)
        shelf.feeds[ADA] = KeptFeed(b"new")
        cache.forget()
        assert cache.fresh(ADA) is None
        feed = await cache.find(ADA)
        assert isinstance(feed, ShownFeed)
        return feed.plain_bytes()

    assert asyncio.run(story()) == b"new"
    assert len(shelf.asked) == 3


def test_many_who_ask_at_once_cause_one_reading(cache: FeedCache, shelf: FakeShelf) -> None:
    """They wait for the same answer."""

    async def story() -> list[ShownFeed | Missing]:
        return list(await asyncio.gather(*(cache.find(ADA) for _ in range(50))))

    assert len({id(feed) for feed in asyncio.run(story())}) == 1
    assert len(shelf.asked) == 1


def test_a_shelf_that_hangs_makes_nobody_wait_for_long(
    cache: FeedCache, shelf: FakeShelf, seconds: Seconds, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a while readers get the last good bytes, the next ones at once."""
    monkeypatch.setattr(feed_cache, "PATIENCE", 0.05)
    before = shown(cache)

    async def story() -> tuple[ShownFeed | Missing, ShownFeed | None, ShownFeed | Missing]:
        shelf.gate.clear()
        seconds.now += 60
        waited = await cache.find(ADA)
        at_once = cache.fresh(ADA)
        unknown = await cache.find(EVE)
        shelf.gate.set()
        return waited, at_once, unknown

    waited, at_once, unknown = asyncio.run(story())
    assert isinstance(waited, ShownFeed)
    assert waited.plain_bytes() == before
    assert at_once is waited
    assert unknown is Missing.UNREADABLE


def test_after_a_failure_the_shelf_is_left_alone_for_a_while(
    cache: FeedCache, shelf: FakeShelf, seconds: Seconds
) -> None:
    """Then it is asked again, and what it has by then is shown."""
    shown(cache)
    shelf.failure = FaultError("locked")
    cache.forget()
    shown(cache)
    shown(cache)
    assert len(shelf.asked) == 2
    shelf.failure, shelf.feeds[ADA] = None, KeptFeed(b"new")
    seconds.now += feed_cache.LOOK_AGAIN
    assert shown(cache) == b"new"


def test_addresses_without_a_feed_are_not_held(cache: FeedCache) -> None:
    """Guessing fills no memory."""
    assert find(cache, EVE) is Missing.UNKNOWN
    assert find(cache, BEN) is Missing.REVOKED
    assert (len(cache), cache.size) == (0, 0)


def feeds(count: int, length: int) -> dict[str, KeptFeed]:
    """Return feeds that pack about as well as calendars do."""
    words = [hashlib.sha256(b"%d" % word).hexdigest()[:6] for word in range(length // 30)]
    return {
        f"{number:022d}": KeptFeed(f"{number} {words} {words} {words} {words}".encode()[:length])
        for number in range(count)
    }


def test_a_full_cache_lets_plain_bytes_go_before_feeds(shelf: FakeShelf) -> None:
    """All feeds stay within the budget, packed, and unpack to the same bytes."""
    shelf.feeds.update(feeds(40, 10_000))
    cache = FeedCache(shelf, most_bytes=250_000)
    tokens = [token for token in shelf.feeds if token.isdigit()]
    for token in tokens:
        find(cache, token)
    assert len(cache) == 40
    asked = len(shelf.asked)
    for token in tokens * 2:
        kept = shelf.feeds[token]
        assert isinstance(kept, KeptFeed)
        assert shown(cache, token) == kept.content
        assert cache.size <= 250_000
    assert len(shelf.asked) == asked
    cache.close()


@pytest.mark.parametrize(("most_bytes", "most_feeds"), [(30_000, 100), (10**9, 7)])
def test_the_longest_unused_feeds_go_first(
    shelf: FakeShelf, most_bytes: int, most_feeds: int
) -> None:
    """The budget of bytes and the number of feeds both hold; the newest stays."""
    shelf.feeds.update(feeds(40, 10_000))
    cache = FeedCache(shelf, most_bytes=most_bytes, most_feeds=most_feeds)
    tokens = [token for token in shelf.feeds if token.isdigit()]
    for token in tokens:
        find(cache, tokens[0])
        find(cache, token)
    assert 2 <= len(cache) <= most_feeds
    assert cache.size <= most_bytes
    assert cache.fresh(tokens[0]) is not None
    assert cache.fresh(tokens[-1]) is not None
    assert cache.fresh(tokens[1]) is None
    cache.close()


def test_a_budget_too_small_for_one_feed_still_sends_it(shelf: FakeShelf) -> None:
    """It is sent and not held."""
    cache = FeedCache(shelf, most_bytes=10)
    kept = shelf.feeds[ADA]
    assert isinstance(kept, KeptFeed)
    assert shown(cache) == kept.content
    assert (len(cache), cache.size) == (0, 0)
    cache.close()


def test_packing_gives_the_same_bytes_every_time() -> None:
    """No moment and no chance is in them, so that a tag holds across a restart."""
    feed = KeptFeed(b"BEGIN:VCALENDAR\r\n" * 50, CHANGED)
    one, two = ShownFeed(feed), ShownFeed(feed)
    assert one.packed_bytes == two.packed_bytes
    assert gzip.decompress(one.packed_bytes) == feed.content
