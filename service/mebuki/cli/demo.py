"""``mebuki demo``: the whole line on the example garden and measured weather, offline."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

DEMO_DAY = "2013-03-23"
DEFAULT_PORT = 8765


def demo(
    out: Annotated[Path, typer.Option(help="The folder for feed, mails and report.")] = Path(
        "mebuki-out"
    ),
    on: Annotated[str, typer.Option(help="A local day of 2013, YYYY-MM-DD.")] = DEMO_DAY,
    serve: Annotated[
        bool, typer.Option("--serve", help="Then serve report and feed on this machine alone.")
    ] = False,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="The port for --serve; 0 takes a free one.")
    ] = DEFAULT_PORT,
) -> None:
    """Run one round on the invented example garden and New York's weather of 2013.

    Nothing is fetched and nothing is sent: feed, mails and report are files.
    The demo keeps no state: the same day gives the same files.
    """
    from mebuki.bootstrap import demo_inputs, exits, run_round
    from mebuki.cli.days import nominal
    from mebuki.cli.summary import summary
    from mebuki.settings import read_settings

    inputs = demo_inputs()
    day, at = nominal(inputs.garden.site, on)
    ways = exits(read_settings(), out, keep_state=False)
    done = run_round(inputs, day, at, ways, out, anew=True)
    typer.echo(summary(done))
    if serve:
        _serve(done.report, done.feed, port)


def _serve(report: Path, feed: Path, port: int) -> None:
    from mebuki.web.serve import serve_files

    serve_files(report, feed, port, announce=typer.echo)
