"""Hourly tables of ``mebuki compute``: an unbroken axis of hours, unknown hours as NaN."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mebuki.cli.columns import Table, naming

if TYPE_CHECKING:
    from mebuki.domain.weather import Floats, Ints
    from mebuki.season.readings import HourlyReadings


def cells(values: Floats) -> list[float | None]:
    """Return numbers as cells of a table, empty where unknown."""
    return [cell(value) for value in values.tolist()]


def cell(value: float) -> float | None:
    """Return a number as a cell of a table, empty where unknown."""
    return None if value != value else value  # noqa: PLR0124 - NaN alone differs from itself


def numbers_or_unknown(table: Table, column: str) -> Floats:
    """Return a column that need not be there: NaN throughout where it is not."""
    import numpy as np

    if column in table.columns:
        return table.numbers(column)
    return np.full(len(next(iter(table.columns.values()))), np.nan)


def hourly_readings(table: Table, temperature: Floats) -> HourlyReadings:
    """Return the hours of the column ``time``; missing rows and cells stay unknown."""
    from mebuki.season.readings import check_readings

    with naming(table):
        return check_readings(table.moments("time"), temperature, fill=False)


def aligned(values: Floats, rows: Ints) -> Floats:
    """Return a column on the axis of hours, NaN where an hour has no row."""
    import numpy as np

    return np.asarray(np.where(rows >= 0, values[rows], np.nan))


def hour_numbers(readings: HourlyReadings) -> Ints:
    """Return the hour numbers of hours; times without an offset are UTC."""
    from datetime import UTC

    import numpy as np

    from mebuki.domain.weather import hour_number

    first = readings.moments[0]
    start = hour_number(first if first.tzinfo else first.replace(tzinfo=UTC))
    return np.arange(start, start + len(readings.moments), dtype=np.int64)


def times(table: Table, readings: HourlyReadings) -> list[str]:
    """Return the hours as they were written, and those without a row in ISO 8601."""
    given = table.columns["time"]
    pairs = zip(readings.moments, readings.rows.tolist(), strict=True)
    return [given[row] if row >= 0 else at.isoformat(timespec="minutes") for at, row in pairs]
