"""Serving on this machine alone, until stopped."""

from __future__ import annotations

import socket
from collections.abc import Callable
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


def listening(port: int) -> socket.socket:
    """Return a socket that listens on the loopback address.

    Raises
    ------
    InputError
        If the port is taken or not allowed.
    """
    if not 0 <= port <= HIGHEST_PORT:
        msg = f"port {port}: a port lies between 0 and {HIGHEST_PORT}; 0 takes a free one"
        raise InputError(msg)
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind((HOST, port))
        door.listen()
    except OSError as error:
        door.close()
        reason = error.strerror or error
        msg = f"port {port} on {HOST} cannot be had ({reason}): name another one with --port"
        raise InputError(msg) from error
    return door
