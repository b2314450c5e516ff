"""``mebuki compute`` for air, evaporation, root-balls and scores.

`register` adds the commands to the application that holds the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.cli.columns import Table, read_table, write_rows
from mebuki.cli.compute_root_ball import root_ball
from mebuki.cli.compute_water import pot_water
from mebuki.cli.hour_table import (
    aligned,
    cell,
    cells,
    hour_numbers,
    hourly_readings,
    numbers_or_unknown,
    times,
)
from mebuki.errors import InputError, RangeError

if TYPE_CHECKING:
    from mebuki.domain.weather import Floats

File = Annotated[Path, typer.Argument(metavar="FILE.csv", help="A CSV table; see the columns.")]
Latitude = Annotated[
    float | None, typer.Option(help="Degrees, −90 to 90, south negative. Must be given.")
]
Longitude = Annotated[
    float | None, typer.Option(help="Degrees, −180 to 180, west negative. Must be given.")
]
Elevation = Annotated[float, typer.Option(help="Metres above sea level.")]
WindHeight = Annotated[
    float | None,
    typer.Option(
        help="Height at which the wind was measured (m), 0.5 to 200; weather services give "
        "it for 10. Must be given where there is wind."
    ),
]
Json = Annotated[bool, typer.Option("--json", help="A JSON array of rows instead of CSV.")]


PRESSURES = (30.0, 120.0)
"""Air pressures (kPa) between the highest mountain and the deepest pit."""

_MOISTURE = ("tdew", "rhmax", "rhmin", "rhmean")


def register(app: typer.Typer) -> None:
    """Add these commands to an application."""
    app.command("humidity")(humidity)
    app.command("reference-evaporation")(reference_evaporation)
    app.command("reference-evaporation-hourly")(reference_evaporation_hourly)
    app.command("root-ball")(root_ball)
    app.command("pot-water")(pot_water)
    app.command("scores")(scores)


def humidity(
    file: File,
    pressure: Annotated[
        float, typer.Option(help="Air pressure (kPa), 30 to 120; 1013 hPa are 101.3.")
    ] = 101.325,
    as_json: Json = False,
) -> None:
    """Moisture: temperature, relative_humidity, dew_point, wet_bulb, vapour_pressure_deficit.

    Columns in: temperature (°C), relative_humidity (%) over water. Pressures in kPa.
    """
    from mebuki.season import humidity as station

    _check_pressure(pressure)
    names = ("temperature", "relative_humidity")
    table = read_table(file, names)
    air, moist = (table.numbers(name) for name in names)
    station.refuse_outside(air, "temperature", -80, 60, "°C")
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
    latitude: Latitude = None,
    elevation: Elevation = 0.0,
    wind_height: WindHeight = None,
    as_json: Json = False,
) -> None:
    """Daily reference evaporation (FAO-56 eq. 6): date, reference_evaporation (mm).

    Columns in: date, tmin, tmax (°C), wind (m/s); of tdew (°C), rhmax and rhmin,
    rhmean (%) the best there is; radiation (MJ/m²/d) or sunshine (h). What is
    missing is estimated as FAO-56 does.
    """
    import numpy as np

    from mebuki.season import evaporation as station
    from mebuki.season import radiation as sun
    from mebuki.season.humidity import refuse_outside
    from mebuki.season.seasons import days_of_year

    north = _given("--latitude", latitude, 90)
    table = read_table(
        file, ("date", "tmin", "tmax", "wind"), (*_MOISTURE, "radiation", "sunshine")
    )
    days = table.days("date")
    low, high = table.numbers("tmin"), table.numbers("tmax")
    _refuse_reversed(table, low, high)
    moist = [numbers_or_unknown(table, name) for name in _MOISTURE]
    number = days_of_year(np.array([day.toordinal() for day in days]))
    outside = sun.daily_extraterrestrial(north, number)
    shine = numbers_or_unknown(table, "sunshine")
    refuse_outside(shine, "sunshine", 0, 24, "h")
    guess = sun.from_temperature_range(outside, low, high)
    guess = np.minimum(guess, sun.clear_sky_share(elevation) * outside)
    shone = sun.from_sunshine(outside, shine, sun.daylight_hours(north, number))
    radiation = numbers_or_unknown(table, "radiation")
    radiation = np.where(np.isnan(radiation), np.where(np.isnan(shine), guess, shone), radiation)
    wind = _low_wind(table.numbers("wind"), wind_height)
    weather = station.DayWeather(
        low,
        high,
        station.daily_vapour_pressure(low, high, moist[0], moist[1], moist[2], moist[3]),
        radiation,
        np.where(np.isnan(wind), station.UNKNOWN_WIND, wind),
    )
    found = station.daily_reference_evaporation(weather, number, north, elevation)
    rows = zip((day.isoformat() for day in days), cells(found), strict=True)
    write_rows(("date", "reference_evaporation"), rows, as_json)


def reference_evaporation_hourly(
    file: File,
    latitude: Latitude = None,
    longitude: Longitude = None,
    elevation: Elevation = 0.0,
    wind_height: WindHeight = None,
    as_json: Json = False,
) -> None:
    """Hourly reference evaporation (FAO-56 eq. 53): time, reference_evaporation (mm).

    Columns in: time, temperature (°C), humidity (%), wind (m/s), radiation (MJ/m²/h).
    A time is the end of its hour; without an offset it is UTC.
    """
    import numpy as np

    from mebuki.season import evaporation as station
    from mebuki.season.humidity import vapour_pressure
    from mebuki.season.radiation import sun_hours

    north, east = _given("--latitude", latitude, 90), _given("--longitude", longitude, 180)
    names = ("humidity", "wind", "radiation")
    table = read_table(file, ("time", "temperature", *names))
    readings = hourly_readings(table, table.numbers("temperature"))
    moist, wind, radiation = (aligned(table.numbers(name), readings.rows) for name in names)
    sun = sun_hours(hour_numbers(readings), north, east)
    weather = station.HourWeather(
        readings.temperature,
        vapour_pressure(readings.temperature, moist),
        radiation,
        _low_wind(wind, wind_height),
    )
    ratio = station.sky_ratio(radiation, sun, elevation)
    found = station.hourly_reference_evaporation(weather, sun.up, ratio, elevation)
    rows = zip(times(table, readings), cells(np.asarray(found)), strict=True)
    write_rows(("time", "reference_evaporation"), rows, as_json)


def scores(
    file: File,
    threshold: Annotated[float, typer.Option(help="A forecast above it is an alarm.")] = 0.5,
    as_json: Json = False,
) -> None:
    """Scores of forecasts, one row: counts, pod, far, pofd, csi, bias, pss, hss, ets, brier.

    Columns in: event (0 or 1), probability (0..1). A score without cases is empty.
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
    values += [cell(parts.score if name == "brier" else getattr(counts, name)) for name in rates]
    values += [cell(getattr(parts, name)) for name in brier]
    heading = (*numbers, *rates, *(f"brier_{name}" for name in brier))
    write_rows(heading, [values], as_json)


