"""``mebuki scores`` as a person runs it."""

from __future__ import annotations

import json
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from mebuki.agenda.judged import Call, TreeNight
from mebuki.cli import main as command_line
from mebuki.clock import FixedClock
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from mebuki.storage.score_book import ScoreBook, put_calls
from tests.builders import AT, ON, a_garden, a_moment, a_tree

DAY = timedelta(days=1)
GARDEN = a_garden([a_tree("Alba"), a_tree("Bo")])
HARMED, CALLED = {"alba": (0, 1, 4), "bo": (0,)}, {"alba": (0, 1, 2), "bo": (3,)}
"""Of six nights, which harm each tree, and for which it is called."""


class Shell:
    """The command line over a database with one garden and six nights."""

    def __init__(self, file: Path, patch: pytest.MonkeyPatch, out: pytest.CaptureFixture[str]):
        self._file, self._patch, self._out = file, patch, out

    def run(self, *arguments: str) -> tuple[int, str, str]:
        """Return exit code, standard output and standard error."""
        command = ["mebuki", "scores", *arguments, "--database", str(self._file)]
        self._patch.setattr("sys.argv", command)
        with pytest.raises(SystemExit) as stop:
            command_line.main()
        shown = self._out.readouterr()
        return int(stop.value.code or 0), shown.out, shown.err


@pytest.fixture
def shell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Shell:
    """Return the command line."""
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "mebuki.db"
    with closing(open_database(file)) as database:
        GardenStore(database, FixedClock(AT)).save(GARDEN)
        book = ScoreBook(database)
        for number in range(6):
            evening = ON + number * DAY
            nights = [
                TreeNight(tree, evening, number in days, 0.5, 0.0, a_moment(evening + DAY, 9))
                for tree, days in HARMED.items()
            ]
            trees = frozenset(tree for tree, days in CALLED.items() if number in days)
            with database.write() as connection:
                put_calls(connection, GARDEN, [Call("few", evening, a_moment(evening, 11), trees)])
            book.settle(GARDEN, {evening: nights}, AT)
    return Shell(file, monkeypatch, capsys)


SPAN = ("--from", ON.isoformat(), "--to", (ON + 9 * DAY).isoformat())


def test_the_table_is_what_one_counts_by_hand(shell: Shell) -> None:
    """Harmed 3 + 1 tree nights, of which 2 called; 4 called, 2 in vain; nights apart.

    Nights: three harm (0 of both trees and told of one alone); called on four, of which
    the third and fourth harm no tree called.
    """
    code, out, err = shell.run("home", *SPAN, "--json")
    assert (code, err) == (0, "")
    told = json.loads(out)
    (period,) = told["periods"]
    assert (told["garden"], period["from"]) == ("home", ON.isoformat())
    assert (period["nights_judged"], period["nights_not_judged"]) == (6, 4)
    few = next(each for each in period["levels"] if each["level"] == "few")
    assert few == {
        "level": "few", "told": False, "pod": 0.5, "far": 0.5, "median_lead_hours": 22.0,
        "hits": 2, "misses": 2, "false_alarms": 2, "correct_negatives": 6,
        "nights_harmful": 3, "nights_told_in_time": 1, "nights_called": 4,
        "nights_called_in_vain": 2, "nights_mailed": 0, "nights_mail_failed": 0,
    }  # fmt: skip


def test_people_get_a_line_for_each_level_and_what_is_not_judged(shell: Shell) -> None:
    """The same numbers, each under its name, none wider than a terminal."""
    code, out, err = shell.run("home", *SPAN)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert "6 nights judged, 4 not judged" in out
    (few,) = [line for line in lines if line.startswith("few")]
    assert few.split() == ["few", "0.50", "0.50", "22", "2:2", "2", "3", "1", "4", "2", "0"]
    (quiet,) = [line for line in lines if line.startswith("cautious")]
    assert quiet.split() == ["cautious", "0.00", "-", "-", "0:4", "0", "3", "0", "0", "0", "0"]
    assert "no thermometer stands in the pots" in out
    assert max(map(len, lines)) <= 90


def test_without_days_this_season_and_the_last_are_shown(shell: Shell) -> None:
    """Nothing was judged in them here, and it says so."""
    code, out, _ = shell.run("home")
    assert code == 0
    assert out.count("No night has been judged here.") == 2


def test_a_garden_that_is_not_there_is_answered_with_those_that_are(shell: Shell) -> None:
    """Bad input: exit code 2 and one readable line."""
    code, out, err = shell.run("hom")
    assert (code, out) == (2, "")
    assert "hom: there is no such garden" in err
    assert "there is home" in err


@pytest.mark.parametrize(
    ("days", "reason"),
    [
        (("--from", "2013-02-30"), "--from 2013-02-30: not a day"),
        (("--to", "soon"), "--to soon: not a day"),
        (("--from", "2013-04-02", "--to", "2013-04-01"), "no evening lies between"),
    ],
)
def test_days_that_are_none_are_refused(shell: Shell, days: tuple[str, ...], reason: str) -> None:
    """With the option that is wrong."""
    code, out, err = shell.run("home", *days)
    assert (code, out) == (2, "")
    assert reason in err
