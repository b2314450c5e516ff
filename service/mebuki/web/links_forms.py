"""Forms as they arrive: small, of one of the two kinds that browsers and mailers send.

RFC 8058 lets a mailer send its one click as ``multipart/form-data`` or as
``application/x-www-form-urlencoded``; browsers send the latter for our pages.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl

from starlette.requests import ClientDisconnect, Request

LONGEST_FORM: Final = 100_000
"""Bytes of a form, at most: five hundred trees ticked take a third of it."""

MOST_FIELDS: Final = 2000

LONGEST_WAIT: Final = 15.0
"""Seconds that a form may take to arrive (design default)."""

ONE_CLICK: Final = ("List-Unsubscribe", "One-Click")
"""What a mailer sends to take a reader off a list (RFC 8058, section 3.1)."""


_BOUNDARY: Final = re.compile(r""";\s*boundary=(?:"([^"]{1,70})"|([^\s;"]{1,70}))""", re.IGNORECASE)
_FIELD: Final = re.compile(
    rb"""^content-disposition:\s*form-data\s*;[^\r\n]*?\bname=(?:"([^"\r\n]*)"|([^\s;"]+))""",
    re.IGNORECASE | re.MULTILINE,
)


class FormError(Exception):
    """A form cannot be read; it says with which status that is answered."""

    def __init__(self, status: int) -> None:
        self.status = status
        super().__init__(f"a form was refused with {status}")


@dataclass(frozen=True, slots=True)
class Form:
    """The fields of a form, each with all its values."""

    fields: Mapping[str, tuple[str, ...]]

    def one(self, name: str) -> str:
        """Return the first value of a field; empty where there is none."""
        return next(iter(self.fields.get(name, ())), "")

    def all(self, name: str) -> tuple[str, ...]:
        """Return the values of a field."""
        return self.fields.get(name, ())

    @property
    def one_click(self) -> bool:
        """Whether a mailer sent it, and not one of our pages."""
        name, value = ONE_CLICK
        return value in self.all(name)


async def read_form(request: Request, wait: float = LONGEST_WAIT) -> Form:
    """Return the form of a request.

    Parameters
    ----------
    wait
        Seconds that it may take to arrive.

    Raises
    ------
    FormError
        If it is too long, too slow, of another kind, or garbled.
    """
    try:
        async with asyncio.timeout(wait):
            content = await _content(request)
    except TimeoutError as error:
        raise FormError(408) from error
    except ClientDisconnect as error:
        raise FormError(400) from error
    kind = request.headers.get("content-type", "")
    name = kind.partition(";")[0].strip().lower()
    if not content:
        return Form({})
    try:
        if name == "application/x-www-form-urlencoded":
            text = content.decode("utf-8", "replace")
            pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS)
        elif name == "multipart/form-data":
            pairs = list(_parts(kind, content))
        else:
            raise FormError(415)
    except ValueError as error:
        raise FormError(400) from error
    found: dict[str, tuple[str, ...]] = {}
    for field, value in pairs:
        found[field] = (*found.get(field, ()), value)
    return Form(found)


async def _content(request: Request) -> bytes:
    content = bytearray()
    async for chunk in request.stream():
        content += chunk
        if len(content) > LONGEST_FORM:
            raise FormError(413)
    return bytes(content)


def _parts(kind: str, content: bytes) -> Iterator[tuple[str, str]]:
    """Yield the fields of a ``multipart/form-data`` body (RFC 7578); parts within parts are text.

    Raises
    ------
    ValueError
        If it does not say where its parts end.
    """
    boundary = _BOUNDARY.search(kind)
    if boundary is None:
        msg = "a form in parts without a boundary"
        raise ValueError(msg)
    mark = b"--" + (boundary[1] or boundary[2]).encode("latin-1", "replace")
    for part in (b"\r\n" + content).split(b"\r\n" + mark)[1:]:
        head, _, value = part.partition(b"\r\n\r\n")
        name = _FIELD.search(head)
        if name is not None:
            told = name[1] if name[1] is not None else name[2]
            yield told.decode("utf-8", "replace"), value.decode("utf-8", "replace")
