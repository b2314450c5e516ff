"""A taxon of one's own that names a nearest relative for what it leaves out."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.errors import FilesError
from mebuki.rulebook import check_files, read_taxa, read_taxa_with_faults, read_taxon

SHORT = """
id = "{id}"
scientific_name = "Acer ginnala"
common_name = "Amur maple"
nearest_relative = "{relative}"
"""


def own(folder: Path, id_: str, relative: str, more: str = "") -> Path:
    """Write a short taxon file into a folder of one's own."""
    (folder / "taxa").mkdir(exist_ok=True)
    path = folder / "taxa" / f"{id_}.toml"
    path.write_text(SHORT.format(id=id_, relative=relative) + more, "utf-8")
    return path


def test_what_is_left_out_comes_from_the_relative_and_says_so(tmp_path: Path) -> None:
    """Four lines make a taxon; every value names the relative, none claims to be seen."""
    own(tmp_path, "acer-ginnala", "acer-palmatum")
    taxon, relative = read_taxon("acer-ginnala", tmp_path), read_taxon("acer-palmatum")
    assert taxon.common_name == "Amur maple"
    assert taxon.group == relative.group
    clock = taxon.phenology.bud_break
    assert clock.cwtt.value == relative.phenology.bud_break.cwtt.value
    assert clock.cwtt.source.startswith("relative acer-palmatum: fit to Harvard Forest")
    assert (relative.phenology.bud_break.cwtt.confidence, clock.cwtt.confidence) == (
        "seen", "design",
    )  # fmt: skip
    assert clock.quality.startswith("relative acer-palmatum: ")
    assert taxon.upkeep.water_source == "relative acer-palmatum: practice"
    assert taxon.upkeep.structural_windows == relative.upkeep.structural_windows
    assert taxon.includes == ""
    assert taxon.phenology.swell is not None
    assert taxon.phenology.swell.source.startswith("relative acer-palmatum: ")


def test_ones_own_values_stand(tmp_path: Path) -> None:
    """A section may hold what differs; the rest of it is filled."""
    own(
        tmp_path, "acer-ginnala", "acer-palmatum",
        '[hardiness]\nroot_alert = { value = -7, source = "practice" }\n'
        '[upkeep]\nwater_class = "low"\nwater_source = "own records"\n'
        'structural_pruning = { value = "late winter", source = "practice" }\n',
    )  # fmt: skip
    taxon = read_taxon("acer-ginnala", tmp_path)
    assert taxon.hardiness.root_alert is not None
    assert (taxon.hardiness.root_alert.value, taxon.hardiness.root_alert.source) == (
        -7, "practice",
    )  # fmt: skip
    assert taxon.hardiness.shelter.source.startswith("relative ")
    assert (taxon.upkeep.water_class, taxon.upkeep.water_source) == ("low", "own records")
    assert taxon.upkeep.structural_windows == ()


def test_unknown_stays_unknown(tmp_path: Path) -> None:
    """The word is a value: a relative does not fill it."""
    own(tmp_path, "acer-ginnala", "acer-palmatum", '[hardiness]\nroot_kill = "unknown"\n')
    assert read_taxon("acer-ginnala", tmp_path).hardiness.root_kill is None
    assert read_taxon("acer-palmatum").hardiness.root_kill is not None


def test_a_clock_is_taken_whole_or_not_at_all(tmp_path: Path) -> None:
    """Half of one clock and half of another would be no clock: the missing part is a fault."""
    more = '[phenology.bud_break]\ncwtt = { value = 240, source = "own records" }\n'
    own(tmp_path, "acer-ginnala", "acer-palmatum", more)
    with pytest.raises(FilesError, match=r"phenology\.bud_break\.sd_ln .*missing"):
        read_taxon("acer-ginnala", tmp_path)
    own(
        tmp_path, "acer-ginnala", "acer-palmatum",
        more + 'sd_ln = { value = 0.2, source = "default" }\n',
    )  # fmt: skip
    clock = read_taxon("acer-ginnala", tmp_path).phenology.bud_break
    assert (clock.cwtt.value, clock.sigdl) == (240, None)


def test_a_relative_may_have_a_relative(tmp_path: Path) -> None:
    """The source tells the whole way."""
    own(tmp_path, "acer-ginnala", "acer-palmatum")
    own(tmp_path, "acer-tataricum", "acer-ginnala")
    taxon = read_taxon("acer-tataricum", tmp_path)
    assert taxon.phenology.bud_break.cwtt.source.startswith(
        "relative acer-ginnala: relative acer-palmatum: "
    )


def test_an_unknown_relative_is_a_fault_with_a_near_one(tmp_path: Path) -> None:
    """The taxon is disabled, the others are read."""
    path = own(tmp_path, "acer-ginnala", "acer-palmatun")
    taxa, faults = read_taxa_with_faults(tmp_path)
    assert taxa.keys() == read_taxa().keys()
    (fault,) = faults["acer-ginnala"]
    assert fault.file == str(path)
    assert fault.where == "nearest_relative (line 5)"
    assert fault.allowed == "unknown taxon; did you mean acer-palmatum?"


def test_relatives_in_a_circle_are_a_fault_of_each(tmp_path: Path) -> None:
    """Neither could ever be filled; the way round is told."""
    own(tmp_path, "acer-ginnala", "acer-tataricum")
    own(tmp_path, "acer-tataricum", "acer-ginnala")
    _, faults = read_taxa_with_faults(tmp_path)
    assert faults.keys() == {"acer-ginnala", "acer-tataricum"}
    assert "acer-ginnala → acer-tataricum → acer-ginnala" in str(faults["acer-ginnala"][0])
    own(tmp_path, "acer-rubrum", "acer-rubrum")
    assert "acer-rubrum → acer-rubrum" in str(read_taxa_with_faults(tmp_path)[1]["acer-rubrum"][0])


def test_a_relative_with_faults_is_named(tmp_path: Path) -> None:
    """The fault of the other file is told beside one's own."""
    own(tmp_path, "acer-ginnala", "acer-palmatum", "[hardiness]\nroot_alert = 3\n")
    own(tmp_path, "acer-tataricum", "acer-ginnala")
    _, faults = read_taxa_with_faults(tmp_path)
    (fault,) = faults["acer-tataricum"]
    assert fault.where.startswith("nearest_relative")
    assert "acer-ginnala.toml" in fault.allowed
    assert "root_alert" in fault.allowed


def test_shipped_files_are_not_filled() -> None:
    """What a shipped file leaves out is not known, though it names a relative."""
    taxon, relative = read_taxon("pinus-thunbergii"), read_taxon("pinus-sylvestris")
    assert taxon.nearest_relative == relative.id
    assert relative.phenology.bud_break.sigdl is not None
    sources = str(taxon.model_dump())
    assert "relative pinus-sylvestris: " not in sources


def test_a_short_file_passes_the_check(tmp_path: Path) -> None:
    """Named by its path or in a folder of one's own."""
    path = own(tmp_path, "acer-ginnala", "acer-palmatum")
    assert check_files([path], tmp_path) == []
    assert check_files([path]) == []
