"""One question to a provider, as a value: it can be printed, counted and stored under a key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from types import MappingProxyType
from urllib.parse import urlencode, urlsplit

JSON = ("application/json", "application/geo+json", "application/problem+json")
MOST_BYTES = 20_000_000
"""Decoded bytes that an answer may have; five years of hours have about two million."""


@dataclass(frozen=True, slots=True)
class Request:
    """A GET request that is ready to be sent.

    Parameters
    ----------
    provider
        Whose limits, circuit and budget it counts to.
    what
        What is asked for, in words.
    url, parameters
        In the order they are sent.
    secret
        Parameters that are sent and never shown, logged or stored.
    accept
        Content types that are read; anything else is refused.
    keep
        How long an answer holds if the provider does not say.
    weight
        What the call counts for at the provider.
    patience
        Seconds for the whole exchange.
    may_wait
        Whether a short wait that the provider asks for is waited out at once.
        MET Norway wants no second try after 403 and 429.
    stored
        Whether the answer is kept; not where what is made of it is kept instead.
    kept_as
        The key of the snapshot where the address changes with the day.
    """

    provider: str
    what: str
    url: str
    parameters: tuple[tuple[str, str], ...] = ()
    secret: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    accept: tuple[str, ...] = JSON
    keep: timedelta = timedelta(hours=1)
    weight: float = 1.0
    patience: float = 60.0
    most_bytes: int = MOST_BYTES
    may_wait: bool = True
    stored: bool = True
    kept_as: str = ""

    @property
    def key(self) -> str:
        """What a snapshot is kept under: the address without anything secret, or ``kept_as``."""
        return self.kept_as or self.plain_address

    @property
    def plain_address(self) -> str:
        """The address without anything secret."""
        query = urlencode(self.parameters, safe=",:")
        return f"{self.url}?{query}" if query else self.url

    @property
    def address(self) -> str:
        """The whole address, secrets included: only for sending."""
        query = urlencode((*self.parameters, *sorted(self.secret.items())), safe=",:")
        return f"{self.url}?{query}" if query else self.url

    @property
    def host(self) -> str:
        """The host and port that are asked."""
        return urlsplit(self.url).netloc

    def shown(self) -> str:
        """Return the request for people, secrets as dots."""
        hidden = "".join(f"&{name}=…" for name in sorted(self.secret))
        return f"GET {self.plain_address}{hidden}"
