"""``mebuki taxa``: the list, and one taxon with where its values come from."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from mebuki.cli.taxa import taxa
from mebuki.errors import InputError

app = typer.Typer()
app.command()(taxa)


def said(*words: str) -> str:
    """Return what the command prints."""
    found = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert found.exit_code == 0
    return found.stdout


def test_the_list_names_every_taxon_with_its_cue_and_how_well_it_is_known() -> None:
    """One line a taxon, in columns, and how many there are."""
    lines = said().splitlines()
    assert lines[0].split() == [
        "id", "name", "group", "repot", "how", "well", "its", "bud", "break", "is", "known",
    ]  # fmt: skip
    (maple,) = [line for line in lines if line.startswith("acer-palmatum ")]
    assert "Japanese maple" in maple
    assert "deciduous-broadleaf" in maple
    assert "bud-swell" in maple
    assert maple.endswith("relatives: A. rubrum, A. saccharum, A. pensylvanicum")
    assert lines[-1] == "55 taxa; mebuki taxa ID shows one with its sources"


def test_one_taxon_is_shown_with_every_value_and_source() -> None:
    """Value, range, source, confidence, note; what is unknown says so."""
    told = said("pinus-thunbergii")
    assert "common name: Japanese black pine" in told
    assert "decandle weeks: 14.5 (13 to 16)  [practice; practice]  before the mean" in told
    assert "root kill: unknown" in told
    assert "root alert: −5  [default; design]" in told
    assert "nearest relative: pinus-sylvestris" in told
    assert "None" not in told


def test_json_holds_the_same_for_a_program() -> None:
    """The list with what is disabled, and one taxon whole."""
    listed = json.loads(said("--json"))
    assert len(listed["taxa"]) == 55
    assert listed["disabled"] == {}
    one = json.loads(said("acer-palmatum", "--json"))
    assert one["hardiness"]["root_kill_young"] is None
    assert one["repotting"]["years_young"]["source"] == "practice"


def test_an_unknown_taxon_is_answered_with_near_ones() -> None:
    """An error in one block, for exit code 2."""
    with pytest.raises(InputError, match="did you mean acer-palmatum"):
        said("acer-palmatun")


def test_ones_own_taxa_are_listed_and_broken_ones_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that cannot be used disables its taxon and is told; the list goes on."""
    (tmp_path / "taxa").mkdir()
    short = 'id = "{}"\nscientific_name = "Acer ginnala"\ncommon_name = "Amur maple"\n'
    (tmp_path / "taxa" / "acer-ginnala.toml").write_text(
        short.format("acer-ginnala") + 'nearest_relative = "acer-palmatum"\n', "utf-8"
    )
    (tmp_path / "taxa" / "acer-odd.toml").write_text(short.format("acer-odd"), "utf-8")
    monkeypatch.setenv("MEBUKI_CONFIG_DIR", str(tmp_path))
    told = said()
    assert "\nacer-ginnala " in told
    assert "56 taxa" in told
    assert "acer-odd is not used: " in told
    assert json.loads(said("--json"))["disabled"].keys() == {"acer-odd"}
    assert "relative acer-palmatum: " in said("acer-ginnala")
