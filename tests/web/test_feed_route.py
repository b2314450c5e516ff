"""Feeds over HTTP: what calendar programs send, and what they get."""

from __future__ import annotations

import asyncio
import gzip
import logging
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient
from starlette.types import Message

from mebuki.errors import FaultError
from mebuki.web.feed_cache import FeedCache
from mebuki.web.feed_route import FeedRoute, takes_gzip
from mebuki.web.service_app import WebParts, service_app
from tests.web.healths import a_health
from tests.web.shelves import ADA, BEN, EVE, PLAIN, FakeShelf, KeptFeed, Seconds, a_shelf

FEED = f"/feeds/{ADA}.ics"


@pytest.fixture
def shelf() -> FakeShelf:
    """Return a shelf with one feed."""
    return a_shelf()


@pytest.fixture
def seconds() -> Seconds:
    """Return the stopwatch of the cache."""
    return Seconds()


@pytest.fixture
def counts() -> list[int]:
    """Return the statuses that were counted."""
    return []


@pytest.fixture
def client(shelf: FakeShelf, seconds: Seconds, counts: list[int]) -> Iterator[TestClient]:
    """Return a client of the whole application."""
    cache = FeedCache(shelf, seconds)
    parts = WebParts(cache, a_health, lambda: b"", counts.append)
    with TestClient(service_app(parts)) as client:
        yield client
    cache.close()


def content(shelf: FakeShelf) -> bytes:
    """Return the bytes of Ada's feed."""
    feed = shelf.feeds[ADA]
    assert isinstance(feed, KeptFeed)
    return feed.content


def test_a_feed_is_sent_with_everything_a_calendar_program_may_want(
    client: TestClient, shelf: FakeShelf, counts: list[int]
) -> None:
    """Type with charset, validators, privacy, a file name; and the answer is counted."""
    answer = client.get(FEED, headers=PLAIN)
    assert (answer.status_code, answer.content) == (200, content(shelf))
    assert dict(answer.headers) == {
        "content-type": "text/calendar; charset=utf-8",
        "content-length": str(len(content(shelf))),
        "content-disposition": 'inline; filename="mebuki.ics"',
        "etag": shelf.feeds[ADA].etag,  # type: ignore[union-attr]  # Ada's is a feed
        "last-modified": "Fri, 27 Mar 2026 11:00:00 GMT",
        "cache-control": "private, max-age=300",
        "vary": "Accept-Encoding",
        "x-robots-tag": "noindex, nofollow",
        "x-content-type-options": "nosniff",
    }
    assert counts == [200]


def test_a_packed_feed_has_a_tag_of_its_own_and_unpacks_to_the_same(
    client: TestClient, shelf: FakeShelf
) -> None:
    """Each representation is named apart (RFC 9110 8.8.3): a tag of one never answers for two."""
    packed = client.get(FEED, headers={"accept-encoding": "gzip"})
    plain = client.get(FEED, headers=PLAIN)
    assert packed.headers["content-encoding"] == "gzip"
    assert packed.content == plain.content == content(shelf)
    assert int(packed.headers["content-length"]) < len(content(shelf)) / 4
    assert packed.headers["etag"] != plain.headers["etag"]
    assert packed.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
    for encoding, tag, status in (
        ("gzip", packed.headers["etag"], 304), ("identity", plain.headers["etag"], 304),
        ("gzip", plain.headers["etag"], 200), ("identity", packed.headers["etag"], 200),
    ):  # fmt: skip
        headers = {"accept-encoding": encoding, "if-none-match": tag}
        assert client.get(FEED, headers=headers).status_code == status


@pytest.mark.parametrize("encoding", ["gzip", "identity"])
def test_an_unchanged_feed_is_not_sent_again_and_the_validators_are_repeated(
    client: TestClient, encoding: str
) -> None:
    """A 304 has no body, no length, and every header a cache goes by (RFC 9110 15.4.5)."""
    whole = client.get(FEED, headers={"accept-encoding": encoding})
    short = client.get(
        FEED, headers={"accept-encoding": encoding, "if-none-match": whole.headers["etag"]}
    )
    assert (short.status_code, short.content) == (304, b"")
    assert "content-type" not in short.headers
    for name in ("etag", "last-modified", "cache-control", "vary"):
        assert short.headers[name] == whole.headers[name]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"if-modified-since": "Fri, 27 Mar 2026 11:00:00 GMT"}, 304),
        ({"if-modified-since": "Fri, 27 Mar 2026 12:00:00 GMT"}, 304),
        ({"if-modified-since": "Fri, 27 Mar 2026 10:59:59 GMT"}, 200),
        ({"if-modified-since": "yesterday"}, 200),
        ({"if-none-match": "*"}, 304),
        ({"if-none-match": '"other"', "if-modified-since": "Fri, 27 Mar 2026 12:00:00 GMT"}, 200),
        ({"range": "bytes=0-10"}, 200),
        ({"accept": "text/html"}, 200),
        ({"user-agent": ""}, 200),
    ],
)
def test_only_a_reader_who_has_the_bytes_gets_none(
    client: TestClient, headers: dict[str, str], status: int
) -> None:
    """A tag decides alone, a date only without one; ranges, Accept and User-Agent are not used."""
    assert client.get(FEED, headers=headers).status_code == status


