"""A garden file is read, or every fault in it is told at once."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.history import contradictions, sound
from mebuki.errors import FilesError
from mebuki.rulebook import read_garden
from tests.rulebook.gardens import RIGHT, faults_of, garden_file, shipped_taxa


def test_a_right_garden_is_read(tmp_path: Path) -> None:
    """Trees, records and a round pot's one diameter arrive as written."""
    garden = read_garden(garden_file(tmp_path), shipped_taxa())
    assert [tree.id for tree in garden.trees] == ["maple", "pine"]
    assert garden.trees[0].records[1].place == "bench"
    assert garden.trees[1].pot.width_cm == 20
    assert faults_of(garden_file(tmp_path)) == ()


ONE_FAULT = [
    (
        "wrong type",
        ("canopy_cm = 45", 'canopy_cm = "45"'),
        "trees[0].canopy_cm (line 20)",
        '"45"',
        "a number without quotes",
    ),
    (
        "unknown taxon",
        ('"pinus-mugo"', '"pinus-mughus"'),
        "trees[1].taxon (line 29)",
        '"pinus-mughus"',
        "did you mean pinus-mugo",
    ),
    (
        "common name",
        ('"acer-palmatum"', '"Japanese maple"'),
        "trees[0].taxon (line 17)",
        '"Japanese maple"',
        "did you mean acer-palmatum?",
    ),
    (
        "genus alone",
        ('"acer-palmatum"', '"ficus"'),
        "trees[0].taxon (line 17)",
        '"ficus"',
        "did you mean ficus-microcarpa?",
    ),
    (
        "wide pot",
        ("width_cm = 22", "width_cm = 32"),
        "trees[0].pot (line 19)",
        "width_cm = 32",
        "width_cm must not exceed length_cm",
    ),
    (
        "pot of nothing",
        ("length_cm = 20", "length_cm = 0"),
        "trees[1].pot.length_cm (line 31)",
        "0",
        "above 0 and at most 200",
    ),
    (
        "deep pot",
        ("height_cm = 8", "height_cm = 80"),
        "trees[1].pot (line 31)",
        "height_cm = 80",
        "more than three times",
    ),
    (
        "future record",
        ("2013-03-16", "2113-03-16"),
        "trees[0].records[1].on (line 24)",
        "2113-03-16",
        "lies in the future",
    ),
    (
        "record before birth",
        ("2011-03-19", "1988-03-19"),
        "trees[0].records[0].on (line 23)",
        "1988-03-19",
        "before the tree was born (1990)",
    ),
    (
        "double name",
        ('"Pine"', '"Maple"'),
        "trees[1].name (line 28)",
        '"Maple"',
        "used twice: trees[0]",
    ),
    (
        "double id",
        ('"Pine"', '"MAPLE"'),
        "trees[1].name (line 28)",
        '"MAPLE"',
        'gives the id "maple"',
    ),
    (
        "unknown key",
        ("canopy_cm = 25", "canopy_cm = 25\nvigor = 1"),
        "trees[1].vigor (line 33)",
        "1",
        "did you mean vigour?",
    ),
    (
        "unknown kind of record",
        ('"repotted"', '"repoted"'),
        "trees[0].records[0].kind (line 23)",
        '"repoted"',
        "did you mean repotted?",
    ),
    (
        "unknown place",
        ('place = "bench" }', 'place = "bank" }'),
        "trees[0].records[1].place (line 24)",
        '"bank"',
        "unknown place; known: bench",
    ),
    (
        "unknown substrate",
        ("canopy_cm = 25", 'canopy_cm = 25\nsubstrate = "kanumma"'),
        "trees[1].substrate (line 33)",
        '"kanumma"',
        "did you mean kanuma?",
    ),
    (
        "time zone",
        ("America/New_York", "New York"),
        "site.time_zone (line 8)",
        '"New York"',
        "IANA time zone",
    ),
    (
        "latitude",
        ("latitude = 40.6", "latitude = 406"),
        "site.latitude (line 6)",
        "406",
        "from −90 to 90",
    ),
    (
        "not a number",
        ("latitude = 40.6", "latitude = nan"),
        "site.latitude (line 6)",
        "NaN",
        "a finite number",
    ),
    (
        "truth for a number",
        ("latitude = 40.6", "latitude = true"),
        "site.latitude (line 6)",
        "true",
        "a number",
    ),
    (
        "day with a time",
        ("2013-03-16", "2013-03-16T08:00:00"),
        "trees[0].records[1].on (line 24)",
        "2013-03-16T08:00:00",
        "a date",
    ),
    (
        "missing key",
        ('taxon = "pinus-mugo"\n', ""),
        "trees[1].taxon (line 27)",
        "",
        "missing",
    ),
    (
        "list for a table",
        ('{ shape = "round", length_cm = 20, height_cm = 8 }', "[20, 8]"),
        "trees[1].pot (line 31)",
        "a list of 2",
        "a table of keys",
    ),
    (
        "table for a list",
        ("[[places]]", "[places]"),
        "places (line 10)",
        "bench",
        "a list in [ ]",
    ),
]


