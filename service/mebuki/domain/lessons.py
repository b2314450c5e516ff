"""What past forecasts of a garden's nights were, and what they teach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

LEADS = 16
"""Leads of which lessons are kept: 0 (tonight) to 15 days."""


@dataclass(frozen=True, slots=True)
class NightForecast:
    """What a provider said of one night at a site, before anything was learned.

    Parameters
    ----------
    night
        The local day on whose evening the night begins.
    lead_days
        Whole days from the day of the round to that evening; 0 is tonight.
    minimum
        Lowest air temperature of the night in the open [°C], as forecast.
    made_at
        Nominal moment of the round (UTC).
    """

    night: date
    lead_days: int
    minimum: float
    made_at: datetime


@dataclass(frozen=True, slots=True)
class ForecastLessons:
    """What the forecast minima of nights have been worth at a site, by lead.

    Parameters
    ----------
    bias
        Forecast less what was measured or analysed later [°C] for leads of 0,
        1, ... days: positive where forecasts are too warm.
    spread
        Standard deviation [°C] of what is left once the bias is taken off.
    nights
        How many nights taught each; 0 is the prior alone.
    applied
        Whether the picture that holds these lessons was corrected by them.

    Raises
    ------
    ValueError
        If the three differ in length, or are empty.
    """

    bias: tuple[float, ...]
    spread: tuple[float, ...]
    nights: tuple[int, ...]
    applied: bool = False

    def __post_init__(self) -> None:
        if not self.bias or not len(self.bias) == len(self.spread) == len(self.nights):
            msg = (
                "lessons need one bias, spread and count for each lead: "
                f"{len(self.bias)}, {len(self.spread)}, {len(self.nights)}"
            )
            raise ValueError(msg)

    def bias_at(self, lead_days: int) -> float:
        """Return the bias [°C] at a lead; the first and the last hold beyond the ends."""
        return _at(self.bias, lead_days)

    def spread_at(self, lead_days: int) -> float:
        """Return the spread [°C] at a lead; the first and the last hold beyond the ends."""
        return _at(self.spread, lead_days)


def _at(values: Sequence[float], lead_days: int) -> float:
    return values[min(max(lead_days, 0), len(values) - 1)]
