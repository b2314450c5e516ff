"""Header lines of messages, as bytes that no text can break out of.

Text goes through the standard library (`email.policy`, `email.header`), which encodes and
folds it. Two kinds of header do not go through its policies, since these spoil them (seen
with Python 3.11, and held by tests): a display name that is folded loses its quotes, so that
``Mebuki, a garden, ...`` becomes several addresses; an address of a page longer than a line
becomes encoded words, which no mail program follows. Such tokens are written as they are,
after a check, and broken only between each other.
"""

from __future__ import annotations

import hashlib
import re
from email.header import Header
from email.headerregistry import Address
from email.policy import SMTP
from email.utils import quote
from functools import lru_cache
from typing import Final

from mebuki.domain.text import one_line
from mebuki.errors import InputError

LINE: Final = 78
"""Longest line that a header should have (RFC 5322, 2.1.1)."""

LONGEST_TOKEN: Final = 960
"""Longest token: with a header's name no line may pass 998 octets (RFC 5322, 2.1.1)."""

SHORT_NAME: Final = 50
"""Names up to which a line holds the name whole."""

LONGEST_LABEL: Final = 63
_TOKEN: Final = re.compile(r"[\x21-\x7e]+")
_HOST: Final = re.compile(r"[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?", re.IGNORECASE)
_UTF8: Final = SMTP.clone(utf8=True)


def text_head(name: str, value: str, *, utf8: bool = False) -> bytes:
    """Return a header of text; ``utf8`` writes it raw (RFC 6532).

    Raises
    ------
    ValueError
        If the value holds a line break.
    """
    return _folded(name, value, utf8)


def address_head(name: str, value: Address) -> bytes:
    r"""Return a header with one address, in seven bits but for a local part of another script.

    A short name goes whole and quoted, a long one or one of another script as encoded words.

    >>> address_head("To", Address("Ann, keeper", "ann", "example.org"))
    b'To: "Ann, keeper" <ann@example.org>\r\n'
    """
    shown = one_line(value.display_name)
    if not shown:
        return f"{name}: {value.addr_spec}\r\n".encode()
    if shown.isascii() and len(shown) <= SHORT_NAME and "=?" not in shown:
        told = f'"{quote(shown)}"'
    else:
        told = _encoded(name, shown)
    return _with_last(name, told, f"<{value.addr_spec}>")


def token_head(name: str, *tokens: str, between: str = " ") -> bytes:
    """Return a header of tokens that stay whole, on lines of their own where it grows long.

    Raises
    ------
    InputError
        If a token holds anything but visible ASCII, or is too long for a line.
    """
    for token in tokens:
        if not _TOKEN.fullmatch(token) or len(token) > LONGEST_TOKEN:
            msg = f"{name}: {token[:80]!r} cannot be written into a header"
            raise InputError(msg)
    told = between.join(tokens)
    if len(name) + 2 + len(told) > LINE:
        told = f"{between.rstrip()}\r\n ".join(tokens)
    return f"{name}: {told}\r\n".encode("ascii")


def list_head(garden: str, name: str, host: str) -> bytes:
    """Return the List-ID of a garden (RFC 2919): its name, and an identity that stays."""
    words = " ".join(re.findall(r"[\w-]+", one_line(name)))
    label = garden if len(garden) <= LONGEST_LABEL else f"{garden[:30]}-{digest(garden)[:16]}"
    short = words.isascii() and len(words) <= SHORT_NAME
    told = words if short else _encoded("List-ID", words)
    return _with_last("List-ID", told, f"<{label}.{host}>")


def _encoded(name: str, text: str) -> str:
    """Return a text as encoded words (RFC 2047), folded."""
    return Header(text, "utf-8", LINE - 2, name).encode(linesep="\r\n")


def _with_last(name: str, told: str, last: str) -> bytes:
    """Return a header of a text and a token, which stands on a line of its own if need be."""
    lines = f"{name}: {told}".rstrip()
    room = LINE - len(lines.rpartition("\n")[2])
    gap = " " if len(last) < room else "\r\n "
    return f"{lines}{gap}{last}\r\n".encode()


def host_in_ascii(host: str) -> str:
    """Return a host name as identities need it.

    Raises
    ------
    InputError
        If it is no name of a host.
    """
    try:
        told = host.encode("idna").decode("ascii")
    except UnicodeError:
        told = ""
    if not _HOST.fullmatch(told):
        msg = f"{host!r} is not a host name such as garden.example"
        raise InputError(msg)
    return told


def digest(*parts: str) -> str:
    """Return 32 hexadecimal digits that stand for some texts."""
    return hashlib.sha256("\x1f".join(parts).encode("utf-8", "replace")).hexdigest()[:32]


@lru_cache(maxsize=512)
def _folded(name: str, value: str, utf8: bool) -> bytes:
    policy = _UTF8 if utf8 else SMTP
    return policy.fold_binary(*policy.header_store_parse(name, value))
