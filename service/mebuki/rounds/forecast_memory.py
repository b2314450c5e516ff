"""What was forecast of each night, in memory alone: for hindcasts and trials."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from mebuki.domain.lessons import NightForecast


class ForecastMemory:
    """Forecasts kept until the program ends; see `mebuki.rounds.ports.PastForecasts`."""

    def __init__(self) -> None:
        self._gardens: dict[str, dict[tuple[date, int], NightForecast]] = {}

    def remember(self, garden: str, forecasts: Sequence[NightForecast]) -> None:
        """Keep forecasts until the program ends; of a night and lead the first stays."""
        kept = self._gardens.setdefault(garden, {})
        for each in forecasts:
            kept.setdefault((each.night, each.lead_days), each)

    def recall(self, garden: str, since: date) -> tuple[NightForecast, ...]:
        """Return the forecasts of nights that began on a day or later, by night and lead."""
        kept = self._gardens.get(garden, {})
        return tuple(each for (night, _), each in sorted(kept.items()) if night >= since)
