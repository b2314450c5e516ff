"""``mebuki restore``: a backup in the place of the database."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer


def restore(
    file: Annotated[Path, typer.Argument(help="A copy made by mebuki backup.")],
    database: Annotated[
        str | None, typer.Option(help="The database file; MEBUKI_DATABASE if left out.")
    ] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Take the place of what is there; it is kept beside."),
    ] = False,
) -> None:
    """Check a backup and put it in place; nothing is overwritten unless asked for."""
    from mebuki.settings import read_settings
    from mebuki.storage.backup import restore as restored
    from mebuki.storage.database import Database

    with closing(Database(database or read_settings().database)) as target:
        counts = restored(file, target, replace=replace)
    typer.echo(f"{target.name}: {sum(counts.values())} rows in {len(counts)} tables, checked")
