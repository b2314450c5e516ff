"""``mebuki check``: settings, garden and rule files, every fault at once."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from mebuki.errors import Fault
    from mebuki.settings import Settings

AHEAD = timedelta(hours=14)
"""How far the earliest time zone on Earth is ahead of UTC."""


def check(
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="Garden or rule files; the set garden, or the example, if none."),
    ] = None,
    garden: Annotated[Path | None, typer.Option(help="A garden file.")] = None,
    config: Annotated[
        Path | None, typer.Option(help="A folder of your own rule files, laid over the shipped.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the faults as JSON.")] = False,
) -> None:
    """Look through settings, gardens and rules; write nothing.

    Exit code 2 if anything is wrong: every fault is told with its file, key,
    line and what is allowed. Records that contradict others are named in notes;
    they are no fault, and are not used.
    """
    from mebuki.errors import FilesError
    from mebuki.rulebook import check_files

    settings, faults = _settings()
    own = config or settings.config_dir
    looked_at = _gardens(files or [], garden, settings)
    faults += check_files(looked_at, own, _latest_today())
    if as_json:
        told = {"faults": [asdict(fault) for fault in faults]}
        notes = [] if faults else _notes(looked_at, own)
        typer.echo(json.dumps({**told, "notes": notes}, indent=2, ensure_ascii=False))
        raise typer.Exit(2 if faults else 0)
    if faults:
        raise FilesError(faults)
    typer.echo("\n".join([_all_well(looked_at, own), *_notes(looked_at, own)]))


def _settings() -> tuple[Settings, list[Fault]]:
    """Return the settings, or the default ones and what is wrong with those that were set."""
    from mebuki.errors import FilesError
    from mebuki.settings import Settings, read_settings

    try:
        return read_settings(), []
    except FilesError as error:
        return Settings.model_construct(), list(error.faults)


def _gardens(files: list[Path], garden: Path | None, settings: Settings) -> tuple[Path, ...]:
    from mebuki.rulebook import shipped_config

    named = (*files, *((garden,) if garden is not None else ()))
    return named or (settings.garden_file or shipped_config() / "garden.example.toml",)


def _latest_today() -> date:
    """Return the latest day that it is anywhere: a record of today is right in every garden."""
    from mebuki.clock import SystemClock

    return (SystemClock().now() + AHEAD).date()


def _notes(files: Sequence[Path], own: Path | None) -> list[str]:
    """Return the records of gardens that contradict others, one a line."""
    from mebuki.domain.history import contradictions
    from mebuki.rulebook import read_garden, read_taxa

    taxa = read_taxa(own)
    return [
        f"Note: {file.name}: {tree.name}: {doubt}"
        for file in files
        if file.suffix == ".toml" and _is_garden(file)
        for tree in read_garden(file, taxa).trees
        for doubt in contradictions(tree)
    ]


def _is_garden(file: Path) -> bool:
    """Whether a file that has passed the check is a garden, not a file of rules."""
    import tomllib

    return "trees" in tomllib.loads(file.read_text("utf-8"))


def _all_well(files: Sequence[Path], own: Path | None) -> str:
    from mebuki.rulebook import read_rulebook, read_taxa

    rulebook = read_rulebook(own)
    counts = (
        f"{len(read_taxa(own))} taxa, {len(rulebook.practice.figures)} practice figures, "
        f"{len(rulebook.substrates)} substrates, {len(rulebook.cautions)} cautions"
    )
    return "\n".join(["All well.", *(f"  {path}" for path in files), f"  {counts}"])
