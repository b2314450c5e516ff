"""Where a tree stood on a past day, by the records of its moves."""

from __future__ import annotations

from datetime import date

import pytest

from tests.builders import a_frost_free_place, a_garden, a_place, a_record, a_tree

MOVED = a_tree(
    place="bench",
    records=[
        a_record("moved", "2012-11-10", place="shed"),
        a_record("repotted", "2013-03-18"),
        a_record("moved", "2013-03-20", place="bench"),
    ],
)


@pytest.mark.parametrize(
    ("day", "place"),
    [
        (date(2013, 1, 15), "shed"), (date(2013, 3, 19), "shed"), (date(2013, 3, 20), "bench"),
        (date(2013, 7, 1), "bench"), (date(2012, 10, 1), "bench"),
    ],
)  # fmt: skip
def test_a_tree_is_seen_where_it_stood_on_the_day(day: date, place: str) -> None:
    """Between two moves it stood where the first one took it; before any, where it stands now."""
    assert MOVED.known_on(day).place == place


def test_the_place_on_file_stands_where_no_later_move_is_known() -> None:
    """A keeper who changed the place without a record of it is believed."""
    tree = a_tree(place="bench", records=[a_record("moved", "2012-11-10", place="shed")])
    assert tree.known_on(date(2013, 4, 1)).place == "bench"


def test_a_place_that_is_gone_is_not_gone_back_to() -> None:
    """A garden whose shed was given up shows the tree where it stands now."""
    garden = a_garden([MOVED], [a_place()])
    assert garden.known_on(date(2013, 1, 15)).trees[0].place == "bench"
    whole = a_garden([MOVED], [a_place(), a_frost_free_place("shed")])
    assert whole.known_on(date(2013, 1, 15)).trees[0].place == "shed"
