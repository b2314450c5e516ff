"""``mebuki feeds`` as a person runs it."""

from __future__ import annotations

import json
import re
from contextlib import closing
from pathlib import Path

import pytest

from mebuki.cli import main as command_line
from mebuki.clock import FixedClock
from mebuki.domain.feed import Revoked
from mebuki.storage.feed_rows import DatabaseFeedShelf, PreparedFeed
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from tests.builders import AT, a_garden

CLOCK = FixedClock(AT)


class Shell:
    """The command line over a database with one garden."""

    def __init__(
        self, file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        self._file, self._monkeypatch, self._capsys = file, monkeypatch, capsys

    def run(self, *arguments: str) -> tuple[int, str, str]:
        """Return exit code, standard output and standard error of ``mebuki feeds``."""
        self._monkeypatch.setattr(
            "sys.argv", ["mebuki", "feeds", *arguments, "--database", str(self._file)]
        )
        with pytest.raises(SystemExit) as stop:
            command_line.main()
        shown = self._capsys.readouterr()
        return int(stop.value.code or 0), shown.out, shown.err

    def well(self, *arguments: str) -> str:
        """Return what a command prints that must succeed."""
        code, out, err = self.run(*arguments)
        assert (code, err) == (0, "")
        return out

    def read(self, token: str) -> PreparedFeed | Revoked | None:
        """Return what is behind an address."""
        with closing(open_database(self._file)) as database:
            return DatabaseFeedShelf(database, CLOCK).read(token)


@pytest.fixture
def shell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Shell:
    """Return a command line whose public address is set."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MEBUKI_BASE_URL", "https://trees.example/mebuki")
    file = tmp_path / "mebuki.db"
    with closing(open_database(file)) as database:
        GardenStore(database, CLOCK).save(a_garden())
    return Shell(file, monkeypatch, capsys)


def token_in(told: str) -> str:
    """Return the secret part of the addresses that were printed."""
    (copied,) = re.findall(r"https://trees\.example/mebuki/feeds/([\w-]+)\.ics", told)
    (opened,) = re.findall(r"webcal://trees\.example/mebuki/feeds/([\w-]+)\.ics", told)
    assert copied == opened
    return str(copied)


def feeds(shell: Shell) -> list[dict[str, object]]:
    """Return the feeds that are listed."""
    listed = json.loads(shell.well("list", "home", "--json"))
    assert isinstance(listed, list)
    return listed


def test_a_feed_is_made_and_its_address_leads_to_it(shell: Shell) -> None:
    """Both addresses are printed with help for each program; the list has the choice, not them."""
    told = shell.well("add", "home", "ada", "--kinds", "wire, frost", "--trees", "maple",
                      "--no-alarms", "--name", "Frost and wire")  # fmt: skip
    token = token_in(told)
    assert "Thunderbird" in told
    feed = shell.read(token)
    assert isinstance(feed, PreparedFeed)
    assert b"X-WR-CALNAME:Frost and wire" in feed.content
    (listed,) = feeds(shell)
    assert listed["kinds"] == ["frost", "wire"]
    assert (listed["trees"], listed["places"], listed["alarms"]) == (["maple"], None, False)
    plain = shell.well("list", "home")
    assert "ada" in plain
    assert "kinds frost, wire; trees maple; without alarms" in plain
    assert token not in plain


def test_the_preset_is_what_must_not_be_missed(shell: Shell) -> None:
    """Cold nights and repotting, as tasks if wanted."""
    shell.well("add", "home", "ada", "--preset", "must-not-miss", "--tasks")
    (listed,) = feeds(shell)
    assert listed["kinds"] == ["frost", "repot", "winter"]
    assert listed["form"] == "tasks"


def test_a_feed_is_ended_and_another_gets_a_new_address(shell: Shell) -> None:
    """The old addresses say that they are gone; what the second holds stays."""
    tokens = [
        token_in(shell.well("add", "home", "ada", "--kinds", kind)) for kind in ("wire", "frost")
    ]
    by_kind = {str(row["kinds"]): str(row["feed"]) for row in feeds(shell)}
    shell.well("revoke", "home", by_kind["['wire']"])
    new = token_in(shell.well("replace", "home", by_kind["['frost']"]))
    assert [shell.read(token) for token in tokens] == [Revoked(), Revoked()]
    assert isinstance(shell.read(new), PreparedFeed)
    assert [row["kinds"] for row in feeds(shell)] == [["frost"]]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("add", "away", "ada"), "no such garden"),
        (("add", "home", "ada", "--kinds", "mowing"), "mowing: not a care kind; there are frost"),
        (("add", "home", "ada", "--places", "attic"), "attic: the garden home has no such place"),
        (("add", "home", "ada", "--kinds", "frost", "--preset", "must-not-miss"), "exclude"),
        (("add", "home", "ada", "--name", "x" * 81), "--name: String should have at most 80"),
        (("revoke", "home", "0123"), "no such feed"),
        (("replace", "home", "0123"), "no such feed"),
    ],
)
def test_what_cannot_be_done_is_said(shell: Shell, arguments: tuple[str, ...], told: str) -> None:
    """With exit code 2, and nothing is kept."""
    code, out, err = shell.run(*arguments)
    assert (code, out) == (2, "")
    assert told in err
    assert feeds(shell) == []


def test_a_garden_without_feeds_says_how_to_make_one(shell: Shell) -> None:
    """An empty list is no dead end."""
    assert "mebuki feeds add home" in shell.well("list", "home")


@pytest.mark.parametrize("address", ["trees.example", "ftp://x", "https://x/?a=1", ""])
def test_a_public_address_that_is_none_is_refused(
    shell: Shell, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Naming the variable."""
    monkeypatch.setenv("MEBUKI_BASE_URL", address)
    code, _, err = shell.run("list", "home")
    assert code == 2
    assert "MEBUKI_BASE_URL" in err
