"""Facts about a service that is well, to be changed one at a time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mebuki.web.health import (
    Facts,
    Health,
    OutboxFacts,
    RoundFacts,
    judge,
    weather_facts,
)

NOW = datetime(2026, 3, 27, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def good_facts() -> Facts:
    """Return the facts of a service that has run for a day."""
    return Facts(
        schema="garden_states",
        started=NOW - 24 * HOUR,
        weather=weather_facts([NOW - HOUR, NOW - 2 * HOUR], NOW),
        rounds=(RoundFacts("plan", NOW - HOUR, 3 * HOUR), RoundFacts("tidy", None)),
        outbox=OutboxFacts(2, NOW - timedelta(minutes=1), 1),
    )


def a_health() -> Health:
    """Return how such a service is."""
    return judge(good_facts(), NOW)
