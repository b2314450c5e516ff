"""Garden files for tests: a right one, and changes that make it wrong."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path

from mebuki.domain.taxon import Taxon
from mebuki.errors import Fault, FilesError
from mebuki.rulebook import read_garden, read_rulebook, read_taxa

TODAY = date(2013, 5, 1)

RIGHT = """\
id = "home"
name = "Home"

[site]
name = "Near New York"
latitude = 40.6
longitude = -73.8
time_zone = "America/New_York"

[[places]]
id = "bench"
name = "Bench"
kind = "bench"

[[trees]]
name = "Maple"
taxon = "acer-palmatum"
place = "bench"
pot = { shape = "oval", length_cm = 30, width_cm = 22, height_cm = 7 }
canopy_cm = 45
born = 1990
records = [
  { on = 2011-03-19, kind = "repotted" },
  { on = 2013-03-16, kind = "moved", place = "bench" },
]

[[trees]]
name = "Pine"
taxon = "pinus-mugo"
place = "bench"
pot = { shape = "round", length_cm = 20, height_cm = 8 }
canopy_cm = 25
"""


def garden_file(folder: Path, *changes: tuple[str, str]) -> Path:
    """Write the right garden with some texts replaced; each must occur."""
    text = RIGHT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "garden.toml"
    path.write_text(text, "utf-8")
    return path


@cache
def shipped_taxa() -> Mapping[str, Taxon]:
    """Return the shipped taxa, read once for all tests."""
    return read_taxa()


def faults_of(path: Path) -> tuple[Fault, ...]:
    """Return what is wrong with a garden file; nothing if it is right."""
    try:
        read_garden(path, shipped_taxa(), substrates=read_rulebook().substrates, today=TODAY)
    except FilesError as error:
        return error.faults
    return ()
