"""How long a tree can go without water: from a full pot now, until its easy water is used up.

The use of the days that can be seen is taken as reckoned, without rain; beyond them
the weather is taken to go on as it was on their mean. It is what a keeper who goes
away wants to know, not a promise: one hot day more shortens it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from mebuki.domain.outlook import TreeOutlook, WaterDay
from mebuki.domain.wording import count_text

DAY_BEGINS, DAY_ENDS = 8, 20
"""Local hours between which a tree uses its day's water, evenly (default)."""


@dataclass(frozen=True, slots=True)
class Endurance:
    """How long one pot lasts without water.

    Parameters
    ----------
    days
        From a full pot this morning until its easy water is used up [d]; no more
        than the longest time that is told.
    shortest
        The same if the tree uses one standard deviation more, of its use and of what
        the pot holds together [d].
    seen_until
        The last day whose weather was seen.
    open_end
        Whether it lasts longer than is told.
    dry_at
        The moment today at which it would be dry, if it is today.
    """

    days: float
    shortest: float
    seen_until: date
    open_end: bool
    dry_at: datetime | None = None

    def __str__(self) -> str:
        """Return the time in words.

        >>> str(Endurance(2.4, 1.9, date(2013, 7, 4), False))
        'about 2 days'
        >>> str(Endurance(14, 14, date(2013, 1, 4), True))
        'more than 14 days'
        >>> str(Endurance(0.4, 0.3, date(2013, 7, 4), False))
        'about 5 hours of day'
        """
        if self.open_end:
            return f"more than {count_text(round(self.days), 'day')}"
        if self.days < 1:
            hours = round(self.days * (DAY_ENDS - DAY_BEGINS))
            return f"about {count_text(max(hours, 1), 'hour')} of day"
        return f"about {count_text(int(self.days), 'day')}"


def endurance(outlook: TreeOutlook, longest: float) -> Endurance | None:
    """Return how long a pot lasts without water; none where no day can be seen.

    Parameters
    ----------
    outlook
        Of the tree, with its days of water.
    longest
        The longest time that is told [d].
    """
    days = outlook.water
    if not days or outlook.available_water <= 0:
        return None
    usual = _days([water.use for water in days], outlook.available_water, longest)
    unsure = _unsure(outlook)
    most = [water.use + math.hypot(water.spread, unsure * water.use) for water in days]
    thirsty = _days(most, outlook.available_water, longest)
    return Endurance(
        days=usual,
        shortest=thirsty,
        seen_until=days[-1].day,
        open_end=usual >= longest,
        dry_at=_dry_today(days, outlook.on),
    )


def _unsure(outlook: TreeOutlook) -> float:
    """Return how unsure it is what the pot holds, as a share of it; 0 where that is not told."""
    low, high = outlook.available_low, outlook.available_high
    return math.log(high / low) / 2 if low and high else 0.0


def _days(uses: list[float], water: float, longest: float) -> float:
    """Return the days [d] until so much water [L] is used; beyond those seen, at their mean."""
    lasted = 0.0
    for use in uses:
        if use >= water:
            return min(lasted + water / use, longest)
        water -= use
        lasted += 1
    mean = sum(uses) / len(uses)
    return min(lasted + water / mean, longest) if mean > 0 else longest


def _dry_today(days: tuple[WaterDay, ...], on: date) -> datetime | None:
    return next((water.dry_at for water in days if water.day == on), None)


def last_day(found: Endurance, on: date) -> date:
    """Return the last day on which the pot needs nobody, filled on the morning of a day."""
    return on + timedelta(days=int(found.shortest))
