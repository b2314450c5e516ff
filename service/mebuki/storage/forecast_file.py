"""What was forecast of each night, kept as one readable JSON file for each garden."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from mebuki.domain.lessons import NightForecast
from mebuki.errors import InputError
from mebuki.files import write_whole
from mebuki.storage.agenda_file import AgendaFile

SCHEMA: Final = 1
"""Version of the file's shape; a greater one was written by a newer Mebuki."""

KEPT: Final = timedelta(days=100)
"""How long a night is kept after the newest one of the file; more than is learned from."""


class ForecastFile:
    """Forecasts of nights in a folder, beside what was published.

    Of a night and lead the forecast kept first stays, as in the database; a
    round run again writes nothing.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def path(self, garden: str) -> Path:
        """Return the file of a garden; `InputError` if its id is no id."""
        return AgendaFile(self._folder).path(garden).with_name(f"forecasts-{garden}.json")

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
        rows = _shape().dump_python(
            tuple(each for each in together if each.night >= oldest), mode="json"
        )
        content = {"schema": SCHEMA, "garden": garden, "forecasts": rows}
        text = json.dumps(content, indent=1, sort_keys=True, ensure_ascii=True)
        write_whole(self.path(garden), text.encode("ascii") + b"\n")

    def recall(self, garden: str, since: date) -> tuple[NightForecast, ...]:
        """Return the forecasts of nights that began on a day or later, by night and lead.

        Raises
        ------
        InputError
            If the file is broken, of another garden, or of a newer Mebuki.
        """
        return tuple(each for each in self._load(garden) if each.night >= since)

    def _load(self, garden: str) -> tuple[NightForecast, ...]:
        path = self.path(garden)
        try:
            text = path.read_text("utf-8")
        except FileNotFoundError:
            return ()
        except (OSError, UnicodeDecodeError) as error:
            raise _unusable(path, "it cannot be read") from error
        return _forecasts(path, garden, text)


@lru_cache(maxsize=1)
def _shape() -> TypeAdapter[tuple[NightForecast, ...]]:
    return TypeAdapter(tuple[NightForecast, ...])


def _forecasts(path: Path, garden: str, text: str) -> tuple[NightForecast, ...]:
    try:
        content: Any = json.loads(text)
        schema = content["schema"]
        if isinstance(schema, int) and schema > SCHEMA:
            raise _unusable(path, f"it was written by a newer Mebuki (file version {schema})")
        if schema != SCHEMA or content["garden"] != garden:
            raise _unusable(path, f"it does not hold the forecasts of the garden {garden!r}")
        return _shape().validate_python(content["forecasts"])
    except (ValueError, KeyError, TypeError, ValidationError) as error:
        raise _unusable(path, "its content is broken") from error


def _unusable(path: Path, reason: str) -> InputError:
    return InputError(
        f"{path} holds what was forecast before and cannot be used: {reason}. "
        "Restore it from a backup, or move it away to learn anew"
    )
