"""``mebuki compute root-ball``: the temperature of one root-ball, and what a probe in it tells."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.cli.columns import read_table, write_rows
from mebuki.cli.hour_table import (
    aligned,
    cells,
    hour_numbers,
    hourly_readings,
    numbers_or_unknown,
    times,
)
from mebuki.errors import RangeError

if TYPE_CHECKING:
    from mebuki.domain.tree import Pot
    from mebuki.domain.weather import Floats, HourlySeries
    from mebuki.season.root_ball import RootBalls


def root_ball(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="A CSV table; see the columns.")],
    pot: Annotated[str, typer.Option(help="Such as 'oval 30x22x7' or 'round 16x17' (cm).")],
    wall: Annotated[str, typer.Option(help="Material and colour of the pot.")] = "unglazed",
    insulation: Annotated[float, typer.Option(help="Round the pot (m² K/W).")] = 0.0,
    grounded: Annotated[bool, typer.Option(help="The pot stands on soil.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="A JSON array of rows instead of CSV.")
    ] = False,
) -> None:
    """Root-ball temperature: time, mean, wall (°C), frozen_share (0..1).

    Columns in: time, temperature (°C), and if there wind (m/s at 10 m), radiation
    (W/m²), cloud (0..1) and probe (°C): what a thermometer in the root-ball read.

    With a probe the time constant that fits it is told on standard error, as the
    garden file takes it; the table stays the model's own. Only hours without
    radiation count, all hours where there is no such column: then give nights alone.
    """
    import numpy as np

    from mebuki.cli.pot_option import pot_of
    from mebuki.domain.weather import HourlySeries, Origin
    from mebuki.season import root_temperature as station
    from mebuki.season.humidity import refuse_outside
    from mebuki.season.root_ball import RootBalls

    vessel = pot_of(pot, wall)
    balls = RootBalls.around([vessel], insulation, grounded)
    table = read_table(file, ("time", "temperature"), ("wind", "radiation", "cloud", "probe"))
    readings = hourly_readings(table, table.numbers("temperature"))
    size = len(readings.moments)
    wind, radiation, cloud, probe = (
        aligned(numbers_or_unknown(table, name), readings.rows)
        for name in ("wind", "radiation", "cloud", "probe")
    )
    refuse_outside(radiation, "radiation", 0, 1500, "W/m²")
    refuse_outside(cloud, "cloud", 0, 1, "")
    refuse_outside(probe, "probe", -40, 70, "°C")
    here = HourlySeries(
        start=int(hour_numbers(readings)[0]),
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
    columns = (cells(values[0]) for values in (found.mean, found.wall, found.frozen_share))
    rows = zip(times(table, readings), *columns, strict=True)
    write_rows(("time", "mean", "wall", "frozen_share"), rows, as_json)
    if np.isfinite(probe).any():
        typer.echo(_probe_words(here, probe, vessel, balls), err=True)


def _probe_words(here: HourlySeries, probe: Floats, vessel: Pot, balls: RootBalls) -> str:
    """Return what a probe tells of a pot, in a sentence or two."""
    import numpy as np

    from mebuki.season.probe_fit import bare_constant, fit_time_constant
    from mebuki.season.root_ball import RootBalls, surroundings

    sun = here.global_radiation
    dark = np.isnan(sun) if np.isnan(sun).all() else sun == 0
    try:
        fit = fit_time_constant(here.air_temperature, probe, dark)
    except RangeError as error:
        return f"probe: no time constant could be fitted: {error}"
    transfer = float(surroundings(here).transfer[dark].mean())
    bare = RootBalls.around([vessel], 0.0, grounded=False)
    told, low, high = (
        bare_constant(hours, bare, balls, transfer)
        for hours in (fit.hours_constant, fit.low, fit.high)
    )
    return (
        f"probe: it follows the air with a time constant of {fit.hours_constant:.2f} h "
        f"({fit.low:.2f} to {fit.high:.2f}; {fit.hours} steps, {fit.error:.2f} °C off in each).\n"
        f"probe: for the bare pot on a bench in a wind of 3 m/s that is {told:.2f} h "
        f"({low:.2f} to {high:.2f}); in the garden file, under pot: "
        f"time_constant_hours = {told:.2f}"
    )
