"""Thermometers that report: readings become what the keeper would have written down."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import pytest

from mebuki.clock import FixedClock
from mebuki.domain.garden import Garden
from mebuki.domain.history import contradictions
from mebuki.season.site_learning import minimum_readings
from mebuki.storage.database import Database
from mebuki.storage.gardens import GardenStore
from mebuki.storage.minimum_readings import MINIMUM_AIR, read_garden_minima, with_minima
from mebuki.storage.observations import Observation, ObservationBook
from tests.builders import AT, a_garden, a_place, a_record, a_tree

DAWN = datetime(2013, 3, 27, 10, tzinfo=UTC)  # 6 h in New York
EVENING = date(2013, 3, 26)


def a_reading(value: float, at: datetime = DAWN, place: str = "bench", tree: str = "") -> (
    Observation
):  # fmt: skip
    """Return a reading of a night's minimum."""
    return Observation(MINIMUM_AIR, value, at, "thermometer", place=place, tree=tree)


def two_places() -> Garden:
    """Return a garden with two trees on a bench and one by the wall."""
    return a_garden(
        trees=[a_tree("Maple"), a_tree("Elm"), a_tree("Pine", place="wall")],
        places=[a_place(), a_place("wall")],
    )


def learned_at(garden: Garden, place: str, readings: Sequence[Observation]) -> dict[date, float]:
    """Return what a place has to say of its nights, by evening."""
    trees = with_minima(garden, readings).trees
    return minimum_readings([tree for tree in trees if tree.place == place])


def test_readings_count_for_their_place_and_every_tree_there() -> None:
    """The bench's night is known to both of its trees, the wall's to its own; the lowest counts."""
    readings = [a_reading(-2.0), a_reading(-3.5), a_reading(-1.0), a_reading(0.5, place="wall")]
    garden = two_places()
    assert learned_at(garden, "bench", readings) == {EVENING: -3.5}
    assert learned_at(garden, "wall", readings) == {EVENING: 0.5}
    maple, elm, _ = with_minima(garden, readings).trees
    assert [record.amount for record in (*maple.records, *elm.records)] == [-3.5, -3.5]


def test_a_reading_without_a_place_counts_where_it_can_be_told() -> None:
    """By its tree, or in a garden of one place; else nobody knows where it was."""
    garden = two_places()
    assert learned_at(garden, "wall", [a_reading(-1.0, place="", tree="pine")]) == {EVENING: -1.0}
    assert with_minima(garden, [a_reading(-1.0, place="")]) == garden
    assert with_minima(garden, [a_reading(-1.0, place="", tree="gone")]) == garden
    alone = a_garden(trees=[a_tree("Maple")], places=[a_place()])
    assert learned_at(alone, "bench", [a_reading(-1.0, place="")]) == {EVENING: -1.0}


@pytest.mark.parametrize(
    ("hour", "evening"),
    [(15, date(2013, 3, 25)), (16, EVENING), (23, EVENING), (24, EVENING), (39, EVENING)],
)
def test_a_minimum_belongs_to_the_night_in_which_it_was(hour: int, evening: date) -> None:
    """From 16 h on the coming night, before that the last one, by the local clock."""
    midnight = datetime(2013, 3, 26, 4, tzinfo=UTC)
    reading = a_reading(-1.0, midnight + timedelta(hours=hour))
    assert learned_at(two_places(), "bench", [reading]) == {evening: -1.0}


def test_a_reading_from_before_a_tree_came_does_not_contradict_its_records() -> None:
    """The tree that came today has no part in last night's reading."""
    came = a_tree("New", records=[a_record("acquired", "2013-03-28")])
    garden = a_garden(trees=[a_tree("Maple"), came], places=[a_place()])
    maple, new = with_minima(garden, [a_reading(-2.0)]).trees
    assert (len(maple.records), len(new.records)) == (1, 1)
    assert contradictions(new) == ()


def test_other_quantities_teach_no_minimum() -> None:
    """The air of an hour is not the lowest of a night."""
    air = Observation("air_temperature_c", -9.0, DAWN, "thermometer", place="bench")
    assert with_minima(two_places(), [air]) == two_places()


def test_readings_of_the_database_reach_the_garden_as_far_as_they_teach(
    database: Database,
) -> None:
    """Corrected readings as corrected, those of half a year ago and later ones not."""
    garden = a_garden()
    GardenStore(database, FixedClock(AT)).save(garden)
    book = ObservationBook(database, FixedClock(AT))
    place = garden.trees[0].place
    days = (1, 2, 180, -1)
    book.add(garden.id, [a_reading(-day, AT - timedelta(days=day), place) for day in days])
    newest = book.read(garden.id, MINIMUM_AIR, AT - timedelta(days=1), AT)[0]
    book.correct(newest.number, -1.5)
    found = read_garden_minima(book, garden, AT)
    assert sorted(minimum_readings(found.trees).values()) == [-2.0, -1.5]
    assert GardenStore(database, FixedClock(AT)).load(garden.id) == garden
