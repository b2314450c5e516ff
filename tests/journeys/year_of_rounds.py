"""The rounds of a measured year over the demo garden, run once for all that look at them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache

from mebuki.agenda.entry import Published
from mebuki.agenda.memory import remembered
from mebuki.bootstrap import Inputs, demo_inputs, plan_day
from mebuki.rounds.planned import Plan

FIRST, LAST = date(2013, 1, 1), date(2013, 12, 31)
EVERY_DAY = [FIRST + timedelta(days=n) for n in range((LAST - FIRST).days + 1)]
HOUR = 7


@dataclass
class Year:
    """What the rounds of some days of the year left, in order."""

    plans: list[Plan]
    published: list[Published]


def nominal(inputs: Inputs, day: date, hour: int = HOUR) -> datetime:
    """Return the moment (UTC) of the round of a day at a local hour."""
    return datetime.combine(day, time(hour), inputs.garden.site.zone).astimezone(UTC)


def share() -> tuple[date, ...]:
    """Return every fourth day, and each day of the weeks that decide."""
    spring = {date(2013, 3, 20) + timedelta(days=n) for n in range(10)}
    spike = {date(2013, 5, 5) + timedelta(days=n) for n in range(7)}
    clocks = {date(2013, 3, 9), date(2013, 3, 10), date(2013, 3, 11), date(2013, 11, 3)}
    ends = {FIRST, date(2013, 12, 30), LAST}
    return tuple(sorted(set(EVERY_DAY[::4]) | spring | spike | clocks | ends))


@cache
def rounds(days: tuple[date, ...], hours: tuple[int, ...] = (HOUR,)) -> Year:
    """Return the rounds of some days at some local hours, each on what the one before left."""
    inputs = demo_inputs()
    year = Year(plans=[], published=[])
    before = Published.nothing()
    for day in days:
        for hour in hours:
            plan = plan_day(inputs, day, nominal(inputs, day, hour), before)
            told = remembered(before.notices, plan.notices, plan.marks, plan.on)
            before = Published(at=plan.at, entries=plan.entries, notices=told)
            year.plans.append(plan)
            year.published.append(before)
    return year