def _write(heading: Sequence[str], columns: Sequence[Floats], as_json: bool) -> None:
    write_rows(heading, zip(*(cells(column) for column in columns), strict=True), as_json)


def _check_pressure(pressure: float) -> None:
    least, most = PRESSURES
    if least <= pressure <= most:
        return
    msg = f"--pressure {pressure:g} kPa is outside {least:g} to {most:g} kPa"
    for unit, size in (("hPa", 10), ("Pa", 1000)):
        if least <= pressure / size <= most:
            msg += f"; {pressure:g} {unit} are {pressure / size:g} kPa"
    raise RangeError(msg)


def _given(option: str, value: float | None, most: float) -> float:
    """Return an option that has no default, or say what it must be."""
    from mebuki.season.humidity import refuse_outside

    if value is None:
        msg = f"{option} is missing: degrees, {-most:g} to {most:g}; the sun depends on it"
        raise InputError(msg)
    refuse_outside(value, option.removeprefix("--"), -most, most, "°")
    return value


def _low_wind(wind: Floats, height: float | None) -> Floats:
    """Return the wind at 2 m (m/s); a wind needs the height at which it was measured."""
    import numpy as np

    from mebuki.season.evaporation import wind_at_two_metres

    if height is None:
        if np.isnan(wind).all():
            return wind
        msg = (
            "--wind-height is missing: the height at which the wind was measured, 0.5 to 200 m "
            "(weather services give it for 10)"
        )
        raise InputError(msg)
    return wind_at_two_metres(wind, height)


def _refuse_reversed(table: Table, low: Floats, high: Floats) -> None:
    for row in (low > high).nonzero()[0].tolist():
        msg = f"{table.name}: row {row + 1}: tmin {low[row]:g} is above tmax {high[row]:g}"
        raise InputError(msg)
