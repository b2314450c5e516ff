"""The command line: puts the commands together and turns errors into exit codes.

Exit code 0 for success, 2 for bad input, 1 for a fault. Heavy libraries are
loaded inside the commands, so that ``mebuki --help`` answers at once.
"""

from __future__ import annotations

import sys
import zoneinfo

import typer

from mebuki import __version__
from mebuki.cli import (
    backup,
    check,
    compute,
    compute_pot,
    demo,
    explain,
    feeds,
    hindcast,
    mail,
    place,
    restore,
    round_,
    scores,
    serve,
    taxa,
    trees,
    weather,
)
from mebuki.errors import FilesError, InputError, MebukiError

app = typer.Typer(
    name="mebuki",
    help="Seasonal care calendar and weather-aware alerts for trees in small pots.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # square brackets in a help text are units
)
app.command("demo")(demo.demo)
app.command("round")(round_.round_)
app.command("serve")(serve.serve)
app.command("explain")(explain.explain)
app.command("hindcast")(hindcast.hindcast)
app.command("scores")(scores.scores)
app.command("check")(check.check)
app.command("taxa")(taxa.taxa)
app.command("weather")(weather.weather)
app.command("place")(place.place)
app.command("mail")(mail.mail)
app.command("backup")(backup.backup)
app.command("restore")(restore.restore)
app.add_typer(trees.app, name="trees")
app.add_typer(feeds.app, name="feeds")
compute_pot.register(compute.app)
app.add_typer(compute.app, name="compute")


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"mebuki {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False, "--version", help="Show the version and stop.", callback=_show_version, is_eager=True
    ),
) -> None:
    """Seasonal care calendar and weather-aware alerts for trees in small pots."""


def main() -> None:
    """Run the command line; every expected error is one readable block on standard error."""
    # The packaged time zones are newer than many systems' copies.
    zoneinfo.reset_tzpath(())
    try:
        app()
    except FilesError as error:
        count = len(error.faults)
        typer.echo(f"{count} fault{'s' if count != 1 else ''}:", err=True)
        for fault in error.faults:
            typer.echo(f"  {fault}", err=True)
        sys.exit(2)
    except MebukiError as error:
        typer.echo(f"mebuki: {error}", err=True)
        sys.exit(2 if isinstance(error, InputError) else 1)
    except BrokenPipeError:
        sys.exit(0)
