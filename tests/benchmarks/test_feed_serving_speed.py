"""Speed of feeds against the same framework serving a constant, and what many feeds hold."""

from __future__ import annotations

import asyncio
import gc
import hashlib
import multiprocessing
import resource
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message

from mebuki.web.feed_cache import FeedCache
from mebuki.web.serve import serve_app
from mebuki.web.service_app import WebParts, service_app
from tests.web.healths import a_health
from tests.web.shelves import KeptFeed

TOKEN = "0" * 43
PATH = f"/feeds/{TOKEN}.ics"
PLAIN_BYTES = 250_000
LEAST_304, LEAST_200 = 0.7, 0.6
MOST_MEGABYTES = 300
FEEDS = 1_000
ROUNDS = 5
CHANGED = datetime(2026, 3, 27, 11, tzinfo=UTC)
ROOT = Path(__file__).parents[2]


def calendar(number: int) -> bytes:
    """Return a text of the size and about the packing of a calendar of 200 entries."""
    lines = []
    for entry in range(200):
        digest = hashlib.sha256(b"%d %d" % (number, entry)).hexdigest()
        lines.append(
            f"BEGIN:VEVENT\r\nUID:{digest}@example.org\r\nDTSTART;VALUE=DATE:20260327\r\n"
            f"SUMMARY:Check the wire on {digest[:2]} maples\r\nDESCRIPTION:" + (
                f"The shoots of {digest[2:8]} thicken by 0.{digest[8:10]} mm a week now. " * 14
            ) + "\r\nEND:VEVENT\r\n"
        )  # fmt: skip
    content = "".join(lines).encode()
    return content + b" " * (PLAIN_BYTES - len(content))


class ManyFeeds:
    """A shelf whose every address, a number, leads to a feed of its own."""

    def read(self, token: str) -> KeptFeed:
        """Return the feed of a number."""
        return KeptFeed(calendar(int(token)), CHANGED)


def our_app() -> Starlette:
    """Return the application of the service over a cache that never looks again."""
    return service_app(WebParts(FeedCache(ManyFeeds(), lambda: 0.0), a_health, lambda: b""))


def constant_app() -> Starlette:
    """Return the framework with a constant behind each of three addresses, as its manual does."""
    small, large = b"ok", calendar(0)

    async def short(request: Request) -> Response:
        return Response(small, media_type="text/plain")

    async def long(request: Request) -> Response:
        return Response(large, media_type="text/calendar")

    return Starlette(routes=[Route("/short", short), Route("/long", long)])


Case = tuple[str, str, dict[str, str], int]


def cases() -> dict[str, tuple[Case, Case, float]]:
    """Return what is compared: the request to us, the one to the constant, the least ratio."""
    tag = {"if-none-match": KeptFeed(calendar(0)).etag}
    date = {"if-modified-since": "Fri, 27 Mar 2026 11:00:00 GMT"}
    return {
        "304 by tag": (("ours", PATH, tag, 304), ("constant", "/short", {}, 200), LEAST_304),
        "304 by date": (("ours", PATH, date, 304), ("constant", "/short", {}, 200), LEAST_304),
        "200 plain": (("ours", PATH, {}, 200), ("constant", "/long", {}, 200), LEAST_200),
        "200 packed": (
            ("ours", PATH, {"accept-encoding": "gzip"}, 200), ("constant", "/long", {}, 200),
            LEAST_200,
        ),
    }  # fmt: skip


async def per_second_asgi(app: ASGIApp, case: Case, count: int) -> float:
    """Return requests a second of an application called directly."""
    _, path, headers, status = case
    raw = [(b"host", b"127.0.0.1"), *((k.encode(), v.encode()) for k, v in headers.items())]
    seen = []

    async def send(message: Message) -> None:
        if "status" in message:
            seen.append(message["status"])

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def one() -> None:
        scope = {
            "type": "http", "method": "GET", "path": path, "raw_path": path.encode(),
            "query_string": b"", "root_path": "", "headers": raw, "scheme": "http",
            "http_version": "1.1", "server": ("127.0.0.1", 80), "client": ("127.0.0.1", 1),
        }  # fmt: skip
        await app(scope, receive, send)

    await one()
    seen.clear()
    begun = time.perf_counter()
    for _ in range(count):
        await one()
    spent = time.perf_counter() - begun
    assert seen == [status] * count
    return count / spent


def _serve(which: str, port: int) -> None:
    app = our_app() if which == "ours" else constant_app()
    asyncio.run(serve_app(app, "127.0.0.1", port, asyncio.Event()))


