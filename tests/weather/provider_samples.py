"""Sample answers of weather services, places they are for, and a clock that is set by hand."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from mebuki.weather.cells import Cell

SAMPLES = Path(__file__).parents[1] / "data" / "provider"

BERLIN = Cell(52.52, 13.41, 38)
TOKYO = Cell(35.69, 139.69, 40)
OSLO = Cell(59.91, 10.75, 7)
NEW_YORK = Cell(40.7, -74, 50)
PHILADELPHIA = Cell(39.96, -75.19, 0)
MUENSTER = Cell(52.1, 7.7, 50)


def sample(name: str) -> bytes:
    """Return the bytes of a sample."""
    return (SAMPLES / name).read_bytes()


def changed(name: str, *steps: tuple[tuple[str | int, ...], object]) -> bytes:
    """Return a JSON sample with values at some paths replaced."""
    found: Any = json.loads(sample(name))
    for path, value in steps:
        part = found
        for key in path[:-1]:
            part = part[key]
        part[path[-1]] = value
    return json.dumps(found).encode()


class SetClock:
    """A clock that stands where it was set, for as long as nobody moves it."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment.astimezone(UTC)

    def now(self) -> datetime:
        """Return the moment."""
        return self.moment

    def pass_(self, **how_long: float) -> None:
        """Let some time pass."""
        self.moment += timedelta(**how_long)
