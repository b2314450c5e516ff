"""Taxon files: shipped ones, one's own, broken ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.errors import FilesError, InputError
from mebuki.rulebook import read_taxa, read_taxa_with_faults, read_taxon, shipped_config


def _own(folder: Path, name: str, *changes: tuple[str, str]) -> Path:
    text = (shipped_config() / "taxa" / "acer-palmatum.toml").read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "taxa").mkdir(exist_ok=True)
    path = folder / "taxa" / name
    path.write_text(text, "utf-8")
    return path


def test_a_file_of_ones_own_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    """Files are laid over by name; the other taxa stay."""
    _own(tmp_path, "acer-palmatum.toml", ("cwtt = { value = 265", "cwtt = { value = 222"))
    taxa = read_taxa(tmp_path)
    assert taxa["acer-palmatum"].phenology.bud_break.cwtt.value == 222
    assert taxa.keys() == read_taxa().keys()


def test_a_new_file_adds_a_taxon(tmp_path: Path) -> None:
    """A taxon that is not shipped needs one file and nothing else."""
    _own(tmp_path, "acer-ginnala.toml", ('"acer-palmatum"', '"acer-ginnala"'))
    assert read_taxa(tmp_path).keys() - read_taxa().keys() == {"acer-ginnala"}


def test_a_broken_file_disables_its_taxon_and_no_other(tmp_path: Path) -> None:
    """The rest is read, and the fault is told with key and line."""
    path = _own(
        tmp_path, "acer-palmatum.toml", ("root_alert = { value = -4", "root_alert = { value = 'x'")
    )
    taxa, faults = read_taxa_with_faults(tmp_path)
    assert read_taxa().keys() - taxa.keys() == {"acer-palmatum"}
    (fault,) = faults["acer-palmatum"]
    assert fault.file == str(path)
    assert fault.where.startswith("hardiness.root_alert.value (line ")
    assert "a number" in fault.allowed


def test_a_value_without_a_source_is_refused(tmp_path: Path) -> None:
    """Nothing is used whose source is not named."""
    _own(tmp_path, "acer-palmatum.toml", ('{ value = -4, source = "default", ', "{ value = -4, "))
    with pytest.raises(FilesError, match=r"root_alert\.source \(line \d+\): missing"):
        read_taxon("acer-palmatum", tmp_path)


def test_unknown_is_read_as_unknown() -> None:
    """The word stands for no value, where a number would otherwise have to be invented."""
    assert read_taxon("acer-palmatum").hardiness.root_kill_young is None


def test_a_file_is_named_after_its_taxon(tmp_path: Path) -> None:
    """An id that differs from the file's name would never be found."""
    _own(tmp_path, "acer-rubrum.toml")
    with pytest.raises(FilesError, match='must be "acer-rubrum", as the file is named'):
        read_taxon("acer-rubrum", tmp_path)


@pytest.mark.parametrize(
    ("asked", "near"),
    [
        ("acer-palmatun", "acer-palmatum"),
        ("Acer palmatum", "acer-palmatum"),
        ("Prunus × yedoensis", "prunus-yedoensis"),
        ("trident maple", "acer-buergerianum"),
        ("ginkgo", "ginkgo-biloba"),
    ],
)
def test_an_unknown_taxon_is_answered_with_near_ones(asked: str, near: str) -> None:
    """A slip, a scientific name, a common name or a genus leads to the id."""
    with pytest.raises(InputError, match=f"did you mean .*{near}"):
        read_taxon(asked)


def test_a_word_near_nothing_is_told_without_a_guess() -> None:
    """No name is made up."""
    with pytest.raises(InputError, match="unknown taxon 'qqqq'; see config/taxa"):
        read_taxon("qqqq")