@contextmanager
def servers() -> Iterator[dict[str, int]]:
    """Run both applications in processes of their own, with the real server on loopback."""
    ports, started = {}, []
    context = multiprocessing.get_context("spawn")
    for which in ("ours", "constant"):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            ports[which] = free.getsockname()[1]
        process = context.Process(target=_serve, args=(which, ports[which]), daemon=True)
        process.start()
        started.append(process)
    try:
        for port in ports.values():
            _until_it_listens(port)
        yield ports
    finally:
        for process in started:
            process.terminate()
            process.join()


def _until_it_listens(port: int) -> None:
    for _ in range(500):
        try:
            socket.create_connection(("127.0.0.1", port)).close()
        except OSError:
            time.sleep(0.02)
        else:
            return
    pytest.fail("the server did not start")


def per_second_wire(port: int, case: Case, count: int) -> float:
    """Return requests a second over one kept connection, read by a bare socket."""
    _, path, headers, status = case
    lines = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
    request = f"GET {path} HTTP/1.1\r\nhost: 127.0.0.1\r\n{lines}\r\n".encode()
    with socket.create_connection(("127.0.0.1", port)) as connection:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        _exchange(connection, request, status)
        begun = time.perf_counter()
        for _ in range(count):
            _exchange(connection, request, status)
        return count / (time.perf_counter() - begun)


def _exchange(connection: socket.socket, request: bytes, status: int) -> None:
    connection.sendall(request)
    got = connection.recv(262_144)
    while b"\r\n\r\n" not in got:
        got += connection.recv(262_144)
    head, _, body = got.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 %d " % status)
    length = 0
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            length = int(line.partition(b":")[2])
    left = (0 if status == 304 else length) - len(body)
    while left > 0:
        left -= len(connection.recv(262_144))


def compare(name: str, ours: Callable[[], float], constant: Callable[[], float]) -> float:
    """Return the ratio of two speeds, measured in turns within one run; print it."""
    pairs = [(ours(), constant()) for _ in range(ROUNDS)]
    mine, theirs = (statistics.median(side) for side in zip(*pairs, strict=True))
    ratio = statistics.median(one / other for one, other in pairs)
    print(f"{name}: {mine:,.0f} of {theirs:,.0f} requests/s = {ratio:.2f}")  # noqa: T201
    return ratio


@pytest.mark.benchmark
@pytest.mark.parametrize("name", ["304 by tag", "304 by date", "200 plain", "200 packed"])
def test_a_feed_keeps_up_with_a_constant_within_the_framework(name: str) -> None:
    """The applications called directly: all that the service adds, without the server's share."""
    ours, constant, least = cases()[name]
    one, other = our_app(), constant_app()

    async def both() -> list[tuple[float, float]]:
        return [
            (await per_second_asgi(one, ours, 3000), await per_second_asgi(other, constant, 3000))
            for _ in range(ROUNDS)
        ]

    pairs = iter(asyncio.run(both()))
    speeds = iter([speed for pair in pairs for speed in pair])
    assert compare(f"ASGI, {name}", lambda: next(speeds), lambda: next(speeds)) >= least


@pytest.mark.benchmark
def test_a_feed_keeps_up_with_a_constant_on_the_wire() -> None:
    """Both behind the same server on loopback, asked in turns."""
    with servers() as ports:
        ratios = {
            name: compare(
                f"wire, {name}",
                lambda ours=ours: per_second_wire(ports["ours"], ours, 1000),  # type: ignore[misc]
                lambda constant=constant: per_second_wire(ports["constant"], constant, 1000),  # type: ignore[misc]
            )
            for name, (ours, constant, _) in cases().items()
        }
    assert all(ratios[name] >= least for name, (_, _, least) in cases().items()), ratios


def resident_megabytes() -> float:
    """Return the memory that this process has now."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * resource.getpagesize() / 2**20


def hold_many() -> str:
    """Fill a cache with many feeds; return how much memory the process has before and after."""
    app = our_app()
    gc.collect()
    before = resident_megabytes()

    async def fill() -> None:
        for number in range(FEEDS):
            case: Case = ("ours", f"/feeds/{number:022d}.ics", {}, 200)
            await per_second_asgi(app, case, 1)

    asyncio.run(fill())
    gc.collect()
    return f"{before:.0f} {resident_megabytes():.0f}"


@pytest.mark.benchmark
def test_a_thousand_feeds_are_held_within_bounds() -> None:
    """Each of 250 kB, asked for plain and unlike the others; the whole process is counted."""
    code = "from tests.benchmarks.test_feed_serving_speed import hold_many; print(hold_many())"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True,
        env={"PYTHONPATH": f"{ROOT / 'service'}:{ROOT}"},
    )  # fmt: skip
    before, after = (int(word) for word in done.stdout.split())
    print(f"{FEEDS} feeds: {before} MB before, {after} MB after")  # noqa: T201
    assert after < MOST_MEGABYTES
