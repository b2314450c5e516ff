"""Practice, substrates, wire and cautions, and one's own files over them."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.errors import FaultError, FilesError
from mebuki.rulebook import check_files, read_rulebook, shipped_config
from mebuki.rulebook.possible import impossible


def test_a_figure_of_ones_own_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    """A file of one's own holds only what differs."""
    own = '[repot]\nfrost_free_weeks = { value = 10, source = "my garden" }\n'
    (tmp_path / "practice.toml").write_text(own, "utf-8")
    practice = read_rulebook(tmp_path).practice
    assert practice.value("repot.frost_free_weeks") == 10
    figure = practice.figure("repot.frost_free_weeks")
    assert figure.source == "your practice file: my garden"
    assert figure.note == read_rulebook().practice.figure("repot.frost_free_weeks").note
    assert practice.figures.keys() == read_rulebook().practice.figures.keys()


def test_a_misspelt_figure_is_not_passed_over(tmp_path: Path) -> None:
    """A figure that no rule reads would change nothing without a word."""
    own = '[repot]\nfrost_free_week = { value = 10, source = "my garden" }\n'
    (tmp_path / "practice.toml").write_text(own, "utf-8")
    with pytest.raises(FilesError, match=r"repot\.frost_free_week \(line 2\).*frost_free_weeks"):
        read_rulebook(tmp_path)


@pytest.mark.parametrize(
    ("section", "line", "allowed"),
    [
        ("wire", 'bite_gap = { value = 0, source = "mine" }', "must be above 0"),
        ("frost", 'threshold_good = { value = 15, source = "mine" }', "must be from 0 to 1"),
        ("repot", 'window_weeks = { value = -3, source = "mine" }', "must not be below 0"),
        ("feed", 'heat_days = { value = 1e9, source = "mine" }', "must not be beyond 10000"),
        ("water", 'crop_conifer = { value = -1, source = "mine" }', "must be above 0"),
    ],
)
def test_a_value_that_no_rule_could_use_is_told(
    tmp_path: Path, section: str, line: str, allowed: str
) -> None:
    """Shares, spans of time and what is divided by have bounds; the check names them."""
    path = tmp_path / "practice.toml"
    path.write_text(f"[{section}]\n{line}\n", "utf-8")
    (fault,) = check_files([], tmp_path)
    assert fault.file == str(path)
    assert "line 2" in fault.where
    assert allowed in fault.allowed


def test_degrees_may_be_any() -> None:
    """A keeper in a mild place may ask for warmth, one in a cold place for frost."""
    for key in ("frost.critical_swelling", "wire.bend_minimum", "winter.warm_place"):
        assert impossible(key, -12) is None
        assert impossible(key, 12) is None
    assert impossible("growth.start_conifer_days", -40) is None


def test_the_check_names_a_misspelt_figure_with_what_is_allowed(tmp_path: Path) -> None:
    """``mebuki check`` tells the line, the key and the figure that was meant."""
    (tmp_path / "practice.toml").write_text(
        '[feed]\nheat_limits = { value = 30, source = "mine" }\n'
        '[fed]\nheat_limit = { value = 30, source = "mine" }\n',
        "utf-8",
    )
    told = [f"{fault.where}: {fault.allowed}" for fault in check_files([], tmp_path)]
    assert len(told) == 2
    for line, where in zip(
        told, ("feed.heat_limits (line 2)", "fed.heat_limit (line 4)"), strict=True
    ):
        assert line.startswith(f"{where}: unknown figure; did you mean feed.heat_limit")


def test_a_figure_near_to_none_is_told_with_those_there_are(tmp_path: Path) -> None:
    """A key that is like no other is answered with the keys of its section, or the sections."""
    own = '{ value = 30, source = "mine" }'
    (tmp_path / "practice.toml").write_text(
        f"[wind]\nzzz = {own}\n[qqqq]\nxyzzy = {own}\n", "utf-8"
    )
    wind, nowhere = (fault.allowed for fault in check_files([], tmp_path))
    assert wind == "unknown figure; known in [wind]: gust_estimated, gust_limit"
    assert "known sections: agenda, deadwood, feed" in nowhere


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


@pytest.mark.parametrize(
    ("right", "wrong", "says"),
    [
        ("0.05", "5", "easily_available_water 5 must be above 0 and at most 1"),
        ("0.05", "0", "easily_available_water 0 must be above 0"),
        ("0.05", "0.3", r"easily_available_water 0\.3 must not exceed capacity 0\.2"),
        ("0.2,", "20,", "capacity 20 must be above 0 and at most 1"),
        ("1.1", "1100", r"wet_density 1100 must be above 0\.02 and at most 3 kg/L"),
    ],
)
def test_an_impossible_mix_is_refused(tmp_path: Path, right: str, wrong: str, says: str) -> None:
    """Shares in per cent and densities in g/L are found out, with the value and its range."""
    own = (
        '[mixes.mine]\nname = "mine"\nparts = { lava = 1.0 }\n'
        'easily_available_water = { value = 0.05, source = "weighed" }\n'
        'capacity = { value = 0.2, source = "weighed" }\n'
        'wet_density = { value = 1.1, source = "weighed" }\n'
    )
    (tmp_path / "substrates.toml").write_text(own.replace(right, wrong), "utf-8")
    with pytest.raises(FilesError, match=says):
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
