"""Read the published check tables in tests/data/published."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from mebuki.domain.weather import Floats

PUBLISHED = Path(__file__).parent / "data" / "published"


def published_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a check table as text."""
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def published_columns(name: str, *columns: str) -> list[Floats]:
    """Return columns of a check table as numbers; an empty cell is NaN."""
    rows = published_rows(name)
    return [np.array([float(row[column] or "nan") for row in rows]) for column in columns]
