"""``mebuki explain`` as a person runs it: the year in plain words, then the numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from mebuki.cli import main as command_line
from mebuki.rulebook import shipped_config


def _explained(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str
) -> str:
    monkeypatch.setattr("sys.argv", ["mebuki", "explain", *arguments])
    with pytest.raises(SystemExit) as stop:
        command_line.main()
    shown = capsys.readouterr()
    assert int(stop.value.code or 0) == 0, shown.err
    return shown.out


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Run in an empty folder, so that no settings file is near."""
    monkeypatch.chdir(tmp_path)


def test_the_year_of_a_tree_is_told_in_plain_words_before_its_numbers(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Season, what is coming, how sure, why, water and sources; then the numbers."""
    text = _explained(monkeypatch, capsys, "Old Lantern", "--on", "2013-03-20")
    parts = (
        "The season\n", "buds open", "What is coming, in order", "repot when buds swell",
        "How sure: ", "Because: last repotted", "Without water a full pot lasts", "Sources",
        "The numbers", "because", "rule",
    )  # fmt: skip
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_a_weak_tree_is_told_what_must_wait(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The block stands where the deed would."""
    text = _explained(monkeypatch, capsys, "Quiet Hill", "--on", "2013-03-20", "--kind", "repot")
    assert "This must wait: the tree is weak" in text


def test_records_in_doubt_are_shown_to_be_mended(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Kept, named, and not used: the interval is counted from the record that stands."""
    text = (shipped_config() / "garden.example.toml").read_text("utf-8")
    once = '{ on = 2010-03-27, kind = "repotted", note = "took a third of the roots" },'
    assert once in text
    twice = f'{once}\n  {{ on = 2010-03-30, kind = "repotted" }},'
    garden = tmp_path / "mine.toml"
    garden.write_text(text.replace(once, twice, 1), "utf-8")
    shown = _explained(
        monkeypatch, capsys, "Old Lantern", "--on", "2013-03-20", "--garden", str(garden)
    )
    assert "Records to mend; they are not used until then" in shown
    assert "repotted on 30 Mar 2010: it was repotted on 27 Mar 2010, days before" in shown
    assert "last repotted 27 Mar 2010" in shown
