"""A clock that is moved by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


class HandClock:
    """Shows the moment it was set to."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment.astimezone(UTC)

    def now(self) -> datetime:
        """Return the moment it was set to."""
        return self.moment

    def on(self, by: timedelta) -> datetime:
        """Move on, or back; return the new moment."""
        self.moment += by
        return self.moment