def test_head_answers_as_get_without_the_body(client: TestClient) -> None:
    """HEAD carries length and validators, packed or not, and may answer 304."""
    for encoding in ("gzip", "identity"):
        headers = {"accept-encoding": encoding}
        head, get = client.head(FEED, headers=headers), client.get(FEED, headers=headers)
        assert head.content == b""
        assert dict(head.headers) == dict(get.headers)
        headers["if-none-match"] = get.headers["etag"]
        assert client.head(FEED, headers=headers).status_code == 304


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PROPFIND", "OPTIONS"])
def test_a_feed_can_only_be_read(client: TestClient, method: str) -> None:
    """Any other method is refused, and told which ones there are."""
    answer = client.request(method, FEED)
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD"


WRONG = [
    ADA[:-1], ADA + "x", ADA.upper(), ADA.lower(), f"%20{ADA}", f"{ADA}%00", f"{ADA}%0d%0a",
    "%", "%zz", "%ff%fe" * 12, "a" * 5000, "é" * 30, "..", "",
    "../" * 9 + "etc/passwd", ADA + "/", f"x/{ADA}", "０" * 30,
]  # fmt: skip


@pytest.mark.parametrize("token", WRONG)
def test_an_address_that_is_none_is_not_found(client: TestClient, token: str) -> None:
    """Wrong length, case, encoding, junk, NUL, overlong: 404, and the text tells nothing back."""
    answer = client.get(f"/feeds/{token}.ics")
    assert answer.status_code == 404
    assert ADA not in answer.text


@pytest.mark.parametrize("path", [f"/feeds/{ADA}", f"/feeds/{ADA}.ICS", f"{FEED}/", "/feeds/"])
def test_an_address_has_one_spelling(client: TestClient, path: str) -> None:
    """Nothing is redirected."""
    assert client.get(path, follow_redirects=False).status_code == 404


def test_what_cannot_be_a_token_never_reaches_the_shelf(
    client: TestClient, shelf: FakeShelf
) -> None:
    """Rubbish costs the database nothing."""
    for token in ("x", "a" * 5000, "é" * 30, f"{ADA}%00"):
        client.get(f"/feeds/{token}.ics")
    assert shelf.asked == []


def test_unknown_and_withdrawn_addresses_are_told_apart(client: TestClient) -> None:
    """404 keeps what a program has; 410, for a deliberate end, makes it stop."""
    assert client.get(f"/feeds/{EVE}.ics").status_code == 404
    gone = client.get(f"/feeds/{BEN}.ics")
    assert gone.status_code == 410
    assert gone.headers["cache-control"] == "no-store"
    assert client.head(f"/feeds/{BEN}.ics").content == b""


def test_an_address_withdrawn_a_moment_ago_ends_within_seconds(
    client: TestClient, shelf: FakeShelf, seconds: Seconds
) -> None:
    """Also when it was withdrawn by another process."""
    assert client.get(FEED).status_code == 200
    shelf.feeds[ADA] = shelf.feeds[BEN]
    seconds.now += 5
    assert client.get(FEED).status_code == 410


@pytest.mark.parametrize(
    "failure", [FaultError("the database is locked"), OSError("disk"), RuntimeError("?")]
)
def test_the_last_good_bytes_are_sent_when_the_shelf_fails(
    client: TestClient, shelf: FakeShelf, seconds: Seconds, failure: Exception
) -> None:
    """Programs drop a calendar after an error; so none is shown to them."""
    before = client.get(FEED)
    shelf.failure = failure
    seconds.now += 3600
    after = client.get(FEED)
    assert (after.status_code, after.content) == (200, before.content)
    assert after.headers["etag"] == before.headers["etag"]


def test_without_any_good_bytes_the_reader_is_asked_to_come_again(
    client: TestClient, shelf: FakeShelf
) -> None:
    """503 with Retry-After; and once the shelf is back, the feed is there."""
    shelf.failure = FaultError("the database is locked")
    answer = client.get(FEED)
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "300"
    shelf.failure = None
    assert client.get(FEED).status_code == 200


