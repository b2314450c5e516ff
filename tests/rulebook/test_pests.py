"""The cues for pests: shipped ones, one's own, wrong ones."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from mebuki.errors import FilesError
from mebuki.rulebook import read_rulebook, read_taxa

PUBLISHED = Path(__file__).parents[1] / "data" / "published" / "pest_degree_days.csv"
OWN = """
[box-tree-moth]
name = "box tree moth"
hosts = ["buxus"]
look = "inside the crown for webs and droppings"
begins = { value = 80, source = "own records" }
region = "own garden"
"""


def test_the_shipped_cues_are_the_published_ones_in_celsius() -> None:
    """Extension figures above 50 °F times 5/9, within half a degree day; 30 cues or more."""
    cues = read_rulebook().pests
    with PUBLISHED.open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert {row["id"] for row in rows} == cues.keys()
    assert len(rows) >= 30
    for row in rows:
        cue = cues[row["id"]]
        assert cue.begins.value == pytest.approx(float(row["begins_f"]) * 5 / 9, abs=0.51)
        ends = cue.ends.value if cue.ends else None
        assert (ends is None) == (row["ends_f"] == "")
        if ends is not None:
            assert ends == pytest.approx(float(row["ends_f"]) * 5 / 9, abs=0.51)


def test_every_cue_is_regional_and_has_a_host_that_is_shipped() -> None:
    """Where the figures come from is told; a cue for no known taxon would never be heard."""
    taxa = read_taxa()
    for cue in read_rulebook().pests.values():
        assert cue.region
        assert any(cue.infests(taxon) for taxon in taxa), cue.id
        assert cue.begins.source != "practice"


def test_a_cue_of_ones_own_is_added(tmp_path: Path) -> None:
    """Files are laid over the shipped one; the other cues stay."""
    (tmp_path / "pests.toml").write_text(OWN, "utf-8")
    cues = read_rulebook(tmp_path).pests
    assert cues.keys() - read_rulebook().pests.keys() == {"box-tree-moth"}
    assert cues["box-tree-moth"].ends is None


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('hosts = ["buxus"]', "hosts = []", r"box-tree-moth\.hosts .*needs at least 1"),
        ('begins = { value = 80, source = "own records" }', "", r"begins.*missing"),
        ('region = "own garden"', "dose = 3", r"dose.*unknown key"),
        (
            'region = "own garden"',
            'region = "own garden"\nends = { value = 70, source = "own records" }',
            "ends must not be less than begins",
        ),
    ],
)
def test_a_wrong_cue_is_told_with_its_key(tmp_path: Path, old: str, new: str, told: str) -> None:
    """Every fault has file, key and what is allowed."""
    (tmp_path / "pests.toml").write_text(OWN.replace(old, new), "utf-8")
    with pytest.raises(FilesError, match=told):
        read_rulebook(tmp_path)
