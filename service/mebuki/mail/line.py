"""One open line to a mail server, and how long it may be used."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import Any, Final

from aiosmtplib import SMTP, SMTPException

from mebuki.clock import stopwatch

LETTERS_A_LINE: Final = 100
"""A line is closed after so many letters: many servers allow no more (default)."""

IDLE_SECONDS: Final = 30.0
"""A line that was not used for longer is opened anew [s]."""

QUIT_SECONDS: Final = 2.0

BROKEN: Final = (OSError, UnicodeError, SMTPException)
"""What a line raises that cannot be opened, breaks or falls silent."""


class Line:
    """An open line, the event loop it belongs to, and how it was used."""

    def __init__(self, client: SMTP) -> None:
        self.client = client
        self._loop = asyncio.get_running_loop()
        self._letters = 0
        self._used = stopwatch()

    @property
    def fresh(self) -> bool:
        """Whether it carried no letter yet."""
        return self._letters == 0

    @property
    def usable(self) -> bool:
        """Whether it may carry another letter."""
        return (
            self._loop is asyncio.get_running_loop()
            and self.client.is_connected
            and self._letters < LETTERS_A_LINE
            and stopwatch() - self._used < IDLE_SECONDS
        )

    def carried(self) -> None:
        """Note that it carried a letter."""
        self._letters += 1
        self._used = stopwatch()

    async def reset(self) -> bool:
        """Begin anew after a refusal; False if the line cannot be used any more."""
        if not self.client.is_connected:
            return False
        try:
            await self.client.rset(timeout=QUIT_SECONDS)
        except BROKEN:
            return False
        return True

    async def quit(self) -> None:
        """Hang up in the way the protocol has it, or just so."""
        if self._loop is not asyncio.get_running_loop():
            return
        transport = self.client.transport
        with suppress(*BROKEN):
            await self.client.quit(timeout=QUIT_SECONDS)
        await hang_up(self.client, transport)


async def hang_up(client: SMTP, transport: Any = None) -> None:
    """Close a line at once, and let the loop clear it away."""
    closed: Any = transport or client.transport
    client.close()
    if closed is not None:
        closed.abort()
        await asyncio.sleep(0)
