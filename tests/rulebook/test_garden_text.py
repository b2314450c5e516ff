"""Gardens as texts: whatever the garden, reading the text gives it back."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.garden import Garden
from mebuki.domain.history import contradictions
from mebuki.domain.tree import Record
from mebuki.rulebook import read_garden, read_rulebook
from mebuki.rulebook.documents import read_document
from mebuki.rulebook.garden import Known
from mebuki.rulebook.garden_text import garden_text
from mebuki.rulebook.sift import sift
from mebuki.rulebook.tree_table import read_tree_table, tree_table
from tests.builders import (
    a_frost_free_place,
    a_garden,
    a_place,
    a_record,
    a_subscriber,
    a_tree,
)
from tests.rulebook.gardens import shipped_taxa

SUBSTRATES = read_rulebook().substrates
TEXT = st.text(
    st.characters(exclude_categories=["Cs"])
    | st.sampled_from(list("\"'\\\n\r\t\x00\x7f=+-@,;#\ufeff\u2028 ")),
    max_size=20,
)
NAME = TEXT.filter(bool)
RECORDS = st.lists(
    st.builds(
        Record,
        on=st.dates(date(1990, 1, 1), date(2030, 1, 1)),
        kind=st.sampled_from(["repotted", "wired", "note"]),
        note=TEXT,
        amount=st.none() | st.floats(-1e9, 1e9),
        place=st.none() | st.just("bench"),
    ),
    max_size=4,
)


@st.composite
def gardens(draw: st.DrawFn) -> Garden:
    """Draw a garden with any texts and numbers."""
    names = draw(st.lists(NAME, max_size=4, unique=True))
    pots = st.sampled_from(
        [
            {"shape": "oval", "length_cm": 30.5, "width_cm": 22, "height_cm": 7},
            {"shape": "round", "length_cm": 20, "height_cm": 8.25, "wall": "wood"},
            {"shape": "rectangle", "length_cm": 45, "width_cm": 33, "height_cm": 10,
             "time_constant_hours": 2.35},
        ]
    )  # fmt: skip
    trees = [
        a_tree(
            name, id=f"t{number}", taxon="acer-palmatum", note=draw(TEXT), cultivar=draw(TEXT),
            place=draw(st.sampled_from(["bench", "shed"])), pot=draw(pots),
            canopy_cm=draw(st.floats(1e-3, 500)), records=draw(RECORDS),
            born=draw(st.none() | st.integers(1000, 1989)),
            vigour=draw(st.sampled_from(["weak", "normal", "strong"])),
            substrate="mixed-mineral",
        )
        for number, name in enumerate(names)
    ]  # fmt: skip
    places = [a_place(name=draw(NAME), insulation=draw(st.floats(0, 10))), a_frost_free_place()]
    people = [a_subscriber(digest_hour=draw(st.integers(0, 23)), units="us")]
    return a_garden(trees, places, name=draw(NAME), subscribers=tuple(people))


@given(gardens())
def test_a_garden_file_gives_back_the_garden(garden: Garden) -> None:
    """Every text, number and day, by the reader that keepers' files go through."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "garden.toml"
        file.write_bytes(garden_text(garden).encode())
        assert read_garden(file, shipped_taxa(), substrates=SUBSTRATES) == garden


@given(gardens())
def test_a_table_gives_back_the_trees(garden: Garden) -> None:
    """Over the garden itself, and over one that has no trees yet."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "trees.csv"
        file.write_bytes(tree_table(garden).encode("utf-8-sig"))
        for base in (garden, garden.model_copy(update={"trees": ()})):
            document = read_tree_table(file, base)
            sifted = sift(document, Known(shipped_taxa(), SUBSTRATES))
            assert document.refused == []
            assert (sifted.garden, sifted.faults) == (garden, ())


def test_what_is_by_default_is_left_out() -> None:
    """A garden file stays short enough to be read."""
    tree = a_tree("Maple", vigour="normal")
    (written,) = tomllib.loads(garden_text(a_garden([tree])))["trees"]
    assert "vigour" not in written
    assert "note" not in written
    assert written["name"] == "Maple"


def test_a_record_of_an_unknown_kind_keeps_its_kind_in_file_and_table(tmp_path: Path) -> None:
    """The kind that nobody knows goes out to a garden file and to a table, and comes back."""
    odd = a_record("note", "2013-03-01", note="by moonlight", unknown_kind="fumigated")
    garden = a_garden([a_tree(records=[odd])])
    file, table = tmp_path / "garden.toml", tmp_path / "trees.csv"
    file.write_text(garden_text(garden), "utf-8")
    assert read_document(file).data["trees"][0]["records"][0]["unknown_kind"] == "fumigated"
    table.write_text(tree_table(garden), "utf-8")
    (kept,) = read_tree_table(table, garden).data["trees"][0]["records"]
    assert kept["unknown_kind"] == "fumigated"
    assert kept["note"] == "by moonlight"
    (doubt,) = contradictions(garden.trees[0])
    assert "unknown kind of record: fumigated" in doubt.why
