"""``mebuki compute pot-water``: the water of one pot, hour by hour."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.cli.columns import read_table, write_rows
from mebuki.cli.hour_table import aligned, cells, hourly_readings, times
from mebuki.errors import InputError

if TYPE_CHECKING:
    from mebuki.season.pot_calibration import WaterShare

_SIZE = re.compile(r"(?P<millimetres>\d+(\.\d+)?) ?mm")


def pot_water(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="A CSV table; see the columns.")],
    pot: Annotated[str, typer.Option(help="Such as 'oval 30x22x7' or 'round 16x17' (cm).")],
    canopy: Annotated[float, typer.Option(help="Mean width of the crown (cm).")],
    taxon: Annotated[str, typer.Option(help="A taxon id such as acer-palmatum.")],
    substrate: Annotated[
        str,
        typer.Option(
            help="A mix of substrates.toml, or the middle of the sieve range of a mineral one, "
            "such as '3mm'."
        ),
    ] = "mixed-mineral",
    leafless: Annotated[bool, typer.Option(help="Bare or at rest, not in full leaf.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="A JSON array of rows instead of CSV.")
    ] = False,
) -> None:
    """Water of a pot that is full at the start: time, use, water_left (L), share_left (0..1).

    Columns in: time, reference_evaporation (mm in the hour), precipitation (mm in the
    hour, measured). water_left is all the tree can draw; share_left is that of the easily
    available water, 0 when the pot is dry and wants watering. From an unknown hour
    on the pot is unknown. Freshly filled substrate is taken; nobody waters. What it
    holds is told with its range on standard error.
    """
    import numpy as np

    from mebuki.cli.pot_option import pot_of
    from mebuki.rulebook import read_taxon
    from mebuki.season.humidity import refuse_outside
    from mebuki.season.pot_store import Pots, full_and_bare
    from mebuki.season.pot_water import Course, water_trace

    refuse_outside(canopy, "--canopy", 1, 500, "cm")
    vessel = pot_of(pot)
    kind = full_and_bare(read_taxon(taxon))[1 if leafless else 0]
    share = _share(substrate)
    names = ("reference_evaporation", "precipitation")
    table = read_table(file, ("time", *names))
    evaporation, rain = (table.numbers(name) for name in names)
    refuse_outside(evaporation, "reference_evaporation", -0.5, 3, "mm/h")
    refuse_outside(rain, "precipitation", 0, 300, "mm/h")
    readings = hourly_readings(table, np.zeros(len(rain)))
    hours = len(readings.rows)
    pots = Pots(
        top_area=np.array([vessel.top_area]),
        canopy_area=np.array([np.pi / 4 * (canopy / 100) ** 2]),
        easy_water=np.array([vessel.volume * share.value]),
        watered=(None,),
    )
    course = Course(
        evaporation=np.maximum(aligned(evaporation, readings.rows), 0),
        rain=aligned(rain, readings.rows),
        basal=np.full((1, hours), kind),
        liquid=np.ones((1, hours)),
        filled=np.zeros((1, hours), dtype=bool),
    )
    trace = water_trace(pots, course)
    rest = np.clip(1 - (pots.total_water - trace.left[0]) / pots.easy_water, 0, 1)
    columns = (cells(values) for values in (trace.use[0], trace.left[0], rest))
    rows = zip(times(table, readings), *columns, strict=True)
    write_rows(("time", "use", "water_left", "share_left"), rows, as_json)
    low, high = vessel.volume * share.low, vessel.volume * share.high
    typer.echo(
        f"easily available water: {vessel.volume * share.value:.2f} L, "
        f"{low:.2f} to {high:.2f} L [{share.source}]",
        err=True,
    )


def _share(substrate: str) -> WaterShare:
    """Return the easily available water of a mix by its name, or of a particle size."""
    from mebuki.rulebook import read_rulebook
    from mebuki.season.pot_calibration import WaterShare, share_by_particle

    size = _SIZE.fullmatch(substrate.strip())
    if size is not None:
        return share_by_particle(float(size["millimetres"]))
    mixes = read_rulebook().substrates
    if substrate not in mixes:
        names = ", ".join(sorted(mixes))
        msg = f"--substrate {substrate!r}: must be one of {names}, or a size such as 3mm"
        raise InputError(msg)
    figure = mixes[substrate].easily_available_water
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    return WaterShare(figure.value, low, high, figure.source)
