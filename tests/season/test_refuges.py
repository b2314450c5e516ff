"""What closed places keep out, and weeks of cold."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from mebuki.season.members import Members
from mebuki.season.refuges import refuges, weeks_of_cold
from tests.builders import ON, a_frost_free_place, a_place
from tests.plans import a_picture


def test_open_places_are_no_refuge_and_closed_ones_are_milder() -> None:
    """Nights of −1 °C outside: the bench is not told, the held shed is safe, the frame is not."""
    picture = a_picture()
    frame = a_place("frame", kind="cold-frame", lag_hours=0)
    found = refuges([a_place(), frame, a_frost_free_place()], picture.hourly, picture, ON)
    assert set(found) == {"frame", "shed"}
    assert found["shed"].frost_chance == 0
    assert found["shed"].lowest is not None
    assert found["shed"].lowest >= 2
    assert found["frame"].lowest == pytest.approx(-1, abs=0.2)
    assert found["frame"].frost_chance > 0.5


def test_where_no_night_can_be_seen_frost_is_taken_as_certain() -> None:
    """Unknown never looks safe, unless a building holds the place above freezing."""
    picture = a_picture()
    empty = picture.hourly.between(0, 0)
    places = [a_place("frame", kind="cold-frame"), a_frost_free_place()]
    found = refuges(places, empty, picture, ON)
    assert found["frame"].frost_chance == 1
    assert found["frame"].lowest is None
    assert found["shed"].frost_chance == 0


def _members(low: list[float], high: list[float], start: date) -> Members:
    return Members(
        start.toordinal(), np.array([low]), np.array([high]), start.toordinal(), start.toordinal()
    )


def test_weeks_of_cold_count_the_share_of_each_day_below_the_limit() -> None:
    """Seven days wholly below 4.4 °C are a week, days from 2.4 to 6.4 °C half of one."""
    start = date(2012, 11, 1)
    week = [0.0] * 7 + [2.4] * 7
    members = _members(week, [4.0] * 7 + [6.4] * 7, start)
    assert weeks_of_cold(members, start + timedelta(days=6)) == pytest.approx(1)
    assert weeks_of_cold(members, start + timedelta(days=13)) == pytest.approx(1.5)


def test_an_unknown_season_has_no_weeks_of_cold() -> None:
    """Not nought: unknown."""
    start = date(2012, 11, 1)
    assert weeks_of_cold(_members([np.nan], [np.nan], start), start) is None
    assert weeks_of_cold(_members([0.0], [4.0], start), start - timedelta(days=2)) is None
