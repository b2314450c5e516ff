"""The agenda in the database: lossless, and every revision kept for ever."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from hypothesis import given

from mebuki.agenda.entry import Entry, EntryStatus, Published
from mebuki.domain.advice import Moments
from mebuki.errors import FaultError
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.database import Database
from mebuki.storage.migrate import open_database
from mebuki.storage.round_tables import entries as entry_rows
from mebuki.storage.round_tables import entry_revisions, notices
from tests.builders import AT, an_advice, an_entry
from tests.feeds.strategies import entries

NIGHT = Moments(datetime(2013, 3, 27, 23, tzinfo=UTC), datetime(2013, 3, 28, 11, tzinfo=UTC))
STATE = Published(
    AT, (an_entry("a", advice=(an_advice(),)), an_entry("b", span=NIGHT)), ("frost:act",)
)


@pytest.fixture
def store(database: Database) -> DatabaseAgendaStore:
    """Return the agendas of an empty database."""
    return DatabaseAgendaStore(database)


def test_what_is_saved_is_loaded(store: DatabaseAgendaStore) -> None:
    """By garden, and nothing before; the advice behind an entry is found anew each round."""
    assert store.load("home") == Published.nothing()
    store.save("home", STATE)
    store.save("away", Published.nothing())
    assert store.load("home") == STATE
    assert store.load("away") == Published.nothing()
    assert all(entry.advice == () for entry in store.load("home").entries)


def test_the_order_and_every_change_come_back(store: DatabaseAgendaStore) -> None:
    """Entries leave, return and change places; so do notices."""
    a, b, c = (an_entry(key) for key in "abc")
    for state in (
        Published(AT, (a, b, c), ("1", "2")),
        Published(AT, (c, a), ("2", "1", "3")),
        Published(AT, (), ()),
        Published(None, (b, c, a), ("3",)),
    ):
        store.save("home", state)
        assert store.load("home") == state


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DatabaseAgendaStore]:
    """Return the agendas of one database for all examples of a law."""
    database = open_database(tmp_path_factory.mktemp("shared") / "mebuki.db")
    yield DatabaseAgendaStore(database)
    database.close()


@given(entries(), entries())
def test_any_text_comes_back_unchanged(
    shared: DatabaseAgendaStore, first: list[Entry], second: list[Entry]
) -> None:
    """Whatever people write survives, lone surrogates and all, over whatever was before."""
    for kept in (first, second):
        state = Published(AT, tuple(kept), ("frost:act",))
        shared.save("home", state)
        assert shared.load("home") == state


def test_texts_that_a_server_cannot_hold_as_text_come_back_too(
    store: DatabaseAgendaStore,
) -> None:
    """NUL and half a surrogate pair in a body, also on PostgreSQL."""
    state = Published(AT, (an_entry(body="a\x00b \ud800", title="\r\n\\u0000"),), ())
    store.save("home", state)
    assert store.load("home") == state


def test_no_revision_is_ever_lost(store: DatabaseAgendaStore) -> None:
    """Each is there word for word, also after the entry has left and come back as new."""
    first = an_entry("a")
    second = replace(first, title="Moved", revision=1, changed=AT + timedelta(days=1))
    third = replace(second, status=EntryStatus.CANCELLED, revision=2,
                    changed=AT + timedelta(days=2))  # fmt: skip
    anew = replace(first, title="Again", created=AT + timedelta(days=9),
                   changed=AT + timedelta(days=9))  # fmt: skip
    for entry in (first, second, second, third):
        store.save("home", Published(AT, (entry,), ()))
    store.save("home", Published(AT, (), ()))
    store.save("home", Published(AT, (anew,), ()))
    assert store.revisions("home", "a") == (first, second, third, anew)
    assert store.revisions("home", "never") == ()


def test_saving_again_writes_no_further_rows(
    database: Database, store: DatabaseAgendaStore
) -> None:
    """The same state leaves the same rows."""

    def rows() -> list[object]:
        with database.read() as connection:
            return [
                connection.execute(sa.select(table).order_by(*table.primary_key)).all()
                for table in (entry_rows, entry_revisions, notices)
            ]

    store.save("home", STATE)
    before = rows()
    store.save("home", STATE)
    store.save("home", store.load("home"))
    assert rows() == before


def test_an_entry_that_cannot_be_read_is_said(
    database: Database, store: DatabaseAgendaStore
) -> None:
    """Nothing is guessed: going on without it would tell everything again."""
    store.save("home", STATE)
    with database.write() as connection:
        connection.execute(sa.update(entry_revisions).values(content={"key": 3}))
    with pytest.raises(FaultError, match="'home' in the database is broken"):
        store.load("home")
