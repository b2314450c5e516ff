"""The running service over HTTP: feeds, state, figures, and whatever pages others add."""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from mebuki.clock import stopwatch
from mebuki.web.app import PAGE_TYPE, Handler, SafeHeaders, refused, robots
from mebuki.web.feed_cache import FeedCache
from mebuki.web.feed_route import FeedRoute
from mebuki.web.health import Health

log = logging.getLogger(__name__)

JSON_TYPE: Final = "application/json"
METRICS_TYPE: Final = "text/plain; version=0.0.4; charset=utf-8"
NO_STORE: Final = {"cache-control": "no-store"}

HEALTH_HOLDS: Final = 2.0
"""Seconds for which a state is not asked for again, however often it is fetched."""

UNKNOWN: Final = json.dumps(
    {"status": "degraded", "healthy": False, "reasons": ["the state cannot be read"]}
).encode()

STATE: Final = "<!-- state -->"
"""Where the page says what is wrong."""

HOME: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Mebuki</title>
<style>
:root { color-scheme: light dark; --ink: #23211d; --paper: #faf8f3; --rule: #c9c3b5; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #ece7db; --paper: #1b1a17; --rule: #4c483f; }
}
body { margin: 12vh auto; max-width: 34rem; padding: 0 1.25rem; background: var(--paper);
  color: var(--ink); font: 1.0625rem/1.6 system-ui, sans-serif; }
h1 { font-size: 1.375rem; font-weight: 600; border-bottom: 1px solid var(--rule); }
a { color: inherit; }
</style>
</head>
<body>
<main>
<h1>Mebuki</h1>
<!-- state -->
<p>A calendar of care for trees in small pots. It follows the weather at the bench and tells
their keepers in time what is coming.</p>
<p>Calendars are read at the private address that each keeper was given.
How the service is: <a href="health">health</a>.</p>
</main>
</body>
</html>
"""


@dataclass(frozen=True, slots=True)
class WebParts:
    """What the application is made of.

    Parameters
    ----------
    feeds
        The cache over whoever keeps the feeds; tell it `FeedCache.forget` after
        each publication.
    health, metrics
        Asked on a thread; may read the database.
    counted
        Told the status of each answer of the feed route.
    routes
        Pages that others add; they win over the ones here.
    """

    feeds: FeedCache
    health: Callable[[], Health]
    metrics: Callable[[], bytes]
    counted: Callable[[int], object] = lambda status: None
    routes: Sequence[BaseRoute] = ()


def service_app(parts: WebParts) -> Starlette:
    """Return the application of the running service."""
    state = _HealthPage(parts.health)
    app = Starlette(
        routes=[
            *parts.routes,
            Route("/", state.home),
            Route("/health", state.show),
            Route("/metrics", _metrics(parts.metrics)),
            Route("/robots.txt", robots),
        ],
        middleware=[
            Middleware(FeedRoute, cache=parts.feeds, counted=parts.counted),
            Middleware(SafeHeaders),
        ],
        exception_handlers={HTTPException: refused, Exception: _failed},
    )
    app.router.redirect_slashes = False
    return app


async def _failed(request: Request, error: Exception) -> Response:
    """Answer for a page that failed; the server logs the error itself."""
    text = "This page failed; the log of the service says why.\n"
    return Response(text, 500, NO_STORE, "text/plain; charset=utf-8")


class _HealthPage:
    """The state as JSON: 200 while healthy, else 503."""

    def __init__(self, health: Callable[[], Health]) -> None:
        self._health = health
        self._asked = asyncio.Lock()
        self._until = -1.0
        self._answer = (503, UNKNOWN)

    async def show(self, request: Request) -> Response:
        """Answer a request for the state."""
        status, content = await self._newest()
        return Response(content, status, NO_STORE, JSON_TYPE)

    async def home(self, request: Request) -> Response:
        """Show what this is, and before it what is wrong, if anything is."""
        _, content = await self._newest()
        wrong = "".join(f"<li>{escape(each)}</li>" for each in json.loads(content)["reasons"])
        said = f'<div role="status"><p>Not all is well:</p><ul>{wrong}</ul></div>' if wrong else ""
        return Response(HOME.replace(STATE, said), headers=NO_STORE, media_type=PAGE_TYPE)

    async def _newest(self) -> tuple[int, bytes]:
        async with self._asked:
            if stopwatch() >= self._until:
                self._answer = await self._ask()
                self._until = stopwatch() + HEALTH_HOLDS
        return self._answer

    async def _ask(self) -> tuple[int, bytes]:
        try:
            health = await asyncio.to_thread(self._health)
        except Exception:  # whatever keeps the state from being read, that is the state
            log.exception("the state of the service cannot be read")
            return 503, UNKNOWN
        return (200 if health.healthy else 503), health.as_json()


def _metrics(render: Callable[[], bytes]) -> Handler:
    async def page(request: Request) -> Response:
        content = await asyncio.to_thread(render)
        return Response(content, 200, NO_STORE, METRICS_TYPE)

    return page
