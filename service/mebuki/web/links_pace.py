"""How often something may be tried, so that guessing and flooding lead nowhere."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from typing import Final

MOST_KNOWN: Final = 10_000
"""Of so many askers is account kept; the ones not seen for longest are forgotten."""


class Pace:
    """Lets each asker through so many times a minute, evenly once that is used up.

    Parameters
    ----------
    stopwatch
        Seconds since some moment, never going back.
    """

    def __init__(self, per_minute: int, stopwatch: Callable[[], float]) -> None:
        self._most = float(per_minute)
        self._stopwatch = stopwatch
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def allows(self, asker: str) -> bool:
        """Count one try of an asker; False where it is one too many."""
        now = self._stopwatch()
        left, at = self._left.pop(asker, (self._most, now))
        left = min(self._most, left + (now - at) * self._most / 60)
        allowed = left >= 1
        self._left[asker] = (left - 1 if allowed else left, now)
        while len(self._left) > MOST_KNOWN:
            self._left.popitem(last=False)
        return allowed
