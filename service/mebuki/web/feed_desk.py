"""What the feed route asks of whoever keeps the feeds, and what an address must look like."""

from __future__ import annotations

import hashlib
import re
from datetime import datetime
from typing import Final, Protocol

from mebuki.domain.feed import Revoked

_TOKEN: Final = re.compile(r"[A-Za-z0-9_-]{22,86}", re.ASCII)
"""At least 128 bits in base 64 for addresses; at most 64 bytes."""


class ReadyFeed(Protocol):
    """A feed as it is sent."""

    @property
    def etag(self) -> str:
        """The strong tag of the bytes, in quotation marks."""
        ...

    @property
    def content(self) -> bytes:
        """The whole calendar."""
        ...

    @property
    def changed_at(self) -> datetime:
        """When the newest change was published (aware)."""
        ...


class FeedReader(Protocol):
    """Where feeds are kept."""

    def read(self, token: str) -> ReadyFeed | Revoked | None:
        """Return the feed behind a secret address, the word that it was ended, or None.

        Called on threads of its own. Any exception is taken as: cannot be read now.
        """
        ...


def well_formed(token: str) -> bool:
    """Say whether a text can be the token of a feed at all."""
    return _TOKEN.fullmatch(token) is not None


def digest_of(token: str) -> bytes:
    """Return what a token is looked up by, so that no comparison ever sees the token itself."""
    return hashlib.sha256(token.encode("ascii", "replace")).digest()
