"""Prepared bytes over HTTP, with the validators that save sending them again (RFC 9110)."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import format_datetime, parsedate_to_datetime

from starlette.datastructures import Headers
from starlette.responses import Response


@dataclass(frozen=True, slots=True)
class Prepared:
    """Bytes ready to be served.

    Parameters
    ----------
    content_type
        With its charset.
    last_modified
        The newest change in the content (aware).
    headers
        Further headers of every answer, 304 included.
    """

    content: bytes
    content_type: str
    last_modified: datetime
    headers: tuple[tuple[str, str], ...] = ()
    etag: str = field(init=False)

    def __post_init__(self) -> None:
        digest = hashlib.sha256(self.content).hexdigest()[:32]
        object.__setattr__(self, "etag", f'"{digest}"')


def answer(prepared: Prepared, asked: Headers) -> Response:
    """Return 200 with the bytes, or 304 where the asker has them already.

    If-None-Match decides alone when it is there; a date is looked at only
    without it, and one that cannot be read is ignored.
    """
    whole = prepared.last_modified.astimezone(UTC).replace(microsecond=0)
    validators = {
        **dict(prepared.headers),
        "etag": prepared.etag,
        "last-modified": format_datetime(whole, usegmt=True),
    }
    tags = asked.getlist("if-none-match")
    if known(prepared.etag, whole, tags, asked.get("if-modified-since", "")):
        return Response(status_code=304, headers=validators)
    return Response(prepared.content, media_type=prepared.content_type, headers=validators)


def known(etag: str, changed: datetime, tags: Sequence[str], since: str) -> bool:
    """Say whether an asker has the bytes already.

    Parameters
    ----------
    etag
        Of the representation that would be sent.
    changed
        When it changed last (aware, whole seconds).
    tags
        The lines of If-None-Match; where there is one, it decides alone.
    since
        If-Modified-Since, or empty.
    """
    return _names(tags, etag) if tags else _not_newer(changed, since)


def _names(tags: Sequence[str], etag: str) -> bool:
    """Say whether a list of tags, weak ones included, names this one."""
    offered = [tag.strip().removeprefix("W/") for line in tags for tag in line.split(",")]
    return "*" in offered or etag in offered


def _not_newer(changed: datetime, since: str) -> bool:
    try:
        moment = parsedate_to_datetime(since)
    except (ValueError, TypeError, IndexError, OverflowError):
        return False
    return moment.tzinfo is not None and changed <= moment
