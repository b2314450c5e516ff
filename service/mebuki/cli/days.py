"""Days as people type them."""

from __future__ import annotations

from datetime import date, datetime

from mebuki.clock import SystemClock
from mebuki.domain.site import Site
from mebuki.errors import InputError

ROUND_HOUR = 7
"""The local hour for which a round of a given day is run (design default)."""


def read_day(text: str) -> date:
    """Return a day given as YYYY-MM-DD; `InputError` otherwise."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        msg = f"--on {text}: not a day; write it as YYYY-MM-DD, for example 2013-03-27"
        raise InputError(msg) from error


def nominal(site: Site, on: str | None) -> tuple[date, datetime]:
    """Return the local day and the moment (UTC) of a round.

    A given day means 07:00 local time; without one it is now.
    """
    if on is None:
        now = SystemClock().now()
        return now.astimezone(site.zone).date(), now
    day = read_day(on)
    return day, site.moment(day, ROUND_HOUR)
