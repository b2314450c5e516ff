"""Air and rain of the coming hours at one place, for work that wants dry or cool weather."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mebuki.domain.warmth import HoursAhead
from mebuki.domain.weather import HourlySeries, hour_number

BEHIND, AHEAD = timedelta(hours=24), timedelta(days=7)
"""Span told round a moment; further rain is too unsure to plan a day's work by (default)."""


def hours_ahead(here: HourlySeries, at: datetime) -> HoursAhead | None:
    """Return a day behind and a week ahead of a moment (UTC), or none without weather.

    Parameters
    ----------
    here
        The weather at the place.
    at
        The moment of the round.

    References
    ----------
    A plain extract of the series; the span is our own.
    """
    near = here.between(hour_number(at - BEHIND), hour_number(at + AHEAD))
    if not len(near.origin):
        return None
    return HoursAhead(
        begins=datetime.fromtimestamp(near.start * 3600, UTC),
        air=tuple(near.air_temperature.tolist()),
        rain=tuple(near.precipitation.tolist()),
    )
