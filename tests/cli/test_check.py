"""``mebuki check`` as a person runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from mebuki.cli import main as command_line
from mebuki.rulebook import read_taxa
from tests.rulebook.gardens import garden_file


def _run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str
) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.argv", ["mebuki", "check", *arguments])
    with pytest.raises(SystemExit) as stop:
        command_line.main()
    shown = capsys.readouterr()
    return int(stop.value.code or 0), shown.out, shown.err


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Run in an empty folder, so that no settings file is near."""
    folder = tmp_path / "empty"
    folder.mkdir()
    monkeypatch.chdir(folder)


def test_all_well_is_told_with_counts(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without arguments the example garden and the shipped rules are looked through."""
    code, out, err = _run(monkeypatch, capsys)
    assert (code, err) == (0, "")
    assert out.startswith("All well.")
    assert "garden.example.toml" in out
    assert f"{len(read_taxa())} taxa" in out


def test_every_fault_goes_to_standard_error_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Exit code 2, one line a fault, and the folder stays as it was."""
    path = garden_file(
        tmp_path, ("canopy_cm = 45", 'canopy_cm = "45"'), ("pinus-mugo", "pinus-mughus"),
        ("2013-03-16", "2999-03-16"),
    )  # fmt: skip
    before = sorted(tmp_path.rglob("*"))
    code, out, err = _run(monkeypatch, capsys, str(path))
    assert (code, out) == (2, "")
    assert err.startswith("3 faults:")
    assert "trees[0].canopy_cm (line 20)" in err
    assert sorted(tmp_path.rglob("*")) == before


def test_faults_can_be_read_by_a_program(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The same faults as JSON, with the same exit code."""
    path = garden_file(tmp_path, ("pinus-mugo", "pinus-mughus"))
    code, out, _ = _run(monkeypatch, capsys, "--garden", str(path), "--json")
    (fault,) = json.loads(out)["faults"]
    assert code == 2
    assert fault["file"] == str(path)
    assert fault["where"] == "trees[1].taxon (line 29)"
    assert fault["value"] == '"pinus-mughus"'


def test_wrong_settings_are_told_beside_wrong_files(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Settings, garden and folder of rules are told in one block."""
    monkeypatch.setenv("MEBUKI_SENDER", "nobody")
    path = garden_file(tmp_path, ("pinus-mugo", "pinus-mughus"))
    code, _, err = _run(
        monkeypatch, capsys, str(path), "--config", str(tmp_path / "nowhere")
    )  # fmt: skip
    assert code == 2
    assert err.startswith("3 faults:")
    assert "MEBUKI_SENDER" in err
    assert "nowhere" in err


def test_records_that_contradict_others_are_notes_and_no_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Exit code 0: the garden can be used, and the keeper is told what to mend."""
    once = '{ on = 2011-03-19, kind = "repotted" },'
    path = garden_file(tmp_path, (once, f"{once}\n  {once.replace('19', '22')}"))
    code, out, err = _run(monkeypatch, capsys, "--garden", str(path))
    assert (code, err) == (0, "")
    assert "Note: " in out
    assert "days before" in out
    code, out, _ = _run(monkeypatch, capsys, "--garden", str(path), "--json")
    assert code == 0
    assert len(json.loads(out)["notes"]) == 1
