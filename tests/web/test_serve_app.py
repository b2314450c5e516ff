"""Serving within an event loop that others use too, until told to stop."""

from __future__ import annotations

import asyncio
import io
import logging
import signal
import socket
import time
from collections.abc import Awaitable, Callable

import httpx
import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from mebuki.errors import InputError
from mebuki.logs import set_up_logs
from mebuki.web.feed_cache import FeedCache
from mebuki.web.serve import listening, serve_app
from mebuki.web.service_app import WebParts, service_app
from tests.web.healths import a_health
from tests.web.shelves import ADA, a_shelf

Story = Callable[[str], Awaitable[None]]


async def serving(app: Starlette, story: Story, root_path: str = "") -> float:
    """Serve while a story is told; return the seconds that the stop took."""
    stop = asyncio.Event()
    taken: asyncio.Future[int] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(
        serve_app(app, "127.0.0.1", 0, stop, taken.set_result, root_path=root_path)
    )
    try:
        await story(f"http://127.0.0.1:{await taken}")
    finally:
        begun = time.perf_counter()
        stop.set()
        await task
    return time.perf_counter() - begun


def raw(address: str) -> tuple[str, int]:
    """Return host and port of an address."""
    host, port = address.removeprefix("http://").split(":")
    return host, int(port)


async def who(request: Request) -> Response:
    """Tell who asks, by which scheme, for which path."""
    client = request.client.host if request.client else ""
    return PlainTextResponse(f"{client} {request.url.scheme} {request.scope['root_path']}")


async def slow(request: Request) -> Response:
    """Answer after half a second."""
    await asyncio.sleep(0.5)
    return PlainTextResponse("slow")


async def endless(request: Request) -> Response:
    """Never answer."""
    await asyncio.sleep(60)
    return PlainTextResponse("never")


APP = Starlette(routes=[Route("/", who), Route("/slow", slow), Route("/endless", endless)])


def test_the_loop_is_shared_and_signals_are_left_alone() -> None:
    """Other work goes on in the loop; the host alone catches signals."""
    ticks = []
    before = signal.getsignal(signal.SIGTERM)

    async def tick() -> None:
        while True:
            ticks.append(1)
            await asyncio.sleep(0.01)

    async def story(address: str) -> None:
        ticking = asyncio.create_task(tick())
        async with httpx.AsyncClient(trust_env=False) as client:
            for _ in range(20):
                assert (await client.get(address)).status_code == 200
                await asyncio.sleep(0.01)
        assert signal.getsignal(signal.SIGTERM) is before
        ticking.cancel()

    assert asyncio.run(serving(APP, story)) < 1
    assert len(ticks) > 10


def test_a_request_under_way_is_finished_before_the_stop() -> None:
    """Nobody is cut off who can be answered in time."""
    found: list[asyncio.Task[httpx.Response]] = []

    async def story(address: str) -> None:
        client = httpx.AsyncClient(trust_env=False)
        found.append(asyncio.create_task(client.get(f"{address}/slow")))
        await asyncio.sleep(0.2)

    async def whole() -> str:
        await serving(APP, story)
        return (await found[0]).text

    assert asyncio.run(whole()) == "slow"


def test_a_request_that_never_ends_does_not_hold_the_stop_up() -> None:
    """Nor does a connection over which half a request came, or none."""
    open_sockets: list[socket.socket] = []

    async def story(address: str) -> None:
        for said in (
            b"",
            b"GET / HTTP/1.1\r\nHost: x",
            b"GET /endless HTTP/1.1\r\nHost: x\r\n\r\n",
        ):
            connection = socket.create_connection(raw(address))
            connection.sendall(said)
            open_sockets.append(connection)
        await asyncio.sleep(0.2)

    took = asyncio.run(serving(APP, story))
    assert took < 3
    for connection in open_sockets:
        connection.close()


def test_a_proxy_on_this_machine_is_believed() -> None:
    """The reader's address, the scheme and the path under which the service is shown."""

    async def story(address: str) -> None:
        headers = {"x-forwarded-for": "203.0.113.9", "x-forwarded-proto": "https"}
        async with httpx.AsyncClient(trust_env=False) as client:
            answer = await client.get(address, headers=headers)
        assert answer.text == "203.0.113.9 https /trees"

    asyncio.run(serving(APP, story, "/trees"))


def test_a_feed_is_served_and_its_address_is_not_logged() -> None:
    """At the most talkative level: neither requests nor failures tell a token."""
    stream = io.StringIO()
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level

    async def broken(request: Request) -> Response:
        msg = f"{request.url.path} failed for {ADA}"
        raise RuntimeError(msg)

    cache = FeedCache(a_shelf())
    routes = [Route("/m/{token}", broken)]
    app = service_app(WebParts(cache, a_health, lambda: b"", routes=routes))

    async def story(address: str) -> None:
        async with httpx.AsyncClient(trust_env=False) as client:
            assert (await client.get(f"{address}/feeds/{ADA}.ics")).status_code == 200
            assert (await client.get(f"{address}/feeds/{ADA}%00.ics")).status_code == 404
            assert (await client.get(f"{address}/m/{ADA}")).status_code == 500

    try:
        set_up_logs("debug", "json", stream=stream)
        asyncio.run(serving(app, story))
    finally:
        root.handlers[:] = handlers
        root.setLevel(level)
        logging.captureWarnings(capture=False)
        cache.close()
    assert "RuntimeError" in stream.getvalue()
    assert ADA not in stream.getvalue()


@pytest.mark.parametrize("junk", [
    b"\x00\xff\xfe\r\n\r\n", b"GET /feeds/\xff.ics HTTP/1.1\r\nHost: x\r\n\r\n", b"GET\r\n\r\n",
    b"GET / HTTP/1.1\r\nIf-None-Match: \x00\x01\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n",
    b"GET /" + b"x" * 100_000 + b" HTTP/1.1\r\n\r\n",
])  # fmt: skip
def test_rubbish_on_the_wire_is_no_error_of_ours(junk: bytes) -> None:
    """Refused or not found, never a 5xx, and the next reader is served."""

    def send(address: str) -> bytes:
        with socket.create_connection(raw(address), timeout=10) as connection:
            connection.sendall(junk)
            connection.shutdown(socket.SHUT_WR)
            return connection.recv(200)

    async def story(address: str) -> None:
        answer = await asyncio.to_thread(send, address)
        assert not answer or answer.split()[1] < b"500"
        async with httpx.AsyncClient(trust_env=False) as client:
            assert (await client.get(address)).status_code == 200

    asyncio.run(serving(APP, story))


def test_an_address_that_is_taken_is_said() -> None:
    """Before anything is served."""
    with listening(0) as other:
        taken = other.getsockname()[1]
        with pytest.raises(InputError, match=f"port {taken} on 127.0.0.1 cannot be had"):
            asyncio.run(serve_app(APP, "127.0.0.1", taken, asyncio.Event()))


@pytest.mark.parametrize("host", ["no.such.host.invalid", "256.1.1.1", "x" * 80])
def test_a_host_that_is_none_of_this_machine_is_said(host: str) -> None:
    """The name is in the message."""
    with pytest.raises(InputError, match="cannot be had"):
        listening(0, host)


def test_the_sixth_version_of_the_protocol_is_spoken_too() -> None:
    """Where the machine has it."""
    if not socket.has_ipv6:
        pytest.skip("this Python has no IPv6")
    try:
        door = listening(0, "::1")
    except InputError:
        pytest.skip("this machine has no IPv6 loopback")
    with door:
        assert door.family == socket.AF_INET6
