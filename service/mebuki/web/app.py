"""The pages of the demo: the report and the feed, from bytes prepared beforehand."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import datetime
from typing import Final

from starlette.applications import Starlette
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from mebuki.web.conditional import Prepared, answer

CALENDAR_TYPE: Final = "text/calendar; charset=utf-8"
PAGE_TYPE: Final = "text/html; charset=utf-8"
CACHE: Final = ("cache-control", "private, max-age=300")

SAFE: Final = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "x-robots-tag": "noindex, nofollow",
    "content-security-policy": (
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
}
"""Headers of every answer: the report needs its own styles and nothing from anywhere else."""

# Calendar services refuse a feed that robots.txt forbids, so nothing is forbidden here;
# X-Robots-Tag keeps it out of search results.
ROBOTS: Final = "User-agent: *\nDisallow:\n"

Handler = Callable[[Request], Awaitable[Response]]


class SafeHeaders:
    """Adds the headers of `SAFE` to every answer, errors included."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SAFE.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, send_with_headers)


def demo_app(report: bytes, feed: bytes, feed_path: str, last_modified: datetime) -> Starlette:
    """Return the application: the report at ``/``, the feed at its path, nothing else.

    Parameters
    ----------
    feed_path
        Begins with ``/`` and ends in ``.ics``.
    last_modified
        When the newest change was published (aware).
    """
    page = Prepared(report, PAGE_TYPE, last_modified, (CACHE,))
    calendar = Prepared(
        feed,
        CALENDAR_TYPE,
        last_modified,
        (CACHE, ("content-disposition", 'inline; filename="mebuki.ics"')),
    )
    app = Starlette(
        routes=[
            Route("/", _serving(page)),
            Route(feed_path, _serving(calendar)),
            Route("/robots.txt", robots),
        ],
        middleware=[Middleware(SafeHeaders)],
        exception_handlers={HTTPException: refused},
    )
    app.router.redirect_slashes = False  # a calendar's address has one spelling
    return app


def _serving(prepared: Prepared) -> Handler:
    async def serve(request: Request) -> Response:
        return answer(prepared, request.headers)

    return serve


async def robots(request: Request) -> Response:
    """Answer ``/robots.txt``."""
    return PlainTextResponse(ROBOTS)


async def refused(request: Request, error: Exception) -> Response:
    """Answer an HTTP error in one plain line."""
    if not isinstance(error, HTTPException):
        raise error
    return PlainTextResponse(
        f"{error.detail}\n", status_code=error.status_code, headers=error.headers
    )
