"""Practice, substrates, wire and cautions, and one's own files over them."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.errors import FaultError, FilesError
from mebuki.rulebook import read_rulebook, shipped_config


def test_a_figure_of_ones_own_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    """A file of one's own holds only what differs."""
    own = '[repot]\nfrost_free_weeks = { value = 10, source = "my garden" }\n'
    (tmp_path / "practice.toml").write_text(own, "utf-8")
    practice = read_rulebook(tmp_path).practice
    assert practice.value("repot.frost_free_weeks") == 10
    assert practice.figure("repot.frost_free_weeks").source == "my garden"
    assert practice.figures.keys() == read_rulebook().practice.figures.keys()


def test_a_misspelt_figure_is_not_passed_over(tmp_path: Path) -> None:
    """A figure that no rule reads would change nothing without a word."""
    own = '[repot]\nfrost_free_week = { value = 10, source = "my garden" }\n'
    (tmp_path / "practice.toml").write_text(own, "utf-8")
    with pytest.raises(FilesError, match=r"repot\.frost_free_week \(line 2\).*frost_free_weeks"):
        read_rulebook(tmp_path)


def test_a_bare_number_is_told_to_need_a_source(tmp_path: Path) -> None:
    """The keeper is told which keys a figure has."""
    (tmp_path / "practice.toml").write_text("[repot]\nfrost_free_weeks = 10\n", "utf-8")
    with pytest.raises(FilesError, match="must be a table of keys and values: source, value"):
        read_rulebook(tmp_path)


def test_a_mix_of_ones_own_is_added(tmp_path: Path) -> None:
    """Its parts are materials of the shipped table."""
    own = (
        '[mixes.mine]\nname = "mine"\nparts = { lava = 1.0 }\n'
        'easily_available_water = { value = 0.05, source = "weighed" }\n'
        'capacity = { value = 0.2, source = "weighed" }\n'
        'wet_density = { value = 1.1, source = "weighed" }\n'
    )
    (tmp_path / "substrates.toml").write_text(own, "utf-8")
    substrates = read_rulebook(tmp_path).substrates
    assert substrates["mine"].easily_available_water.value == 0.05
    assert "kanuma" in substrates
    (tmp_path / "substrates.toml").write_text(own.replace("lava", "larva"), "utf-8")
    with pytest.raises(FilesError, match="unknown material; did you mean lava"):
        read_rulebook(tmp_path)


def test_faults_of_several_files_are_told_together(tmp_path: Path) -> None:
    """One look shows what is wrong in all of them."""
    (tmp_path / "practice.toml").write_text("repot = 3\n", "utf-8")
    (tmp_path / "cautions.toml").write_text('[lifting]\ntext = "x"\n', "utf-8")
    (tmp_path / "wire.toml").write_text("wires = []\nwire = 1\n", "utf-8")
    (tmp_path / "substrates.toml").write_text("mix = 1\nmixes = 2\n", "utf-8")
    with pytest.raises(FilesError) as raised:
        read_rulebook(tmp_path)
    files = {Path(fault.file).name for fault in raised.value.faults}
    assert files == {"practice.toml", "cautions.toml", "wire.toml", "substrates.toml"}
    assert len(raised.value.faults) == 6


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """Settings that point nowhere are not passed over."""
    with pytest.raises(FilesError, match="must exist"):
        read_rulebook(tmp_path / "nowhere")


def test_rules_are_found_beside_the_package_in_a_wheel(tmp_path: Path) -> None:
    """A wheel carries them as ``_config``."""
    package = tmp_path / "site" / "mebuki"
    (package / "_config" / "taxa").mkdir(parents=True)
    assert shipped_config(package) == package / "_config"


def test_rules_are_found_two_levels_up_in_a_checkout(tmp_path: Path) -> None:
    """A checkout keeps them at its top."""
    package = tmp_path / "service" / "mebuki"
    package.mkdir(parents=True)
    (tmp_path / "config" / "taxa").mkdir(parents=True)
    assert shipped_config(package) == tmp_path / "config"


def test_missing_rules_are_told_with_both_places(tmp_path: Path) -> None:
    """A broken installation names where it looked."""
    package = tmp_path / "service" / "mebuki"
    with pytest.raises(FaultError, match=r"_config.*config"):
        shipped_config(package)
