"""Blindness: told once a spell, its end told once, and never an end of danger within it."""

from __future__ import annotations

from datetime import timedelta

from mebuki.agenda.entry import NoticeStep
from mebuki.agenda.situation import Situation
from mebuki.domain.weather import Freshness
from tests.agenda.rounds import Readers
from tests.builders import ON, a_moment, a_sight, a_situation

BLIND, OVER = NoticeStep.BLIND, NoticeStep.OVER


def day(number: int, *, blind: bool, hour: int = 11) -> Situation:
    """Return a quiet day that can or cannot be seen."""
    on = ON + timedelta(days=number)
    sight = a_sight(freshness=Freshness.BLIND if blind else Freshness.FRESH)
    return a_situation(on=on, at=a_moment(on, hour), sight=sight)


def test_a_spell_of_a_week_is_told_once_and_its_end_once() -> None:
    """Seven blind days with three rounds each, then sight."""
    readers = Readers()
    for number in range(7):
        for hour in (7, 13, 19):
            readers.hear(day(number, blind=True, hour=hour))
    assert [each.step for each in readers.told] == [BLIND]
    for number in range(7, 10):
        readers.hear(day(number, blind=False))
    assert [each.step for each in readers.told] == [BLIND, OVER]
    assert len({each.thread for each in readers.told}) == 1


def test_a_new_spell_is_told_only_after_sight_came_back() -> None:
    """Blind, sight, blind: told twice, under keys of their own."""
    readers = Readers()
    for number, blind in enumerate((True, False, True, True)):
        readers.hear(day(number, blind=blind))
    assert [each.step for each in readers.told] == [BLIND, OVER, BLIND]
    assert len({each.told for each in readers.told}) == 3


def test_a_view_that_comes_and_goes_within_a_day_is_told_once() -> None:
    """The other mail of the day is gone, and the day is known."""
    readers = Readers()
    for hour, blind in ((6, True), (9, False), (12, True), (15, False), (18, True)):
        readers.hear(day(0, blind=blind, hour=hour))
    assert [each.step for each in readers.told] == [BLIND]


def test_without_a_forecast_blindness_is_told() -> None:
    """Fresh measurements alone do not show the coming night."""
    found = Readers().hear(a_situation(sight=a_sight(forecast_until=None)))
    assert [each.step for each in found] == [BLIND]


def test_no_danger_is_over_while_nothing_can_be_seen() -> None:
    """A night prepared for stays open in the dark."""
    readers = Readers(("frost:2013-03-27:prepare",))
    assert [each.step for each in readers.hear(day(0, blind=True))] == [BLIND]
