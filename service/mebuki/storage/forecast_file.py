"""What was forecast of each night, kept as one readable JSON file for each garden."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter

from mebuki.domain.lessons import NightForecast
from mebuki.storage.state_file import StateFile

KEPT: Final = timedelta(days=100)
"""How long a night is kept after the newest one of the file; more than is learned from."""


class ForecastFile:
    """Forecasts of nights in a folder, beside what was published.

    Of a night and lead the forecast kept first stays, as in the database; a
    round run again writes nothing.
    """

    def __init__(self, folder: Path) -> None:
        self._file = StateFile(
            folder, "forecasts", "forecasts", "what was forecast before", "learn anew"
        )

    def path(self, garden: str) -> Path:
        """Return the file of a garden; `InputError` if its id is no id."""
        return self._file.path(garden)

    def remember(self, garden: str, forecasts: Sequence[NightForecast]) -> None:
        """Keep forecasts, whole or not at all; they have reached the disk on return.

        Raises
        ------
        InputError
            If the file is broken, of another garden, or of a newer Mebuki.
        mebuki.errors.FaultError
            If the folder cannot be written.
        """
        kept = self._load(garden)
        known = {(each.night, each.lead_days) for each in kept}
        fresh = [each for each in forecasts if (each.night, each.lead_days) not in known]
        if not fresh:
            return
        together = sorted((*kept, *fresh), key=lambda each: (each.night, each.lead_days))
        oldest = together[-1].night - KEPT
        young = tuple(each for each in together if each.night >= oldest)
        self._file.write(garden, _shape().dump_python(young, mode="json"))

    def recall(self, garden: str, since: date) -> tuple[NightForecast, ...]:
        """Return the forecasts of nights that began on a day or later, by night and lead.

        Raises
        ------
        InputError
            If the file is broken, of another garden, or of a newer Mebuki.
        """
        return tuple(each for each in self._load(garden) if each.night >= since)

    def _load(self, garden: str) -> tuple[NightForecast, ...]:
        return self._file.read(garden, _shape().validate_python) or ()


@lru_cache(maxsize=1)
def _shape() -> TypeAdapter[tuple[NightForecast, ...]]:
    return TypeAdapter(tuple[NightForecast, ...])
