"""Not more letters a minute than a mail server likes."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable
from typing import Final

from mebuki.clock import stopwatch

MINUTE: Final = 60.0


class Pace:
    """Lets so many through in any span of a minute, the rest wait for their turn.

    Parameters
    ----------
    per_minute
        0 for as many as come.
    watch, sleep
        The time that goes by [s], and a way to let it go by.
    """

    def __init__(
        self,
        per_minute: int,
        watch: Callable[[], float] = stopwatch,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        self._watch = watch
        self._sleep = sleep
        self._begun: deque[float] = deque(maxlen=per_minute)

    async def turn(self) -> None:
        """Return when it is the caller's turn."""
        if self._begun.maxlen == 0:
            return
        while len(self._begun) == self._begun.maxlen:
            wait = self._begun[0] + MINUTE - self._watch()
            if wait <= 0:
                break
            await self._sleep(wait)
        self._begun.append(self._watch())
