"""``mebuki compute`` for air, evaporation, root-balls and scores.

`register` adds the commands to the application that holds the others.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.cli.columns import STANDARD_INPUT, Table, naming, read_table, write_rows
from mebuki.errors import InputError

if TYPE_CHECKING:
    from mebuki.domain.weather import Floats, Ints
    from mebuki.season.readings import HourlyReadings

File = Annotated[Path, typer.Argument(metavar="FILE.csv", help="A CSV table; see the columns.")]
Latitude = Annotated[float, typer.Option(help="Degrees, south negative.")]
Longitude = Annotated[float, typer.Option(help="Degrees, west negative.")]
Elevation = Annotated[float, typer.Option(help="Metres above sea level.")]
WindHeight = Annotated[float, typer.Option(help="Height at which wind was measured [m].")]
Json = Annotated[bool, typer.Option("--json", help="A JSON array of rows instead of CSV.")]


def register(app: typer.Typer) -> None:
    """Add these commands to an application."""
    app.command("humidity")(humidity)
    app.command("reference-evaporation")(reference_evaporation)
    app.command("reference-evaporation-hourly")(reference_evaporation_hourly)
    app.command("root-ball")(root_ball)
    app.command("scores")(scores)


def humidity(
    file: File,
    pressure: Annotated[float, typer.Option(help="Air pressure [kPa].")] = 101.325,
    as_json: Json = False,
) -> None:
    """Moisture: temperature, relative_humidity, dew_point, wet_bulb, vapour_pressure_deficit.

    Columns in: temperature [°C], relative_humidity [%] over water. Pressures in kPa.
    """
    from mebuki.season import humidity as station

    station.refuse_outside(pressure, "--pressure", 30, 120, "kPa")
    names = ("temperature", "relative_humidity")
    table = read_table(file, names)
    air, moist = (table.numbers(name) for name in names)
    actual = station.vapour_pressure(air, moist)
    columns = (
        air,
        moist,
        station.dew_point(actual),
        station.wet_bulb(air, actual, pressure),
        station.vapour_pressure_deficit(air, actual),
    )
    _write((*names, "dew_point", "wet_bulb", "vapour_pressure_deficit"), columns, as_json)


def reference_evaporation(
    file: File,
    latitude: Latitude,
    elevation: Elevation = 0.0,
    wind_height: WindHeight = 10.0,
    as_json: Json = False,
) -> None:
    """Daily reference evaporation (FAO-56 eq. 6): date, reference_evaporation [mm].

    Columns in: date, tmin, tmax [°C], wind [m/s]; of tdew [°C], rhmax and rhmin,
    rhmean [%] the best there is; radiation [MJ/m²/d] or sunshine [h]. What is
    missing is estimated as FAO-56 does.
    """
    import numpy as np

    from mebuki.season import evaporation as station
    from mebuki.season import radiation as sun
    from mebuki.season.local_time import day_of_year

    table = read_table(file, ("date", "tmin", "tmax", "wind"))
    days = table.days("date")
    low, high = table.numbers("tmin"), table.numbers("tmax")
    _refuse_reversed(table, low, high)
    moist = [_optional(file, name, len(days)) for name in ("tdew", "rhmax", "rhmin", "rhmean")]
    number = day_of_year(np.array([day.toordinal() for day in days]))
    outside = sun.daily_extraterrestrial(latitude, number)
    shine = _optional(file, "sunshine", len(days))
    guess = sun.from_temperature_range(outside, low, high)
    guess = np.minimum(guess, sun.clear_sky_share(elevation) * outside)
    shone = sun.from_sunshine(outside, shine, sun.daylight_hours(latitude, number))
    radiation = _optional(file, "radiation", len(days))
    radiation = np.where(np.isnan(radiation), np.where(np.isnan(shine), guess, shone), radiation)
    wind = station.wind_at_two_metres(table.numbers("wind"), wind_height)
    weather = station.DayWeather(
        low,
        high,
        station.daily_vapour_pressure(low, high, moist[0], moist[1], moist[2], moist[3]),
        radiation,
        np.where(np.isnan(wind), station.UNKNOWN_WIND, wind),
    )
    found = station.daily_reference_evaporation(weather, number, latitude, elevation)
    rows = zip((day.isoformat() for day in days), _cells(found), strict=True)
    write_rows(("date", "reference_evaporation"), rows, as_json)


def reference_evaporation_hourly(
    file: File,
    latitude: Latitude,
    longitude: Longitude,
    elevation: Elevation = 0.0,
    wind_height: WindHeight = 10.0,
    as_json: Json = False,
) -> None:
    """Hourly reference evaporation (FAO-56 eq. 53): time, reference_evaporation [mm].

    Columns in: time, temperature [°C], humidity [%], wind [m/s], radiation [MJ/m²/h].
    A time is the end of its hour; without an offset it is UTC.
    """
    import numpy as np

    from mebuki.season import evaporation as station
    from mebuki.season.humidity import vapour_pressure
    from mebuki.season.radiation import sun_hours

    names = ("humidity", "wind", "radiation")
    table = read_table(file, ("time", "temperature", *names))
    readings = _readings(table)
    moist, wind, radiation = (_aligned(table.numbers(name), readings.rows) for name in names)
    sun = sun_hours(_hours(readings), latitude, longitude)
    weather = station.HourWeather(
        readings.temperature,
        vapour_pressure(readings.temperature, moist),
        radiation,
        station.wind_at_two_metres(wind, wind_height),
    )
    ratio = station.sky_ratio(radiation, sun, elevation)
    found = station.hourly_reference_evaporation(weather, sun.up, ratio, elevation)
    rows = zip(_times(table, readings), _cells(np.asarray(found)), strict=True)
    write_rows(("time", "reference_evaporation"), rows, as_json)


def root_ball(
    file: File,
    pot: Annotated[str, typer.Option(help="Such as 'oval 30x22x7' or 'round 16x17' [cm].")],
    wall: Annotated[str, typer.Option(help="Material and colour of the pot.")] = "unglazed",
    insulation: Annotated[float, typer.Option(help="Round the pot [m² K/W].")] = 0.0,
    grounded: Annotated[bool, typer.Option(help="The pot stands on soil.")] = False,
    as_json: Json = False,
) -> None:
    """Root-ball temperature: time, mean, wall [°C], frozen_share [0..1].

    Columns in: time, temperature [°C], and if there wind [m/s at 10 m], radiation
    [W/m²] and cloud [0..1].
    """
    import numpy as np

    from mebuki.cli.pot_option import pot_of
    from mebuki.domain.weather import HourlySeries, Origin
    from mebuki.season import root_temperature as station
    from mebuki.season.root_ball import RootBalls

    balls = RootBalls.around([pot_of(pot, wall)], insulation, grounded)
    table = read_table(file, ("time", "temperature"))
    readings = _readings(table)
    size = len(readings.moments)
    wind, radiation, cloud = (
        _aligned(_optional(file, name, len(table.columns["time"])), readings.rows)
        for name in ("wind", "radiation", "cloud")
    )
    here = HourlySeries(
        start=int(_hours(readings)[0]),
        air_temperature=readings.temperature,
        dew_point=np.full(size, np.nan),
        wind_speed=wind,
        precipitation=np.full(size, np.nan),
        snowfall=np.full(size, np.nan),
        global_radiation=radiation,
        cloud_cover=cloud,
        origin=np.full(size, Origin.MEASURED, np.int8),
    )
    found = station.root_ball(here, balls)
    columns = (_cells(values[0]) for values in (found.mean, found.wall, found.frozen_share))
    rows = zip(_times(table, readings), *columns, strict=True)
    write_rows(("time", "mean", "wall", "frozen_share"), rows, as_json)


def scores(
    file: File,
    threshold: Annotated[float, typer.Option(help="A forecast above it is an alarm.")] = 0.5,
    as_json: Json = False,
) -> None:
    """Scores of forecasts, one row: counts, pod, far, pofd, csi, bias, pss, hss, ets, brier.

    Columns in: event (0 or 1), probability [0..1]. A score without cases is empty.
    """
    from mebuki.season import scores as station

    table = read_table(file, ("event", "probability"))
    event, probability = table.numbers("event"), table.numbers("probability")
    counts = station.contingency(event, probability, threshold)
    parts = station.brier(event, probability)
    numbers = ("hits", "false_alarms", "misses", "correct_negatives")
    rates = ("pod", "far", "pofd", "csi", "brier", "bias", "pss", "hss", "ets")
    brier = ("reliability", "resolution", "uncertainty", "skill")
    values: list[float | int | None] = [getattr(counts, name) for name in numbers]
    values += [_cell(parts.score if name == "brier" else getattr(counts, name)) for name in rates]
    values += [_cell(getattr(parts, name)) for name in brier]
    heading = (*numbers, *rates, *(f"brier_{name}" for name in brier))
    write_rows(heading, [values], as_json)


def _write(heading: Sequence[str], columns: Sequence[Floats], as_json: bool) -> None:
    write_rows(heading, zip(*(_cells(column) for column in columns), strict=True), as_json)


def _cells(values: Floats) -> list[float | None]:
    return [_cell(value) for value in values.tolist()]


def _cell(value: float) -> float | None:
    return None if value != value else value  # noqa: PLR0124 - NaN alone differs from itself


def _optional(file: Path, column: str, size: int) -> Floats:
    """Return a column that need not be there: NaN throughout where it is not."""
    import numpy as np

    if str(file) == STANDARD_INPUT:
        msg = "give a file: this command looks for columns that may be missing"
        raise InputError(msg)
    with file.open(encoding="utf-8-sig", newline="") as lines:
        heading = next(csv.reader(lines, skipinitialspace=True), [])
    if column not in [name.strip() for name in heading]:
        return np.full(size, np.nan)
    return read_table(file, (column,)).numbers(column)


def _refuse_reversed(table: Table, low: Floats, high: Floats) -> None:
    for row in (low > high).nonzero()[0].tolist():
        msg = f"{table.name}: row {row + 1}: tmin {low[row]:g} is above tmax {high[row]:g}"
        raise InputError(msg)


def _readings(table: Table) -> HourlyReadings:
    from mebuki.season.readings import check_readings

    with naming(table):
        readings = check_readings(table.moments("time"), table.numbers("temperature"))
    for remark in readings.remarks:
        typer.echo(f"{table.name}: {remark}", err=True)
    return readings


def _aligned(values: Floats, rows: Ints) -> Floats:
    import numpy as np

    return np.asarray(np.where(rows >= 0, values[rows], np.nan))


def _hours(readings: HourlyReadings) -> Ints:
    from datetime import UTC

    import numpy as np

    from mebuki.domain.weather import hour_number

    first = readings.moments[0]
    start = hour_number(first if first.tzinfo else first.replace(tzinfo=UTC))
    return np.arange(start, start + len(readings.moments), dtype=np.int64)


def _times(table: Table, readings: HourlyReadings) -> list[str]:
    given = table.columns["time"]
    pairs = zip(readings.moments, readings.rows.tolist(), strict=True)
    return [given[row] if row >= 0 else at.isoformat(timespec="minutes") for at, row in pairs]