def test_a_token_in_the_text_of_an_error_does_not_reach_the_log(
    client: TestClient, shelf: FakeShelf, caplog: pytest.LogCaptureFixture
) -> None:
    """The failure is logged, the address is not, nor is it shown to the reader."""
    shelf.failure = FaultError(f"cannot read {FEED}, token {ADA}")
    with caplog.at_level(logging.DEBUG):
        answer = client.get(FEED)
    ours = [record.getMessage() for record in caplog.records if record.name.startswith("mebuki")]
    assert [line.split(":")[0] for line in ours] == ["a feed could not be read"]
    assert ADA not in str(ours)
    assert ADA not in answer.text


def test_a_feed_under_a_path_of_a_proxy_is_found() -> None:
    """The root path is taken off before the address is looked at."""
    cache = FeedCache(a_shelf())
    app = service_app(WebParts(cache, a_health, lambda: b""))
    with TestClient(app, root_path="/trees") as client:
        assert client.get(FEED).status_code == 200
        assert client.get(f"/trees{FEED}").status_code == 200
    cache.close()


@pytest.mark.parametrize(
    ("header", "taken"),
    [
        (b"gzip", True), (b"deflate, gzip;q=1.0, *;q=0.5", True), (b"GZip", True), (b"*", True),
        (b"x-gzip", True), (b"br, gzip;q=0.1", True), (b"gzip;q=0", False), (b"gzip; q=0.0", False),
        (b"*;q=0", False), (b"br", False), (b"identity", False), (b"", False), (b"gzip;q=x", False),
        (b"gzip;q=0, *", False), (b"gzipped", False), (b"\xff\xfe", False), (b"gzip;v=1", False),
    ],
)  # fmt: skip
def test_gzip_is_used_only_where_it_is_asked_for(header: bytes, taken: bool) -> None:
    """Weights and stars as in RFC 9110 12.5.3; rubbish gets plain bytes."""
    assert takes_gzip(header) is taken


HEADER_NAMES = st.sampled_from(
    [b"if-none-match", b"if-modified-since", b"accept-encoding", b"accept", b"range", b"if-match",
     b"if-range", b"host", b"user-agent", b"x-forwarded-for", b"cookie", b"content-length"]
)  # fmt: skip
LIKELY = st.sampled_from(
    [b"*", b'W/"', b'"', b",", b"gzip", b";q=", b"Fri, 27 Mar 2026 11:00:00 GMT", b"GMT", b"99999"]
)
VALUES = st.lists(LIKELY | st.binary(max_size=40), max_size=6).map(b"".join)
HEADERS = st.lists(st.tuples(HEADER_NAMES, VALUES), max_size=8)


async def asked(path: str, headers: list[tuple[bytes, bytes]], method: str) -> tuple[int, bytes]:
    """Return status and body of a raw request to the route, no server or client between."""
    got: list[Message] = []

    async def send(message: Message) -> None:
        got.append(message)

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    cache = FeedCache(a_shelf())
    route = FeedRoute(_nothing, cache, lambda status: None)
    scope = {"type": "http", "method": method, "path": path, "headers": headers}
    await route(scope, receive, send)
    cache.close()
    return got[0]["status"], got[1]["body"]


async def _nothing(scope: object, receive: object, send: object) -> None:
    msg = "the route passed a feed on"
    raise AssertionError(msg)


@given(HEADERS, st.sampled_from(["GET", "HEAD"]))
def test_no_header_breaks_a_feed(headers: list[tuple[bytes, bytes]], method: str) -> None:
    """Raw bytes in any header: the bytes, or the word that the reader has them."""
    status, body = asyncio.run(asked(FEED, headers, method))
    assert status in {200, 304}
    if body:
        plain = gzip.decompress(body) if body.startswith(b"\x1f\x8b") else body
        assert plain == content(a_shelf())


def test_an_address_encoded_twice_is_not_found() -> None:
    """A server undoes one encoding; what is left of a second one is no token."""
    twice = FEED.replace("-", "%2D")
    assert asyncio.run(asked(twice, [], "GET"))[0] == 404


@given(st.text(max_size=120))
def test_no_path_breaks_the_route(token: str) -> None:
    """Any text, lone surrogates and NUL too, is not found."""
    for path in (f"/feeds/{token}.ics", f"/feeds/{token}", f"/feeds/{ADA}{token}.ics"):
        status, body = asyncio.run(asked(path, [], "GET"))
        assert status == (200 if path == FEED else 404)
        assert body
