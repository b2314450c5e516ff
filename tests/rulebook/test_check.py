"""Everything looked through at once."""

from __future__ import annotations

from pathlib import Path

from mebuki.rulebook import check_files
from tests.rulebook.gardens import TODAY, garden_file


def test_a_right_garden_and_the_shipped_rules_have_no_fault(tmp_path: Path) -> None:
    """What is shipped is well."""
    assert check_files([garden_file(tmp_path)], None, TODAY) == []


def test_faults_of_rules_and_gardens_are_told_together(tmp_path: Path) -> None:
    """A broken taxon file, a wrong figure and a wrong garden come in one list."""
    own = tmp_path / "own"
    (own / "taxa").mkdir(parents=True)
    (own / "taxa" / "pinus-mugo.toml").write_text("id = 3\n", "utf-8")
    (own / "practice.toml").write_text("[repot]\nfrost_free_weeks = 1\n", "utf-8")
    (own / "practise.toml").write_text("", "utf-8")
    path = garden_file(tmp_path, ("canopy_cm = 45", "canopy_cm = -45"))
    files = [Path(fault.file).name for fault in check_files([path], own, TODAY)]
    assert set(files) == {"pinus-mugo.toml", "practice.toml", "practise.toml", "garden.toml"}
    assert files.count("garden.toml") == 1


def test_a_missing_folder_of_rules_does_not_hide_the_garden(tmp_path: Path) -> None:
    """The garden is still looked through, with the shipped rules."""
    path = garden_file(tmp_path, ("canopy_cm = 45", "canopy_cm = -45"))
    told = check_files([path], tmp_path / "nowhere", TODAY)
    assert [Path(fault.file).name for fault in told] == ["nowhere", "garden.toml"]


def test_rule_files_may_be_named_themselves(tmp_path: Path) -> None:
    """A taxon or practice file is checked as what it is."""
    taxon = tmp_path / "acer-rubrum.toml"
    taxon.write_text('scientific_name = "Acer rubrum"\n', "utf-8")
    practice = tmp_path / "practice.toml"
    practice.write_text("[repot]\nfrost_free_weeks = 1\n", "utf-8")
    told = check_files([taxon, practice], None, TODAY)
    assert "phenology" in {fault.where for fault in told}
    assert any("frost_free_weeks" in fault.where for fault in told)
