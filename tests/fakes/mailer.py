"""A mail server in memory that can refuse, be away, or have its client killed."""

from __future__ import annotations

import asyncio

from mebuki.errors import DeliveryError
from mebuki.rounds.ports import Letter


class Killed(BaseException):
    """The process ends here: nothing that follows is run."""


class FakeMailer:
    """Takes letters into a list.

    ``fails`` names letters by key and how they fail; ``away`` lets nobody in;
    at the attempt ``dies_at`` (from 0) the client is killed, before or after
    the letter was taken. Each letter takes ``slow`` seconds.
    """

    def __init__(self) -> None:
        self.taken: list[Letter] = []
        self.attempts = 0
        self.fails: dict[str, Exception] = {}
        self.away = False
        self.dies_at: int | None = None
        self.dies_after_taking = False
        self.slow: float = 0
        self.closed = 0

    async def send(self, letter: Letter) -> None:
        """Take a letter, or fail as told."""
        number, self.attempts = self.attempts, self.attempts + 1
        await asyncio.sleep(self.slow)
        if self.away:
            msg = "connection refused"
            raise DeliveryError(msg, server=True)
        if letter.key in self.fails:
            raise self.fails[letter.key]
        if number == self.dies_at and not self.dies_after_taking:
            raise Killed
        self.taken.append(letter)
        if number == self.dies_at:
            raise Killed

    async def close(self) -> None:
        """Count how often the line was hung up."""
        self.closed += 1
