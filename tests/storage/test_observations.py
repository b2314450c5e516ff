"""Readings and weather snapshots: kept with where they came from, corrected, never changed."""

from __future__ import annotations

from datetime import timedelta

import pytest
import sqlalchemy as sa

from mebuki.clock import FixedClock
from mebuki.domain.weather import Provenance
from mebuki.errors import FaultError, InputError
from mebuki.storage.database import Database
from mebuki.storage.gardens import GardenStore
from mebuki.storage.keeper_tables import observations
from mebuki.storage.observations import Observation, ObservationBook
from mebuki.storage.round_tables import snapshots
from mebuki.storage.snapshots import Snapshot, SnapshotStore
from tests.builders import AT, a_garden

HOUR = timedelta(hours=1)


def _reading(value: float, hours: int = 0) -> Observation:
    return Observation("air_temperature_c", value, AT + hours * HOUR, "thermometer", place="bench")


@pytest.fixture
def book(database: Database) -> ObservationBook:
    """Return the readings of a database with one garden."""
    GardenStore(database, FixedClock(AT)).save(a_garden())
    return ObservationBook(database, FixedClock(AT))


def test_readings_are_found_by_time(book: ObservationBook) -> None:
    """From a moment up to another one, of one quantity, in order."""
    book.add("home", [_reading(2.5, 2), _reading(-1.25, 1), _reading(9, 5)])
    book.add("home", [Observation("pot_mass_kg", 4.2, AT + HOUR, "Ada", tree="maple")])
    found = book.read("home", "air_temperature_c", AT, AT + 5 * HOUR)
    assert [each.observation for each in found] == [_reading(-1.25, 1), _reading(2.5, 2)]


def test_a_corrected_reading_stands_and_the_wrong_one_is_kept(
    database: Database, book: ObservationBook
) -> None:
    """A reading taken back stands no more; all rows stay."""
    book.add("home", [_reading(25), _reading(3, 1)])
    wrong, other = book.read("home", "air_temperature_c", AT, AT + 9 * HOUR)
    book.correct(wrong.number, 2.5)
    book.correct(other.number, None)
    (kept,) = book.read("home", "air_temperature_c", AT, AT + 9 * HOUR)
    assert kept.observation == _reading(2.5)
    with database.read() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(observations)) == 4
    with pytest.raises(InputError, match="no reading"):
        book.correct(wrong.number, 1)


def test_what_is_no_reading_is_refused(book: ObservationBook) -> None:
    """A garden must be there, a value a number."""
    with pytest.raises(InputError, match="no such garden"):
        book.add("nowhere", [_reading(1)])
    with pytest.raises(InputError, match="must be a number"):
        book.add("home", [_reading(float("nan"))])


def _snapshot(hours: int, content: bytes = b"\x00weather", provider: str = "one") -> Snapshot:
    origin = Provenance(
        provider, "forecast", AT, AT + 24 * HOUR,
        run=AT - HOUR, fetched=AT + hours * HOUR, credit="A weather service",
    )  # fmt: skip
    return Snapshot("40.75,-73.75", origin, content)


def test_the_newest_snapshot_up_to_a_moment_is_found(database: Database) -> None:
    """With all of its provenance; a replay does not see later ones."""
    store = SnapshotStore(database)
    for snapshot in (_snapshot(0), _snapshot(6, b"newer"), _snapshot(7, b"other", "two")):
        store.put(snapshot)
        store.put(snapshot)
    cell = "40.75,-73.75"
    assert store.newest(cell, "forecast", AT + 5 * HOUR) == _snapshot(0)
    assert store.newest(cell, "forecast", AT + 9 * HOUR) == _snapshot(7, b"other", "two")
    assert store.newest(cell, "forecast", AT + 9 * HOUR, "one") == _snapshot(6, b"newer")
    assert store.newest(cell, "forecast", AT - HOUR) is None
    assert store.newest("elsewhere", "forecast", AT) is None


def test_a_damaged_snapshot_is_not_used(database: Database) -> None:
    """Its bytes are held against the digest they were put with."""
    store = SnapshotStore(database)
    store.put(_snapshot(0))
    with database.write() as connection:
        connection.execute(sa.update(snapshots).values(content=b"\x01weather"))
    with pytest.raises(FaultError, match="damaged"):
        store.newest("40.75,-73.75", "forecast", AT)


def test_tidying_leaves_the_newest_of_each(database: Database) -> None:
    """The last good weather is served with its age, however old."""
    store = SnapshotStore(database)
    for hours in range(4):
        store.put(_snapshot(hours))
    store.put(_snapshot(0, provider="two"))
    assert store.tidy(AT + 2 * HOUR) == 2
    assert store.tidy(AT + 99 * HOUR) == 1
    assert store.newest("40.75,-73.75", "forecast", AT + 99 * HOUR) == _snapshot(3)
    assert store.newest("40.75,-73.75", "forecast", AT, "two") == _snapshot(0, provider="two")


def test_a_snapshot_without_a_fetch_time_is_refused(database: Database) -> None:
    """Its age could not be told."""
    origin = Provenance("one", "forecast", AT, AT)
    with pytest.raises(ValueError, match="when it was fetched"):
        SnapshotStore(database).put(Snapshot("c", origin, b""))
