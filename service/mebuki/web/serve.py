"""Serving over HTTP until stopped: files for a demo, or the running service within its loop."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Callable, Generator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import uvicorn
from starlette.types import ASGIApp

from mebuki.errors import FaultError, InputError
from mebuki.web.app import demo_app

HOST: Final = "127.0.0.1"
GRACE_SECONDS: Final = 3
HIGHEST_PORT: Final = 65535

PROXIES: Final = ["127.0.0.1", "::1"]
"""Whose word on the reader's address and scheme is taken: a proxy on this machine."""

GUEST_GRACE_SECONDS: Final = 2
"""For the running service: with what uvicorn adds, the stop takes less than three seconds."""

IDLE_SECONDS: Final = 5
MOST_AT_ONCE: Final = 1000
BACKLOG: Final = 512


def serve_files(report: Path, feed: Path, port: int, announce: Callable[[str], object]) -> None:
    """Serve a report and a feed until stopped; announce both addresses once they answer.

    Raises
    ------
    InputError
        If the port cannot be had.
    FaultError
        If a file cannot be read.
    """
    try:
        page, calendar = report.read_bytes(), feed.read_bytes()
        changed = datetime.fromtimestamp(feed.stat().st_mtime, UTC)
    except OSError as error:
        msg = f"{error.filename} cannot be read: {error.strerror}"
        raise FaultError(msg) from error
    feed_path = f"/{feed.name}"

    def ready(taken: int) -> None:
        announce(f"The report:        http://{HOST}:{taken}/")
        announce(f"The calendar feed: http://{HOST}:{taken}{feed_path}")
        announce("Press Ctrl-C to stop.")

    serve(demo_app(page, calendar, feed_path, changed), port, ready)


def serve(app: ASGIApp, port: int, ready: Callable[[int], object] = lambda taken: None) -> None:
    """Serve an application on the loopback address until SIGINT or SIGTERM.

    Requests under way are finished first. Nothing is printed and no request is
    logged, since the address of a feed is a secret.

    Parameters
    ----------
    port
        0 takes a free one.
    ready
        Called with the port once connections are accepted by the system.

    Raises
    ------
    InputError
        If the port is taken or not allowed.
    """
    with listening(port) as door:
        config = uvicorn.Config(
            app,
            access_log=False,
            log_level="warning",
            server_header=False,
            timeout_graceful_shutdown=GRACE_SECONDS,
        )
        try:
            ready(door.getsockname()[1])
            uvicorn.Server(config).run(sockets=[door])
        except KeyboardInterrupt:
            return


class _Guest(uvicorn.Server):
    """A server that is a guest in somebody's event loop: signals are the host's business."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        yield


async def serve_app(
    app: ASGIApp,
    host: str,
    port: int,
    stop: asyncio.Event,
    ready: Callable[[int], object] = lambda taken: None,
    root_path: str = "",
) -> None:
    """Serve an application within the running event loop until told to stop.

    No signal is caught, no request is logged. After the stop, requests under way
    have `GUEST_GRACE_SECONDS`; what is not answered by then is cut off.

    Parameters
    ----------
    host
        A name or address of this machine; ``127.0.0.1`` for behind a proxy.
    port
        0 takes a free one.
    ready
        Called with the port once requests are answered.
    root_path
        The path under which a proxy shows the application, if it is not the root.

    Raises
    ------
    InputError
        If the address cannot be had.
    FaultError
        If the server ended by itself.
    """
    with listening(port, host) as door:
        server = _Guest(_config(app, root_path))
        serving = asyncio.create_task(server.serve(sockets=[door]))
        stopping = asyncio.create_task(stop.wait())
        try:
            taken = door.getsockname()[1]
            await _started(server, serving)
            ready(taken)
            await asyncio.wait({serving, stopping}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            server.should_exit = True
            stopping.cancel()
            await serving
    if not stop.is_set():
        msg = f"the server on {host}, port {taken} ended by itself"
        raise FaultError(msg)


def _config(app: ASGIApp, root_path: str) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        server_header=False,
        lifespan="off",
        ws="none",
        root_path=root_path,
        proxy_headers=True,
        forwarded_allow_ips=PROXIES,
        timeout_keep_alive=IDLE_SECONDS,
        timeout_graceful_shutdown=GUEST_GRACE_SECONDS,
        limit_concurrency=MOST_AT_ONCE,
    )


async def _started(server: uvicorn.Server, serving: asyncio.Task[None]) -> None:
    while not (server.started or serving.done()):
        await asyncio.sleep(0.01)


def listening(port: int, host: str = HOST) -> socket.socket:
    """Return a socket that listens, on the loopback address unless another is named.

    Raises
    ------
    InputError
        If the address or port cannot be had or is not allowed.
    """
    if not 0 <= port <= HIGHEST_PORT:
        msg = f"port {port}: a port lies between 0 and {HIGHEST_PORT}; 0 takes a free one"
        raise InputError(msg)
    try:
        return _door(host, port)
    except (OSError, UnicodeError) as error:
        reason = getattr(error, "strerror", None) or error
        msg = f"port {port} on {host} cannot be had ({reason}): name another one with --port"
        raise InputError(msg) from error


def _door(host: str, port: int) -> socket.socket:
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    family, kind, protocol, _, address = found[0]
    door = socket.socket(family, kind, protocol)
    try:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(address)
        door.listen(BACKLOG)
    except OSError:
        door.close()
        raise
    return door
