"""``mebuki round``: one round for a garden, now or for a given day."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mebuki.errors import InputError

LIVE = "live"


def round_(
    on: Annotated[
        str | None, typer.Option(help="The local day, YYYY-MM-DD; now if left out.")
    ] = None,
    garden: Annotated[
        Path | None, typer.Option(help="A garden file; the example garden if none is set.")
    ] = None,
    weather: Annotated[
        str | None,
        typer.Option(help="A measured hourly series (CSV), or live; the demo year if none is set."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="The folder for feed, mails, report and state.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the entries as JSON.")] = False,
) -> None:
    """Look, plan and publish once; a second run for the same moment changes nothing."""
    from mebuki.bootstrap import exits, read_inputs, run_round
    from mebuki.cli.days import nominal
    from mebuki.cli.summary import as_data, summary
    from mebuki.settings import read_settings

    if weather == LIVE and on is not None:
        msg = f"--on {on} --weather live: live weather knows only the present; leave one out"
        raise InputError(msg)
    settings = read_settings()
    file = None if weather is None or weather == LIVE else Path(weather)
    inputs = read_inputs(settings, garden, file, live=weather == LIVE)
    day, at = nominal(inputs.garden.site, on)
    folder = out or settings.out_dir
    done = run_round(inputs, day, at, exits(settings, folder, keep_state=True), folder)
    typer.echo(as_data(done) if as_json else summary(done))
