"""Forms as they arrive: small, of one of the two kinds that browsers and mailers send.

RFC 8058 lets a mailer send its one click as ``multipart/form-data`` or as
``application/x-www-form-urlencoded``; browsers send the latter for our pages.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from email.message import EmailMessage
from email.parser import BytesParser
from email.policy import HTTP
from typing import Final
from urllib.parse import parse_qsl

from starlette.requests import Request

LONGEST_FORM: Final = 100_000
"""Bytes of a form, at most: five hundred trees ticked take a third of it."""

MOST_FIELDS: Final = 2000

ONE_CLICK: Final = ("List-Unsubscribe", "One-Click")
"""What a mailer sends to take a reader off a list (RFC 8058, section 3.1)."""


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


async def read_form(request: Request) -> Form:
    """Return the form of a request.

    Raises
    ------
    FormError
        If it is too long, of another kind, or garbled.
    """
    content = bytearray()
    async for chunk in request.stream():
        content += chunk
        if len(content) > LONGEST_FORM:
            raise FormError(413)
    kind = request.headers.get("content-type", "")
    name = kind.partition(";")[0].strip().lower()
    if not content:
        return Form({})
    try:
        if name == "application/x-www-form-urlencoded":
            text = content.decode("utf-8", "replace")
            pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS)
        elif name == "multipart/form-data":
            pairs = _parts(kind, bytes(content))
        else:
            raise FormError(415)
    except ValueError as error:
        raise FormError(400) from error
    found: dict[str, tuple[str, ...]] = {}
    for field, value in pairs:
        found[field] = (*found.get(field, ()), value)
    return Form(found)


def _parts(kind: str, content: bytes) -> list[tuple[str, str]]:
    head = b"Content-Type: " + kind.encode("latin-1", "replace") + b"\r\n\r\n"
    message = BytesParser(policy=HTTP).parsebytes(head + content)
    pairs = []
    for part in message.iter_parts():
        name = part.get_param("name", header="content-disposition")
        if isinstance(part, EmailMessage) and isinstance(name, str):
            value = part.get_payload(decode=True)
            text = value.decode("utf-8", "replace") if isinstance(value, bytes) else ""
            pairs.append((name, text.removesuffix("\r\n")))
    return pairs
