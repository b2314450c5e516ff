"""The only reader of the time.

Everything else takes the moment or the day as a parameter. ruff's banned-api
rule keeps it so.
"""

from __future__ import annotations

from datetime import UTC, datetime
from time import monotonic
from typing import Protocol


class Clock(Protocol):
    """Something that tells the present moment."""

    def now(self) -> datetime:
        """Return the present moment, aware, in UTC."""
        ...


class SystemClock:
    """The clock of the machine."""

    def now(self) -> datetime:
        """Return the machine's present moment in UTC."""
        return datetime.now(UTC)


class FixedClock:
    """A clock that stands still: for replays and rounds of a given day."""

    def __init__(self, moment: datetime) -> None:
        self._moment = moment.astimezone(UTC)

    def now(self) -> datetime:
        """Return the moment the clock was set to."""
        return self._moment


def stopwatch() -> float:
    """Return seconds since some moment, for durations only: no step of the clock changes it."""
    return monotonic()
