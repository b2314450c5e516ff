"""Weather series from CSV files: hours in UTC, and local days of several places.

Hourly columns: ``time_utc`` and ``temp_c`` must be there; ``dew_point_c``,
``rh_pct``, ``wind_ms``, ``precip_mm`` are used if they are; others are ignored.
Daily columns: ``location,date,precip_mm,temp_max_c,temp_min_c,wind_ms``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from mebuki.domain.weather import COLUMNS, DailySeries, Floats, HourlySeries, Origin, hour_number
from mebuki.weather.csv_table import CsvTable, Faults, number_of, read_table

WRONG_UNITS: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys(("temp_f", "temp_k", "temp"), ("temp_c", "air temperature in °C")),
    **dict.fromkeys(("dew_point_f", "dewp_f", "dewp"), ("dew_point_c", "dew point in °C")),
    **dict.fromkeys(
        ("wind_mph", "wind_kmh", "wind_kn", "wind_kt", "wind_knots"),
        ("wind_ms", "wind speed at 10 m in m/s"),
    ),
    **dict.fromkeys(
        ("precip_in", "precip_inch", "precip_cm"), ("precip_mm", "precipitation in mm")
    ),
    "temp_max_f": ("temp_max_c", "highest air temperature in °C"),
    "temp_min_f": ("temp_min_c", "lowest air temperature in °C"),
    **dict.fromkeys(("time", "time_local"), ("time_utc", "full hours in UTC with a Z")),
}
"""Column names of a wrong unit, each with the right column and what it holds."""

HOURLY_REQUIRED = ("time_utc", "temp_c")
DAILY_REQUIRED = ("location", "date", "precip_mm", "temp_max_c", "temp_min_c", "wind_ms")
LONGEST_SPAN = timedelta(days=366 * 60)

HOTTEST_TENTH, HOTTEST_MIDDLE = 50.0, 45.0
"""90th percentile and median [°C] that no place on Earth reaches."""

WIDEST_MILD_YEAR, HARD_WINTER = 60.0, -20.0
"""A year as wide as this from its 1st to its 99th percentile [K] has winters so hard [°C]."""

FIRST_YEAR, LAST_YEAR = 1850, 2150

LOWEST_FAHRENHEIT, HIGHEST_FAHRENHEIT = -100.0, 140.0
"""What air can have in °F; values beyond are faults and say nothing of the unit."""

FEW_VALUES = 10
"""So few values do not tell their unit."""

MOST_HUMIDITY = 105.0
"""Relative humidity that a wet sensor may show [%]."""

_READ = {
    "temp_c": "air_temperature",
    "dew_point_c": "dew_point",
    "wind_ms": "wind_speed",
    "precip_mm": "precipitation",
    "snow_mm": "snowfall",
    "radiation_wm2": "global_radiation",
    "cloud_share": "cloud_cover",
}
_WORDS = {
    "dew_point": "dew point",
    "wind_speed": "wind",
    "precipitation": "rain",
    "snowfall": "snow",
    "global_radiation": "sun",
    "cloud_cover": "cloud",
}
_DAILY_LIMITS = {
    "precip_mm": (0.0, 2000.0),
    "temp_max_c": (-60.0, 55.0),
    "temp_min_c": (-60.0, 55.0),
    "wind_ms": (0.0, 75.0),
}
_TIME = "a full hour in UTC such as 2013-05-09T02:00:00Z is needed (Z or an offset must be there)"


@dataclass(frozen=True, slots=True, eq=False)
class HourlyFile:
    """A measured series as a file has it, nothing rejected or filled yet."""

    name: str
    series: HourlySeries
    credit: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class DailyFile:
    """Measured local days of one place."""

    name: str
    location: str
    series: DailySeries
    credit: str
    remarks: tuple[str, ...] = ()


def read_hourly(path: Path) -> HourlyFile:
    """Read an hourly CSV file onto an unbroken axis of hours.

    Missing hours are NaN with origin ``MISSING``. Rows out of order are sorted
    and this is remarked. Without ``dew_point_c`` the dew point is worked out
    from ``rh_pct``.

    Raises
    ------
    mebuki.errors.TableError
        Names file, line, column, value and what is allowed.
    """
    table = read_table(path, HOURLY_REQUIRED, WRONG_UNITS)
    faults = Faults(table.name)
    hours = np.array([_hour(table, row, faults) for row in table.rows], dtype=np.int64)
    known = {name: _numbers(table, name, faults) for name in (*_READ, "rh_pct")}
    _check_axis(table, hours, faults)
    faults.stop_if_any()
    _check_celsius(known["temp_c"], faults)
    faults.stop_if_any()
    remarks: list[str] = []
    if (np.diff(hours) < 0).any():
        remarks.append(f"The rows of {table.name} were not in order of time; they were sorted.")
    columns = {_READ[name]: values for name, values in known.items() if name in _READ}
    if not np.isfinite(columns["dew_point"]).any() and np.isfinite(known["rh_pct"]).any():
        columns["dew_point"] = _dew_point(known["temp_c"], known["rh_pct"])
        remarks.append("The dew point was worked out from the relative humidity.")
    absent = [word for name, word in _WORDS.items() if not np.isfinite(columns[name]).any()]
    if absent:
        remarks.append(f"The series has no {_listed(absent)}: what can be estimated is estimated.")
    return HourlyFile(table.name, _on_axis(hours, columns), table.credit, tuple(remarks))


def read_daily(path: Path, location: str) -> DailyFile:
    """Read the local days of one place from a daily CSV file.

    Raises
    ------
    mebuki.errors.TableError
        As for `read_hourly`; also if the place is not in the file.
    """
    table = read_table(path, DAILY_REQUIRED, WRONG_UNITS)
    faults = Faults(table.name)
    at = table.header.index("location")
    places = sorted({cells[at] for _, cells in table.rows})
    rows = tuple(row for row in table.rows if row[1][at] == location)
    if not rows:
        faults.add("column location", "", f"no rows for {location}; there are {', '.join(places)}")
    faults.stop_if_any()
    table = CsvTable(table.name, table.comments, table.header, rows)
    days = np.array([_day(table, row, faults) for row in rows], dtype=np.int64)
    known = {name: _numbers(table, name, faults) for name in DAILY_REQUIRED[2:]}
    _check_unique(table, days, "date", faults)
    faults.stop_if_any()
    _check_celsius(known["temp_max_c"], faults)
    for (line, _), low, high in zip(rows, known["temp_min_c"], known["temp_max_c"], strict=True):
        if low > high:
            faults.add(f"line {line}, column temp_min_c", f"{low}", f"at most temp_max_c ({high})")
    faults.stop_if_any()
    start = int(days.min())
    spread = {name: np.full(int(days.max()) - start + 1, np.nan) for name in known}
    lost = 0
    for name, values in known.items():
        low, high = _DAILY_LIMITS[name]
        with np.errstate(invalid="ignore"):
            outside = (values < low) | (values > high)
        lost += int(outside.sum())
        spread[name][days - start] = np.where(outside, np.nan, values)
    remarks = (f"Values of {table.name} that cannot be, left out: {lost}.",) if lost else ()
    there = np.isfinite(spread["temp_min_c"]) & np.isfinite(spread["temp_max_c"])
    series = DailySeries(
        start=start,
        minimum=spread["temp_min_c"],
        maximum=spread["temp_max_c"],
        precipitation=spread["precip_mm"],
        wind_speed=spread["wind_ms"],
        origin=np.where(there, Origin.MEASURED, Origin.MISSING).astype(np.int8),
    )
    return DailyFile(table.name, location, series, table.credit, remarks)


def _cell(table: CsvTable, row: tuple[int, tuple[str, ...]], column: str) -> str:
    return row[1][table.header.index(column)]


def _hour(table: CsvTable, row: tuple[int, tuple[str, ...]], faults: Faults) -> int:
    text = _cell(table, row, "time_utc")
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None or not _known_year(moment):
        faults.add(f"line {row[0]}, column time_utc", text, _TIME)
        return 0
    moment = moment.astimezone(UTC)
    if moment.minute or moment.second or moment.microsecond:
        faults.add(f"line {row[0]}, column time_utc", text, _TIME)
    return hour_number(moment)


def _day(table: CsvTable, row: tuple[int, tuple[str, ...]], faults: Faults) -> int:
    text = _cell(table, row, "date")
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or not _known_year(day):
        faults.add(f"line {row[0]}, column date", text, "a day such as 2013-05-09 is needed")
        return 0
    return day.toordinal()


def _known_year(day: date) -> bool:
    return FIRST_YEAR <= day.year <= LAST_YEAR


def _numbers(table: CsvTable, column: str, faults: Faults) -> Floats:
    values = np.full(len(table.rows), np.nan)
    if column not in table.header:
        return values
    at = table.header.index(column)
    for index, (line, cells) in enumerate(table.rows):
        value = number_of(cells[at])
        if value is None:
            allowed = "a number with a decimal point is needed, or nothing where none was measured"
            faults.add(f"line {line}, column {column}", cells[at], allowed)
        else:
            values[index] = value
    return values


def _check_unique(table: CsvTable, keys: np.ndarray, column: str, faults: Faults) -> None:
    if faults.found:
        return
    seen: dict[int, int] = {}
    noun = column.removesuffix("_utc")
    for row, key in zip(table.rows, keys.tolist(), strict=True):
        if key in seen:
            allowed = f"this {noun} is in line {seen[key]} already; once is allowed"
            faults.add(f"line {row[0]}, column {column}", _cell(table, row, column), allowed)
        seen.setdefault(key, row[0])


def _check_axis(table: CsvTable, hours: np.ndarray, faults: Faults) -> None:
    _check_unique(table, hours, "time_utc", faults)
    if not faults.found and timedelta(hours=int(hours.max() - hours.min())) > LONGEST_SPAN:
        first, last = int(hours.argmin()), int(hours.argmax())
        texts = [_cell(table, table.rows[i], "time_utc") for i in (first, last)]
        faults.add("column time_utc", " to ".join(texts), "a span of at most 60 years is allowed")


def _check_celsius(values: Floats, faults: Faults) -> None:
    """Refuse a column that can only be Fahrenheit: no place on Earth has such °C."""
    known = values[np.isfinite(values)]
    likely = known[(known > LOWEST_FAHRENHEIT) & (known < HIGHEST_FAHRENHEIT)]
    if not len(known):
        faults.add("temperature", "", "the column has no value at all; at least one is needed")
        return
    if len(likely) <= FEW_VALUES:
        return
    low, middle, tenth, high = np.percentile(likely, [1, 50, 90, 99])
    hot = tenth > HOTTEST_TENTH or middle > HOTTEST_MIDDLE
    wide = high - low > WIDEST_MILD_YEAR and low > HARD_WINTER
    if hot or wide:
        found = f"most values lie between {low:.0f} and {high:.0f}"
        faults.add("temperature", found, "these look like °F; °C is needed ((°F − 32) / 1.8)")


def _on_axis(hours: np.ndarray, columns: Mapping[str, Floats]) -> HourlySeries:
    start = int(hours.min())
    length = int(hours.max()) - start + 1
    spread = {name: np.full(length, np.nan) for name in COLUMNS}
    for name, values in columns.items():
        spread[name][hours - start] = values
    there = np.isfinite(spread["air_temperature"])
    origin = np.where(there, Origin.MEASURED, Origin.MISSING).astype(np.int8)
    return HourlySeries(start=start, origin=origin, **spread)


def _dew_point(air_temperature: Floats, relative_humidity: Floats) -> Floats:
    """Invert the saturation vapour pressure of Allen et al. 1998, FAO-56 eq. 11; [°C], [%]."""
    share = np.where(
        (relative_humidity > 0) & (relative_humidity <= MOST_HUMIDITY), relative_humidity, np.nan
    )
    exponent = 17.27 * air_temperature / (air_temperature + 237.3) + np.log(share / 100)
    return np.asarray(np.minimum(237.3 * exponent / (17.27 - exponent), air_temperature))


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
