"""The state of a garden as a file: lossless, whole, and honest when broken."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given

from mebuki.agenda.entry import Entry, Published
from mebuki.domain.advice import Moments
from mebuki.errors import InputError
from mebuki.rounds.ports import AgendaStore
from mebuki.storage.agenda_file import AgendaFile, NoStore
from tests.builders import AT, an_advice, an_entry
from tests.feeds.strategies import entries

NIGHT = Moments(datetime(2013, 3, 27, 23, tzinfo=UTC), datetime(2013, 3, 28, 11, tzinfo=UTC))
STATE = Published(
    AT, (an_entry("a", advice=(an_advice(),)), an_entry("b", span=NIGHT)), ("frost:act",)
)


@pytest.mark.parametrize("kind", ["file", "memory"])
def test_what_is_saved_is_loaded(kind: str, tmp_path: Path) -> None:
    """Each store gives back what it was given, by garden, and nothing before."""
    store: AgendaStore = AgendaFile(tmp_path) if kind == "file" else NoStore()
    assert store.load("home") == Published.nothing()
    store.save("home", STATE)
    store.save("away", Published.nothing())
    assert store.load("home") == STATE
    assert store.load("away") == Published.nothing()


def test_the_advice_behind_an_entry_is_not_kept(tmp_path: Path) -> None:
    """It is found anew in each round."""
    AgendaFile(tmp_path).save("home", STATE)
    loaded = AgendaFile(tmp_path).load("home")
    assert all(entry.advice == () for entry in loaded.entries)


@given(entries())
def test_any_text_comes_back_unchanged(kept: list[Entry]) -> None:
    """Whatever people write survives the file, lone surrogates and all."""
    with TemporaryDirectory() as folder:
        store = AgendaFile(Path(folder))
        state = Published(AT, tuple(kept), tuple(entry.key for entry in kept))
        store.save("home", state)
        assert store.load("home") == state


def test_the_same_state_gives_the_same_bytes(tmp_path: Path) -> None:
    """Saving what was loaded changes nothing."""
    store = AgendaFile(tmp_path)
    store.save("home", STATE)
    before = store.path("home").read_bytes()
    store.save("home", store.load("home"))
    assert store.path("home").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["agenda-home.json"]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ("", "broken"),
        ("{", "broken"),
        ("[]", "broken"),
        ("{}", "broken"),
        ('{"schema": 1, "garden": "home", "published": {"at": 3}}', "broken"),
        ('{"schema": 2, "garden": "home"}', "newer Mebuki"),
        ('{"schema": 1, "garden": "away", "published": {}}', "not that of the garden"),
    ],
)
def test_a_file_that_cannot_be_used_is_named_with_the_reason(
    content: str, reason: str, tmp_path: Path
) -> None:
    """Nothing is guessed: going on without the state would tell everything again."""
    store = AgendaFile(tmp_path)
    store.path("home").write_text(content)
    with pytest.raises(InputError, match=reason):
        store.load("home")


def test_a_span_that_ends_before_it_begins_is_refused(tmp_path: Path) -> None:
    """A hand-edited file is checked like any other input."""
    store = AgendaFile(tmp_path)
    store.save("home", replace(STATE, entries=(an_entry(),)))
    content = json.loads(store.path("home").read_text())
    content["published"]["entries"][0]["span"]["last"] = "1999-01-01"
    store.path("home").write_text(json.dumps(content))
    with pytest.raises(InputError, match="broken"):
        store.load("home")


def test_a_garden_id_cannot_leave_the_folder(tmp_path: Path) -> None:
    """Only ids of the shape that garden files allow become file names."""
    with pytest.raises(InputError, match="not a garden id"):
        AgendaFile(tmp_path).load("../home")
