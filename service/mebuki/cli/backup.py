"""``mebuki backup``: a verified copy of the database, while it is in use."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

DEFAULT_KEPT = 7


def backup(
    file: Annotated[Path, typer.Argument(help="The copy; older ones become FILE.1, FILE.2, ...")],
    database: Annotated[
        str | None, typer.Option(help="The database file; MEBUKI_DATABASE if left out.")
    ] = None,
    keep: Annotated[int, typer.Option(min=1, help="How many copies are kept.")] = DEFAULT_KEPT,
) -> None:
    """Copy the database, check the copy, and only then give it its name."""
    from mebuki.settings import read_settings
    from mebuki.storage.backup import backup as copied
    from mebuki.storage.database import Database

    with closing(Database(database or read_settings().database)) as source:
        counts = copied(source, file, keep)
    typer.echo(f"{file}: {sum(counts.values())} rows in {len(counts)} tables, checked")
