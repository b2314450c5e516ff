"""A sign of life to an address of the operator's choice, so that silence is noticed.

It is given only while all is well: a service that is blind, or whose letters
do not leave, stays silent, and whoever listens raises the alarm.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Mapping
from typing import Final, Protocol

from mebuki.clock import Clock
from mebuki.weather.asking import Request
from mebuki.web.health import BeatFacts, Health, Status

log = logging.getLogger(__name__)

PATIENCE: Final = 10.0
MOST_BYTES: Final = 65_536
_GOOD: Final = range(200, 300)


class Answer(Protocol):
    """What came back."""

    @property
    def status(self) -> int:
        """The HTTP status."""
        ...


class Client(Protocol):
    """The one way to the network: `mebuki.weather.transport.Transport`."""

    def send(self, request: Request, validators: Mapping[str, str]) -> Answer:
        """Send a request and wait; called on a thread."""
        ...


async def beat(url: str, client: Client) -> bool:
    """Fetch the address once; say whether it answered well. Never raises."""
    request = Request(
        provider="heartbeat", what="a sign of life", url=url, accept=("*/*",),
        patience=PATIENCE, most_bytes=MOST_BYTES, stored=False,
    )  # fmt: skip
    try:
        answer = await asyncio.to_thread(client.send, request, {})
    except Exception as error:  # a sign of life must not end the life
        log.warning("the heartbeat failed: %s", str(error).replace(url, "…"))
        return False
    if answer.status not in _GOOD:
        log.warning("the heartbeat failed: it was answered with %d", answer.status)
    return answer.status in _GOOD


class Heart:
    """Beats while the service is well, and remembers how it went.

    Parameters
    ----------
    url
        Empty for none.
    """

    def __init__(self, url: str, client: Client, clock: Clock) -> None:
        self._url = url
        self._client = client
        self._clock = clock
        self._facts = BeatFacts("waiting" if url else "off")

    @property
    def facts(self) -> BeatFacts:
        """How the last beat went."""
        return self._facts

    async def beat(self, health: Health) -> None:
        """Beat once if the service is well."""
        if not self._url:
            return
        if health.status is not Status.OK:
            state = "held"
        else:
            state = "sent" if await beat(self._url, self._client) else "failed"
        self._facts = BeatFacts(state, self._clock.now())
