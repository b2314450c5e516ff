"""Feeds over HTTP, answered before anything else looks at the request.

The answers are prepared bytes and prepared headers, so nothing is built here.
Calendar programs differ in what they send; nothing is asked of them but an
address, and what they send in conditional headers is used or ignored, never
refused (RFC 9110 sections 12.5.3 and 13).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Final

from starlette.types import ASGIApp, Receive, Scope, Send

from mebuki.web.conditional import known
from mebuki.web.feed_cache import FeedCache, Missing
from mebuki.web.feed_desk import well_formed
from mebuki.web.shown_feed import RawHeaders, ShownFeed

PREFIX: Final = "/feeds/"
SUFFIX: Final = ".ics"
LONGEST_ENCODING: Final = 200
RETRY_SECONDS: Final = 300

_OK, _UNCHANGED, _NOT_ALLOWED = 200, 304, 405
_REFUSED: Final = {
    Missing.UNKNOWN: (404, "No calendar is kept at this address."),
    Missing.REVOKED: (410, "This calendar address was withdrawn. Ask for a new one."),
    Missing.UNREADABLE: (503, "The calendar cannot be read at the moment. Try again later."),
}


class FeedRoute:
    """Answers ``/feeds/<token>.ics`` and passes everything else on.

    Parameters
    ----------
    counted
        Told the status of each answer.
    """

    def __init__(self, app: ASGIApp, cache: FeedCache, counted: Callable[[int], object]) -> None:
        self._app = app
        self._cache = cache
        self._counted = counted

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "http":
            path: str = scope["path"]
            root: str = scope.get("root_path", "")
            if root and path.startswith(f"{root}/"):
                path = path[len(root) :]
            if path.startswith(PREFIX):
                self._counted(await self._answer(path, scope, send))
                return
        await self._app(scope, receive, send)

    async def _answer(self, path: str, scope: Scope, send: Send) -> int:
        method = scope["method"]
        if method not in {"GET", "HEAD"}:
            allowed = [(b"allow", b"GET, HEAD")]
            return await _refuse(send, _NOT_ALLOWED, "A calendar can only be read.", allowed)
        token = path[len(PREFIX) :].removesuffix(SUFFIX)
        if not path.endswith(SUFFIX) or not well_formed(token):
            return await _refuse(send, *_REFUSED[Missing.UNKNOWN])
        feed = self._cache.fresh(token) or await self._cache.find(token)
        if isinstance(feed, Missing):
            status, text = _REFUSED[feed]
            later = [(b"retry-after", str(RETRY_SECONDS).encode())]
            return await _refuse(
                send, status, text, later if feed is Missing.UNREADABLE else [], method
            )
        packed, unchanged = _asked(scope["headers"], feed)
        face = feed.packed if packed else feed.plain
        if unchanged:
            return await _send(send, _UNCHANGED, face.known, b"")
        if method == "HEAD":
            return await _send(send, _OK, face.whole, b"")
        content = feed.packed_bytes if packed else self._cache.plain_bytes(token, feed)
        return await _send(send, _OK, face.whole, content)


def _asked(headers: RawHeaders, feed: ShownFeed) -> tuple[bool, bool]:
    """Return whether packed bytes are understood, and whether the asker has them already."""
    tags: list[bytes] = []
    encodings = since = b""
    for name, value in headers:
        if name == b"if-none-match":
            tags.append(value)
        elif name == b"accept-encoding":
            encodings = value if not encodings else encodings + b"," + value
        elif name == b"if-modified-since":
            since = value
    packed = bool(encodings) and len(encodings) <= LONGEST_ENCODING and takes_gzip(encodings)
    etag = (feed.packed if packed else feed.plain).etag
    if tags:
        return packed, tags[0] == etag or known(
            etag.decode("latin-1"), feed.changed, [tag.decode("latin-1") for tag in tags], ""
        )
    if since:
        return packed, since == feed.last_modified or known(
            "", feed.changed, [], since.decode("latin-1")
        )
    return packed, False


@lru_cache(maxsize=256)
def takes_gzip(encodings: bytes) -> bool:
    """Say whether an Accept-Encoding header takes gzip; rubbish does not."""
    wanted: dict[str, bool] = {}
    for part in encodings.decode("latin-1").lower().split(","):
        name, _, parameter = part.partition(";")
        wanted[name.strip()] = _weight(parameter) > 0
    for name in ("gzip", "x-gzip", "*"):
        if name in wanted:
            return wanted[name]
    return False


def _weight(parameter: str) -> float:
    name, _, value = parameter.replace(" ", "").partition("=")
    if not name:
        return 1.0
    try:
        return float(value) if name == "q" else 0.0
    except ValueError:
        return 0.0


async def _refuse(
    send: Send, status: int, text: str, headers: RawHeaders | None = None, method: str = "GET"
) -> int:
    content = f"{text}\n".encode()
    lines: RawHeaders = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(content)).encode()),
        (b"cache-control", b"no-store"),
        (b"x-robots-tag", b"noindex, nofollow"),
        (b"x-content-type-options", b"nosniff"),
        *(headers or []),
    ]
    return await _send(send, status, lines, b"" if method == "HEAD" else content)


async def _send(send: Send, status: int, headers: RawHeaders, content: bytes) -> int:
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": content})
    return status
