"""``mebuki trees``: gardens and trees into the database and out of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.errors import InputError

if TYPE_CHECKING:
    from mebuki.domain.garden import Garden
    from mebuki.rulebook.joined import Joined
    from mebuki.rulebook.sift import Sifted
    from mebuki.storage.database import Database
    from mebuki.storage.gardens import GardenStore

app = typer.Typer(help="Gardens and trees into the database, and out of it.", no_args_is_help=True)

CSV, TOML = ".csv", ".toml"
AHEAD = timedelta(hours=14)
"""How far the earliest time zone on Earth is ahead of UTC."""

GardenOption = Annotated[
    str | None, typer.Option(help="The id of a garden; the only one there is if left out.")
]
DatabaseOption = Annotated[
    str | None, typer.Option(help="A file or a URL; MEBUKI_DATABASE if left out.")
]


@app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="A garden file (.toml), or a table (.csv).")],
    garden: GardenOption = None,
    database: DatabaseOption = None,
    only: Annotated[
        bool,
        typer.Option("--only", help="Trees the file does not name leave; their history is kept."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the report as JSON.")] = False,
) -> None:
    """Take trees in: each as it stands in the file; what was before stays as history.

    Rows that are wrong are refused one by one and listed with the reason; the
    others are kept, and the exit code is 2.
    """
    from mebuki.rulebook.joined import join

    with _opened(database) as opened:
        store = _gardens(opened)
        sifted = _sifted(file, store, garden)
        before = store.load(sifted.garden.id) if sifted.garden.id in store.ids() else None
        joined = join(file, sifted.garden, before, only=only)
        store.save(joined.garden)
        _refresh_feeds(opened, joined.garden.id)
    faults = (*sifted.faults, *joined.faults)
    if as_json:
        typer.echo(json.dumps(_data(sifted, joined), indent=2, ensure_ascii=False))
    else:
        typer.echo(_text(sifted, joined))
        for fault in faults:
            typer.echo(f"  refused: {fault}", err=True)
    if faults:
        raise typer.Exit(2)


@app.command("export")
def export(
    file: Annotated[Path, typer.Argument(help="The garden (.toml), or its trees (.csv).")],
    garden: GardenOption = None,
    database: DatabaseOption = None,
) -> None:
    """Write a garden out; importing the file gives back what was exported.

    A table (.csv) holds trees and their records; site, places and people are in
    a garden file (.toml) alone.
    """
    from mebuki.files import write_whole
    from mebuki.rulebook.garden_text import garden_text
    from mebuki.rulebook.tree_table import tree_table

    kind = _kind(file)
    with _opened(database) as opened:
        store = _gardens(opened)
        found = store.load(_id(store, garden))
    # spreadsheets take a table for UTF-8 only if it begins with a mark
    table = kind == CSV
    content = tree_table(found).encode("utf-8-sig") if table else garden_text(found).encode()
    write_whole(file, content)
    typer.echo(f"{_counted(found)} of the garden {found.id} written to {file}")


@contextmanager
def _opened(database: str | None) -> Iterator[Database]:
    from mebuki.settings import read_settings
    from mebuki.storage.migrate import open_database

    with closing(open_database(database or read_settings().database)) as opened:
        yield opened


def _gardens(database: Database) -> GardenStore:
    from mebuki.clock import SystemClock
    from mebuki.storage.gardens import GardenStore

    return GardenStore(database, SystemClock())


def _refresh_feeds(database: Database, garden: str) -> None:
    """Have work that is on record now leave the calendars at their next fetch."""
    from mebuki.bootstrap.feeding import make_feed_book
    from mebuki.clock import SystemClock
    from mebuki.settings import read_settings

    make_feed_book(read_settings(), database, SystemClock()).refresh(garden)


def _sifted(file: Path, store: GardenStore, garden: str | None) -> Sifted:
    """Return what is right in a file, and why the rest is refused."""
    from mebuki.clock import SystemClock
    from mebuki.rulebook import read_rulebook, read_taxa_with_faults
    from mebuki.rulebook.documents import read_document
    from mebuki.rulebook.garden import Known
    from mebuki.rulebook.sift import sift
    from mebuki.rulebook.tree_table import read_tree_table
    from mebuki.settings import read_settings

    own = read_settings().config_dir
    taxa, broken = read_taxa_with_faults(own)
    today = (SystemClock().now() + AHEAD).date()
    known = Known(taxa, read_rulebook(own).substrates, today, broken)
    if _kind(file) == CSV:
        document = read_tree_table(file, store.load(_id(store, garden)))
        return sift(document, known).and_refused(document.refused)
    sifted = sift(read_document(file), known)
    if garden not in (None, sifted.garden.id):
        msg = f"{file} is the garden {sifted.garden.id}, not {garden}"
        raise InputError(msg)
    return sifted


def _kind(file: Path) -> str:
    kind = file.suffix.lower()
    if kind not in (CSV, TOML):
        msg = f"{file}: the name must end in .csv (a table of trees) or .toml (a whole garden)"
        raise InputError(msg)
    return kind


def _id(store: GardenStore, garden: str | None) -> str:
    there = store.ids()
    if garden is not None:
        return garden
    if len(there) == 1:
        return there[0]
    if there:
        msg = f"there are several gardens; name one with --garden: {', '.join(there)}"
    else:
        msg = "the database has no garden yet; import a garden file (.toml) first"
    raise InputError(msg)


def _counted(garden: Garden) -> str:
    records = sum(len(tree.records) for tree in garden.trees)
    return f"{len(garden.trees)} trees and {records} records"


def _text(sifted: Sifted, joined: Joined) -> str:
    told = [
        f"{_counted(joined.garden)} are in the garden {joined.garden.id} now:",
        f"  {len(joined.new)} trees new, {len(joined.changed)} changed, "
        f"{len(joined.same)} as they were",
    ]
    if joined.left:
        told.append(f"  {len(joined.left)} left, their history is kept: {', '.join(joined.left)}")
    trees = sifted.trees + len(joined.faults)
    if trees or sifted.records:
        told.append(f"  {trees} trees and {sifted.records} single records refused")
    return "\n".join(told)


def _data(sifted: Sifted, joined: Joined) -> dict[str, object]:
    return {
        "garden": joined.garden.id,
        "trees": len(joined.garden.trees),
        "new": joined.new,
        "changed": joined.changed,
        "same": joined.same,
        "left": joined.left,
        "refused": [asdict(fault) for fault in (*sifted.faults, *joined.faults)],
    }
