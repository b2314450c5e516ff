"""Our manners towards one provider: the open circuit and the budget of calls, as a value.

It is kept in the snapshot store, so that a process started every hour by
another program behaves as well as one that runs for years.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta

FAILURES_UNTIL_OPEN = 3
"""Failed questions in a row after which a provider is left alone."""

FIRST_REST, LONGEST_REST = timedelta(minutes=5), timedelta(hours=3)
"""Rest after the circuit opens; each further failure doubles it."""

REFUSED_REST = timedelta(hours=6)
"""Rest after 403: the provider knows us and wants us to stop."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Weights a provider allows per UTC minute, hour and day; infinite where it names none."""

    minute: float = float("inf")
    hour: float = float("inf")
    day: float = float("inf")


@dataclass(frozen=True, slots=True)
class Conduct:
    """What was spent and how it went.

    ``minute``, ``hour``, ``day`` are the weights spent in the UTC minute, hour
    and day of ``since``; ``closed_until`` is when an open circuit lets the
    next question through, with the reason.
    """

    since: str = ""
    minute: float = 0.0
    hour: float = 0.0
    day: float = 0.0
    failures: int = 0
    closed_until: str = ""
    reason: str = ""

    def resting(self, at: datetime) -> str:
        """Return why nothing may be asked now, or nothing."""
        until = _moment(self.closed_until)
        if until is None or until <= at:
            return ""
        return f"{self.reason}; not asked again before {until:%Y-%m-%d %H:%M} UTC"

    def exceeding(self, weight: float, limits: Limits, at: datetime) -> str:
        """Return which limit a call of some weight would break now, or nothing."""
        now = self.turned(at)
        for word in ("minute", "hour", "day"):
            spent, allowed = getattr(now, word), getattr(limits, word)
            if spent + weight > allowed:
                return (
                    f"the call weighs {weight:.1f} and {spent:.1f} of the "
                    f"{allowed:g} allowed in this {word} are spent"
                )
        return ""

    def turned(self, at: datetime) -> Conduct:
        """Return the counts with those of past minutes, hours and days forgotten."""
        since, now = self.since, _stamp(at)
        if since == now:
            return self
        same_day = since[:10] == now[:10]
        same_hour = since[:13] == now[:13]
        return replace(
            self,
            since=now,
            minute=0.0,
            hour=self.hour if same_hour else 0.0,
            day=self.day if same_day else 0.0,
        )

    def spending(self, weight: float, at: datetime) -> Conduct:
        """Return the counts after one more call."""
        now = self.turned(at)
        return replace(
            now, minute=now.minute + weight, hour=now.hour + weight, day=now.day + weight
        )

    def succeeded(self) -> Conduct:
        """Return the conduct after a good answer: the circuit is whole again."""
        return replace(self, failures=0, closed_until="", reason="")

    def failed(self, reason: str, at: datetime, rest: timedelta | None = None) -> Conduct:
        """Return the conduct after a failure; a rest the provider asked for holds at once."""
        failures = self.failures + 1
        if rest is None:
            doublings = min(failures - FAILURES_UNTIL_OPEN, 10)
            rest = min(FIRST_REST * 2**doublings, LONGEST_REST) if doublings >= 0 else None
        until = "" if rest is None else (at + rest).astimezone(UTC).isoformat()
        return replace(self, failures=failures, closed_until=until, reason=reason)

    def as_bytes(self) -> bytes:
        """Return the conduct as JSON."""
        return json.dumps(asdict(self)).encode()


def conduct_from(content: bytes) -> Conduct:
    """Return the conduct in some bytes; damaged bytes give a fresh one."""
    try:
        found = json.loads(content)
        return Conduct(
            since=str(found["since"]),
            minute=float(found["minute"]),
            hour=float(found["hour"]),
            day=float(found["day"]),
            failures=int(found["failures"]),
            closed_until=str(found["closed_until"]),
            reason=str(found["reason"]),
        )
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return Conduct()


def _stamp(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y-%m-%dT%H:%M}"


def _moment(value: str) -> datetime | None:
    try:
        found = datetime.fromisoformat(value)
    except ValueError:
        return None
    return found if found.tzinfo else None
