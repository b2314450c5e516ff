"""``mebuki compute``: one science function on a table, the result on standard output."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.cli.columns import Table, naming, read_table, write_rows
from mebuki.errors import InputError
from mebuki.season.degree_days import Cutoff, Method

if TYPE_CHECKING:
    from mebuki.season.extremes import DailyExtremes
    from mebuki.season.readings import HourlyReadings

app = typer.Typer(
    help="One science function on a CSV table; the result goes to standard output.",
    no_args_is_help=True,
    rich_markup_mode=None,  # square brackets in a help text are units
)

DailyFile = Annotated[
    Path,
    typer.Argument(
        metavar="FILE.csv",
        help="Columns date, tmin, tmax: ISO 8601 days in order, °C. Others are ignored. "
        "Up to three days in a row may be missing. '-' reads standard input.",
    ),
]
HourlyFile = Annotated[
    Path,
    typer.Argument(
        metavar="FILE.csv",
        help="Columns time, temperature: ISO 8601 times an hour apart, °C. Others are ignored. "
        "Up to three hours in a row may be missing. '-' reads standard input.",
    ),
]
Latitude = Annotated[float, typer.Option(help="Degrees, south negative.")]
Json = Annotated[bool, typer.Option("--json", help="A JSON array of rows instead of CSV.")]


@app.command("degree-days")
def degree_days(
    file: DailyFile,
    lower: Annotated[float, typer.Option(help="Lower threshold [°C].")] = 5.0,
    upper: Annotated[
        float | None, typer.Option(help="Upper threshold [°C]; none if left out.")
    ] = None,
    method: Annotated[
        Method,
        typer.Option(
            help="The day's curve. 'average' compares the mean with the thresholds, "
            "'average-clipped' first sets the extremes to them."
        ),
    ] = Method.SINGLE_SINE,
    cutoff: Annotated[
        Cutoff | None,
        typer.Option(
            help="Growth above --upper: none (as if there were no --upper), horizontal "
            "(the default; stays), vertical (stops), intermediate (falls as it rose)."
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Degree days: date, degree_days, total [°C d].

    The double curves need the next day's minimum; the last day takes its own.
    """
    import numpy as np

    from mebuki.season import degree_days as station

    _refuse_no_number(lower=lower, upper=upper)
    if cutoff not in (None, Cutoff.NONE) and upper is None:
        typer.echo(f"note: --cutoff {cutoff} has nothing to cut without --upper", err=True)
    extremes = _extremes(read_table(file, ("date", "tmin", "tmax")))
    sums = station.degree_days(
        extremes.minimum,
        extremes.maximum,
        lower,
        upper,
        method=method,
        cutoff=cutoff or Cutoff.HORIZONTAL,
    )
    rows = zip(_dates(extremes), sums.tolist(), np.cumsum(sums).tolist(), strict=True)
    write_rows(("date", "degree_days", "total"), rows, as_json)


@app.command("hourly-temperature")
def hourly_temperature(file: DailyFile, latitude: Latitude, as_json: Json = False) -> None:
    """Hours from daily extremes: time, temperature [°C].

    24 rows a day, 00:00 to 23:00 in local solar time (the sun is highest at
    12:00), without offset.
    """
    from mebuki.season import hours
    from mebuki.season.extremes import check_latitude
    from mebuki.season.seasons import days_of_year

    check_latitude(latitude)
    extremes = _extremes(read_table(file, ("date", "tmin", "tmax")))
    days = days_of_year(extremes.days)
    hourly = hours.hourly_temperature(extremes.minimum, extremes.maximum, days, latitude)
    times = (f"{day}T{hour:02d}:00" for day in _dates(extremes) for hour in range(hours.HOURS))
    write_rows(("time", "temperature"), zip(times, hourly.ravel().tolist(), strict=True), as_json)


@app.command("chill")
def chill(file: HourlyFile, as_json: Json = False) -> None:
    """Chill: time, chilling_hours, utah_units, chill_portions, each a running total.

    Chilling hours lie from 0 to 7.2 °C. Counting begins with the first row.
    """
    from mebuki.season import chill as station

    table = read_table(file, ("time", "temperature"))
    readings = _readings(table)
    scales = (station.chilling_hours, station.utah_units, station.chill_portions)
    totals = [scale(readings.temperature).tolist() for scale in scales]
    rows = zip(_times(table, readings), *totals, strict=True)
    write_rows(("time", "chilling_hours", "utah_units", "chill_portions"), rows, as_json)


@app.command("bud-break")
def bud_break(
    file: DailyFile,
    taxon: Annotated[str, typer.Option(help="A taxon id such as acer-palmatum.")],
    latitude: Latitude,
    as_json: Json = False,
) -> None:
    """Stages of spring: season, stage, date.

    A row for each season and stage the taxon has, as a BBCH number: 01 buds
    swell, 07 buds break, 11 first leaves, 19 leaves expanded, 61 flowers open.
    The date is empty where the stage was not reached within the table. A season
    is named after the year of its spring.
    """
    from mebuki.rulebook import read_taxon
    from mebuki.season.extremes import check_latitude
    from mebuki.season.past_seasons import observed_dates, season_faults
    from mebuki.settings import read_settings

    check_latitude(latitude)
    phenology = read_taxon(taxon, read_settings().config_dir).phenology
    extremes = _extremes(read_table(file, ("date", "tmin", "tmax")))
    days = (extremes.days, extremes.minimum, extremes.maximum, latitude)
    found = observed_dates(phenology, *days)
    faults = season_faults(*days)
    _remark(file, [f"season {season}: {fault}" for season, fault in faults.items()])
    rows = (
        (season, f"{bbch:02d}", day.isoformat() if day else None) for season, bbch, day in found
    )
    write_rows(("season", "stage", "date"), rows, as_json)


def _refuse_no_number(**options: float | None) -> None:
    for name, value in options.items():
        if value is not None and not math.isfinite(value):
            msg = f"--{name} {value}: must be a number"
            raise InputError(msg)


def _extremes(table: Table) -> DailyExtremes:
    from mebuki.season.extremes import check_extremes

    days = table.days("date")
    minimum, maximum = table.numbers("tmin"), table.numbers("tmax")
    with naming(table):
        extremes = check_extremes(days, minimum, maximum)
    _remark(table.name, extremes.remarks)
    return extremes


def _readings(table: Table) -> HourlyReadings:
    from mebuki.season.readings import check_readings

    moments, temperature = table.moments("time"), table.numbers("temperature")
    with naming(table):
        readings = check_readings(moments, temperature)
    _remark(table.name, readings.remarks)
    return readings


def _remark(name: object, remarks: Sequence[str]) -> None:
    for remark in remarks:
        typer.echo(f"{name}: {remark}", err=True)


def _dates(extremes: DailyExtremes) -> Iterator[str]:
    for ordinal in extremes.days.tolist():
        yield date.fromordinal(ordinal).isoformat()


def _times(table: Table, readings: HourlyReadings) -> Iterator[str]:
    """Give each hour the text it came with; filled hours are written in full."""
    given = table.columns["time"]
    for moment, row in zip(readings.moments, readings.rows.tolist(), strict=True):
        yield given[row] if row >= 0 else moment.isoformat(timespec="minutes")
