"""``mebuki trees``, ``backup`` and ``restore`` as a person runs them."""

from __future__ import annotations

import csv
import io
import json
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from mebuki.agenda.done import action_of
from mebuki.bootstrap import demo_inputs
from mebuki.cli import main as command_line
from mebuki.clock import FixedClock
from mebuki.domain.garden import Garden
from mebuki.rulebook import shipped_config
from mebuki.rulebook.garden_text import garden_text
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.feed_rows import DatabaseFeedShelf, PreparedFeed
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from mebuki.storage.round_tables import feeds
from tests.builders import AT, a_record
from tests.rulebook.gardens import RIGHT, garden_file
from tests.schedule.benches import a_small_garden, a_stage
from tests.schedule.test_service import MORNING

EXAMPLE = shipped_config() / "garden.example.toml"


class Shell:
    """A command line in a folder of its own."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch = monkeypatch
        self._capsys = capsys

    def run(self, *arguments: object) -> tuple[int, str, str]:
        """Return exit code, standard output and standard error of a command."""
        self._monkeypatch.setattr("sys.argv", ["mebuki", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            command_line.main()
        shown = self._capsys.readouterr()
        return int(stop.value.code or 0), shown.out, shown.err

    def well(self, *arguments: object) -> str:
        """Run a command that must succeed; return what it says."""
        code, out, err = self.run(*arguments)
        assert (code, err) == (0, "")
        return out


@pytest.fixture
def shell(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Shell:
    """Return a command line in an empty folder, with ``mebuki.db`` as its database."""
    monkeypatch.chdir(tmp_path)
    return Shell(monkeypatch, capsys)


def _kept(garden: str, file: str = "mebuki.db") -> Garden:
    database = open_database(file)
    try:
        return GardenStore(database, FixedClock(AT)).load(garden)
    finally:
        database.close()


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("kind", ["csv", "toml"])
def test_a_round_trip_loses_nothing(kind: str, shell: Shell) -> None:
    """Out and in again: the same garden, the same file, and nothing was changed."""
    out = shell.well("trees", "import", EXAMPLE)
    assert out.startswith("31 trees and 74 records are in the garden saltmarsh now:")
    first = _kept("saltmarsh")
    shell.well("trees", "export", f"a.{kind}")
    assert "0 trees new, 0 changed, 31 as they were" in shell.well("trees", "import", f"a.{kind}")
    shell.well("trees", "export", f"b.{kind}")
    assert _kept("saltmarsh") == first
    assert Path(f"b.{kind}").read_bytes() == Path(f"a.{kind}").read_bytes()


def test_a_garden_file_goes_into_another_database(shell: Shell) -> None:
    """The exported file is a garden file like any other."""
    shell.well("trees", "import", EXAMPLE)
    shell.well("trees", "export", "a.toml")
    shell.well("trees", "import", "a.toml", "--database", "other.db")
    assert _kept("saltmarsh", "other.db") == _kept("saltmarsh")


def test_wrong_rows_are_refused_one_by_one_with_the_reason(shell: Shell, tmp_path: Path) -> None:
    """The others are kept; every refused row is told with its line, exit code 2."""
    shell.well("trees", "import", garden_file(tmp_path))
    Path("t.csv").write_text(
        "row,name,taxon,place,pot_shape,pot_length_cm,pot_width_cm,pot_height_cm,canopy_cm,on,kind\n"
        "tree,Good,pinus-mugo,bench,round,20,,8,25,,\n"
        "record,Good,,,,,,,,2013-03-01,repotted\n"
        "record,Good,,,,,,,,01.03.2013,repotted\n"
        "record,Good,,,,,,,,2013-03-02,watred\n"
        "record,Nobody,,,,,,,,2013-03-02,watered\n"
        "tree,No Taxon,pinus-mungo,bench,round,20,,8,25,,\n"
        "tree,No Place,pinus-mugo,balcony,round,20,,8,25,,\n"
        "tree,No Pot,pinus-mugo,bench,,,,,25,,\n"
        'tree,Comma,pinus-mugo,bench,round,"20,5",,8,25,,\n'
        "tree,Good,pinus-mugo,bench,round,20,,8,25,,\n"
        "bush,Odd,pinus-mugo,bench,round,20,,8,25,,\n"
        "tree,Long,pinus-mugo,bench,round,20,,8,25,,,more\n",
        "utf-8",
    )
    code, out, err = shell.run("trees", "import", "t.csv")
    assert code == 2
    assert "1 trees new, 0 changed, 2 as they were" in out
    assert "5 trees and 5 single records refused" in out
    for line, reason in (
        (4, "on"), (5, "kind"), (6, "no row of a tree"), (7, "unknown taxon"),
        (8, "unknown place"), (9, "pot_shape"), (10, "pot_length_cm"), (11, "used twice"),
        (12, "must be tree or record"), (13, "12 cells"),
    ):  # fmt: skip
        (told,) = [each for each in err.splitlines() if f"line {line}" in each.split(":")[1]][:1]
        assert reason in told, told
    garden = _kept("home")
    assert [tree.name for tree in garden.trees] == ["Good", "Maple", "Pine"]
    assert [record.kind for record in garden.trees[0].records] == ["repotted"]


def test_wrong_trees_of_a_garden_file_are_refused_one_by_one(shell: Shell, tmp_path: Path) -> None:
    """A wrong record leaves its tree; faults outside the trees refuse the whole file."""
    file = garden_file(tmp_path, ("pinus-mugo", "pinus-mungo"), ("2011-03-19", "2999-03-19"))
    code, out, err = shell.run("trees", "import", file)
    assert code == 2
    assert "1 trees and 1 single records refused" in out
    assert "trees[0].records[0].on (line" in err
    assert "trees[1].taxon (line" in err
    (maple,) = _kept("home").trees
    assert [record.kind for record in maple.records] == ["moved"]
    broken = garden_file(tmp_path, ("latitude = 40.6", "latitude = 140.6"), ("pinus-mugo", "x"))
    code, out, err = shell.run("trees", "import", broken)
    assert (code, out) == (2, "")
    assert err.startswith("2 faults:")


def test_the_report_can_be_read_by_a_program(shell: Shell, tmp_path: Path) -> None:
    """With every refused row as a fault."""
    file = garden_file(tmp_path, ("pinus-mugo", "pinus-mungo"))
    code, out, _ = shell.run("trees", "import", file, "--json")
    report: dict[str, Any] = json.loads(out)
    assert code == 2
    assert (report["garden"], report["new"], report["same"]) == ("home", ["maple"], [])
    assert [fault["where"] for fault in report["refused"]] == ["trees[1].taxon (line 29)"]


def test_trees_that_a_file_does_not_name_stay_unless_told(shell: Shell, tmp_path: Path) -> None:
    """And those that leave keep their history."""
    shell.well("trees", "import", garden_file(tmp_path))
    without = tmp_path / "one.toml"
    without.write_text(RIGHT[: RIGHT.rindex("[[trees]]")], "utf-8")
    shell.well("trees", "import", without)
    assert len(_kept("home").trees) == 2
    assert "1 left, their history is kept: pine" in shell.well("trees", "import", without, "--only")
    assert [tree.name for tree in _kept("home").trees] == ["Maple"]


def test_a_tree_that_stays_needs_its_place(shell: Shell, tmp_path: Path) -> None:
    """A file without the place is refused with what to do."""
    shell.well("trees", "import", garden_file(tmp_path))
    moved = tmp_path / "moved.toml"
    text = RIGHT[: RIGHT.rindex("[[trees]]")].replace('"bench"\nname', '"deck"\nname')
    moved.write_text(text.replace('place = "bench"', 'place = "deck"'), "utf-8")
    code, _, err = shell.run("trees", "import", moved)
    assert code == 2
    assert "Pine stands at bench, a place that the file does not have" in err


def test_a_plain_list_of_trees_leaves_records_as_they_are(shell: Shell, tmp_path: Path) -> None:
    """Without a column row it tells trees alone: semicolons and a mark at the start do no harm."""
    shell.well("trees", "import", garden_file(tmp_path))
    Path("t.csv").write_text(
        "name;taxon;place;pot_shape;pot_length_cm;pot_width_cm;pot_height_cm;canopy_cm;note\r\n"
        'Maple;acer-palmatum ;bench;oval;30;22;7;50;"two\r\nlines; and = more"\r\n',
        "utf-8-sig", newline="",
    )  # fmt: skip
    shell.well("trees", "import", "t.csv")
    maple = _kept("home").trees[0]
    assert (maple.canopy_cm, maple.note) == (50, "two\r\nlines; and = more")
    assert len(maple.records) == 2


def test_a_renamed_tree_keeps_its_identity_by_its_id(shell: Shell, tmp_path: Path) -> None:
    """The id in the table says which tree it is."""
    shell.well("trees", "import", garden_file(tmp_path))
    shell.well("trees", "export", "a.csv")
    text = Path("a.csv").read_text("utf-8-sig").replace(",Maple,", ",Old Maple,")
    Path("a.csv").write_text(text, "utf-8")
    assert "0 trees new, 1 changed, 1 as they were" in shell.well("trees", "import", "a.csv")
    maple = _kept("home").trees[0]
    assert (maple.id, maple.name) == ("maple", "Old Maple")


def test_a_name_that_another_tree_has_is_refused(shell: Shell, tmp_path: Path) -> None:
    """Also if that tree is not in the file."""
    shell.well("trees", "import", garden_file(tmp_path))
    Path("t.csv").write_text(
        "id,name,taxon,place,pot_shape,pot_length_cm,pot_height_cm,canopy_cm\n"
        "maple-2,Maple,acer-palmatum,bench,round,30,7,50\n"
    )
    code, _, err = shell.run("trees", "import", "t.csv")
    assert code == 2
    assert "another tree, maple, has this name" in err
    assert len(_kept("home").trees) == 2


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"name,canopycm\n", "unknown column; known: row, id, name"),
        (b"taxon\n", "needs a column name"),
        (b"name,name\n", "there twice"),
        (b"", "needs a column name"),
        (b'name\n"open\n', "not a table"),
        ("name\nGrün\n".encode("latin-1"), "must be UTF-8"),
        (None, "cannot be read"),
    ],
)
def test_what_is_no_table_of_trees_is_refused_whole(
    content: bytes | None, said: str, shell: Shell, tmp_path: Path
) -> None:
    """With the reason, and nothing is changed."""
    shell.well("trees", "import", garden_file(tmp_path))
    before = _kept("home")
    if content is not None:
        Path("t.csv").write_bytes(content)
    code, out, err = shell.run("trees", "import", "t.csv")
    assert (code, out) == (2, "")
    assert said in err
    assert _kept("home") == before


def test_which_garden_is_meant_must_be_clear(shell: Shell, tmp_path: Path) -> None:
    """None, one, or several: what to do is said."""
    Path("t.csv").write_text("name\n")
    assert "import a garden file" in shell.run("trees", "import", "t.csv")[2]
    file = garden_file(tmp_path)
    shell.well("trees", "import", file)
    assert "not away" in shell.run("trees", "import", file, "--garden", "away")[2]
    away = tmp_path / "away.toml"
    away.write_text(RIGHT.replace('id = "home"', 'id = "away"'), "utf-8")
    shell.well("trees", "import", away)
    assert "--garden: away, home" in shell.run("trees", "export", "a.csv")[2]
    assert "2 trees" in shell.well("trees", "export", "a.csv", "--garden", "away")
    assert "no such garden" in shell.run("trees", "export", "a.csv", "--garden", "x")[2]
    assert "must end in .csv" in shell.run("trees", "export", "a.xlsx", "--garden", "away")[2]


def test_no_cell_is_a_formula_to_a_spreadsheet(shell: Shell, tmp_path: Path) -> None:
    """Texts that begin like one get a mark, which importing takes away again."""
    file = garden_file(tmp_path, ('name = "Maple"', 'name = "=1+1"\nnote = "\'@x"'))
    shell.well("trees", "import", file)
    shell.well("trees", "export", "a.csv")
    (row, *_) = _rows(Path("a.csv").read_text("utf-8-sig"))
    assert (row["name"], row["note"]) == ("'=1+1", "''@x")
    before = _kept("home")
    shell.well("trees", "import", "a.csv")
    assert _kept("home") == before


def test_the_setting_names_the_database(
    shell: Shell, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """MEBUKI_DATABASE is used where no option is given."""
    monkeypatch.setenv("MEBUKI_DATABASE", str(tmp_path / "mine.db"))
    shell.well("trees", "import", EXAMPLE)
    assert (tmp_path / "mine.db").exists()
    assert not (tmp_path / "mebuki.db").exists()


def test_a_backup_is_restored(shell: Shell, tmp_path: Path) -> None:
    """Only where asked for does it take the place of what is there."""
    shell.well("trees", "import", EXAMPLE)
    assert "rows in" in shell.well("backup", "safe/b.db", "--keep", 2)
    shell.well("trees", "import", garden_file(tmp_path))
    code, out, err = shell.run("restore", "safe/b.db")
    assert (code, out) == (2, "")
    assert "--replace" in err
    assert "checked" in shell.well("restore", "safe/b.db", "--replace")
    assert "31 trees" in shell.well("trees", "export", "a.csv")
    assert "0 changed, 31 as they were" in shell.well("trees", "import", EXAMPLE)
    code, _, err = shell.run("restore", "none.db", "--database", "new.db")
    assert code == 2
    assert "no such file" in err


def _feed(token: str) -> str:
    with closing(open_database("mebuki.db")) as database:
        found = DatabaseFeedShelf(database, FixedClock(AT)).read(token)
    assert isinstance(found, PreparedFeed)
    return found.content.replace(b"\r\n ", b"").decode()


def test_work_that_is_imported_as_done_leaves_the_feed_at_its_next_fetch(
    shell: Shell, tmp_path: Path
) -> None:
    """No round runs in between; before the first round no feed is made."""
    garden = a_small_garden(trees=demo_inputs().garden.trees[:12])
    stage = a_stage(tmp_path, MORNING, [garden])
    stage.service.run_due()
    (entry, *_) = (
        each
        for each in DatabaseAgendaStore(stage.database).load(garden.id).entries
        if action_of(each) == "repot-window"
    )
    token = DatabaseFeedShelf(stage.database, stage.clock).issue(garden.id, "reader")
    stage.database.close()
    assert entry.uid in _feed(token)
    done = a_record("repotted", "2013-03-23")
    trees = tuple(
        tree.model_copy(update={"records": (*tree.records, done)})
        if tree.id in entry.trees
        else tree
        for tree in garden.trees
    )
    file = tmp_path / "garden.toml"
    file.write_text(garden_text(garden.model_copy(update={"trees": trees})), "utf-8")
    shell.well("trees", "import", file)
    assert entry.uid not in _feed(token)
    shell.well("trees", "import", EXAMPLE)
    with closing(open_database("mebuki.db")) as database, database.read() as connection:
        gardens = connection.scalars(sa.select(feeds.c.garden)).all()
    assert set(gardens) == {garden.id}