@pytest.mark.parametrize(
    ("change", "where", "value", "allowed"),
    [fault[1:] for fault in ONE_FAULT],
    ids=[fault[0] for fault in ONE_FAULT],
)
def test_a_fault_is_told_with_key_line_value_and_what_is_allowed(
    tmp_path: Path, change: tuple[str, str], where: str, value: str, allowed: str
) -> None:
    """Each wrong thing is pointed at, in words without the jargon of a library."""
    path = garden_file(tmp_path, change)
    told = next(fault for fault in faults_of(path) if fault.where == where)
    assert told.file == str(path)
    assert value in told.value
    assert allowed in told.allowed
    assert "Input should" not in told.allowed


ALONE = [fault for fault in ONE_FAULT if fault[0] != "table for a list"]
"""Mistakes that take nothing away to which other parts of the file refer."""


@pytest.mark.parametrize("fault", ALONE, ids=[fault[0] for fault in ALONE])
def test_one_wrong_thing_gives_no_echoes(
    tmp_path: Path, fault: tuple[str, tuple[str, str], str, str, str]
) -> None:
    """A single mistake is told once."""
    assert len(faults_of(garden_file(tmp_path, fault[1]))) == 1


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    """A keeper mends the whole file after one look."""
    changes = [ONE_FAULT[index][1] for index in (0, 1, 5, 7, 10)]
    faults = faults_of(garden_file(tmp_path, *changes))
    lines = [int(fault.where.split("line ")[1].rstrip(")")) for fault in faults]
    assert len(faults) == 5
    assert lines == sorted(lines)


def test_trees_of_a_disabled_taxon_are_left_out(tmp_path: Path) -> None:
    """A broken taxon file takes its trees out of the round and no others."""
    taxa = {key: taxon for key, taxon in shipped_taxa().items() if key != "pinus-mugo"}
    garden = read_garden(garden_file(tmp_path), taxa, disabled=["pinus-mugo"])
    assert [tree.name for tree in garden.trees] == ["Maple"]


@pytest.mark.parametrize(
    ("content", "where", "allowed"),
    [
        (b'name = "x"\nid = \n', "line 2", "not valid TOML: "),
        (b'name = "x', "", "not valid TOML: "),
        (b'name = "x"\nid = "\xff"\n', "line 2", "UTF-8"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, "", "nested too deep"),
        (None, "", "there is no such file"),
    ],
    ids=["syntax", "open string", "encoding", "depth", "missing"],
)
def test_a_file_that_cannot_be_read_is_one_clear_fault(
    tmp_path: Path, content: bytes | None, where: str, allowed: str
) -> None:
    """Not TOML, not UTF-8, not there: the file is named, and the line where there is one."""
    path = tmp_path / "garden.toml"
    if content is not None:
        path.write_bytes(content)
    (fault,) = faults_of(path)
    assert fault.file == str(path)
    assert where in fault.where
    assert allowed in fault.allowed


def test_a_folder_is_not_a_garden(tmp_path: Path) -> None:
    """Naming a folder is told as that."""
    (fault,) = faults_of(tmp_path)
    assert "folder" in fault.allowed


def test_a_file_saved_on_windows_is_read(tmp_path: Path) -> None:
    """A mark of byte order and carriage returns do no harm."""
    path = tmp_path / "garden.toml"
    path.write_bytes(b"\xef\xbb\xbf" + RIGHT.replace("\n", "\r\n").encode())
    assert faults_of(path) == ()


def test_an_empty_file_names_what_is_needed(tmp_path: Path) -> None:
    """A garden needs an id, a name, a site and places."""
    path = tmp_path / "garden.toml"
    path.write_text("", "utf-8")
    assert {fault.where for fault in faults_of(path)} == {"id", "name", "site", "places"}


def test_read_garden_raises_input_errors_only(tmp_path: Path) -> None:
    """The error carries exit code 2."""
    with pytest.raises(FilesError, match=r"trees\[1\].taxon \(line 29\)"):
        read_garden(garden_file(tmp_path, ONE_FAULT[1][1]), shipped_taxa())


_SNIPPETS = [
    "",
    '"',
    "[",
    "]",
    "{",
    "}",
    "=",
    "-1",
    "nan",
    "true",
    "[]",
    "{}",
    '""',
    "2013-01-01",
    "\n",
]


@given(
    st.integers(0, len(RIGHT)),
    st.integers(0, 12),
    st.sampled_from(_SNIPPETS),
)
def test_a_damaged_file_is_answered_with_faults_and_never_breaks(
    at: int, length: int, snippet: str
) -> None:
    """Whatever is lost or slipped in, the answer is a garden or faults in plain words."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "garden.toml"
        path.write_text(RIGHT[:at] + snippet + RIGHT[at + length :], "utf-8")
        for fault in faults_of(path):
            assert fault.file == str(path)
            assert fault.allowed
            assert "nput" not in fault.allowed


def test_a_record_of_an_unknown_kind_is_kept_and_shown_but_not_used(tmp_path: Path) -> None:
    """For a round the garden still reads; the record is a note marked with its kind, and named."""
    garden = read_garden(
        garden_file(tmp_path, ('"repotted"', '"repoted"')), shipped_taxa(), lenient=True
    )
    record = garden.trees[0].records[0]
    assert record.kind == "note"
    assert record.unknown_kind == "repoted"
    assert record.note == ""
    (doubt,) = contradictions(garden.trees[0])
    assert doubt.record == record
    assert sound(garden.trees[0]).last("repotted") is None
