"""Warmth added up over a season, and the hours ahead: values that care rules plan work by."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from datetime import date, datetime, timedelta


@dataclass(frozen=True, slots=True)
class DegreeDays:
    """Degree days of one season at one place, day by day, for few, half and most cases.

    Parameters
    ----------
    base
        Threshold [°C] of the daily mean.
    begins
        The first day that counts.
    low, middle, high
        Total [°C d] at the end of each day that is exceeded in nine, five and one
        case of ten; they never fall.
    """

    season: int
    base: float
    begins: date
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]

    def total_on(self, day: date) -> float:
        """Return the middle total [°C d] at the end of a day; 0 before the first."""
        index = min((day - self.begins).days, len(self.middle) - 1)
        return self.middle[index] if index >= 0 else 0.0

    def reached(self, total: float) -> tuple[date | None, date | None, date | None]:
        """Return the early, middle and late day by which a total [°C d] is reached, or none."""
        early, middle, late = (
            self._first(row, total) for row in (self.high, self.middle, self.low)
        )
        return early, middle, late

    def _first(self, totals: tuple[float, ...], total: float) -> date | None:
        index = bisect_left(totals, total)
        return self.begins + timedelta(days=index) if index < len(totals) else None


@dataclass(frozen=True, slots=True)
class HoursAhead:
    """The hours round a moment at one place, from a day before it on.

    Parameters
    ----------
    begins
        The first hour (UTC).
    air, rain
        Air temperature [°C] and rain in the hour [mm] as it reaches the place; NaN
        where unknown.
    """

    begins: datetime
    air: tuple[float, ...]
    rain: tuple[float, ...]
