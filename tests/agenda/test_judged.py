"""Calls judged by what the weather did."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.agenda.judged import Call, Outcome, TreeNight, call_of, judge, median_lead, table_of
from mebuki.domain.advice import CareKind
from tests.agenda.rounds import Readers
from tests.builders import ON, a_frost_advice, a_garden, a_moment, a_situation, a_tree

NEXT = ON + timedelta(days=1)


def night(tree: str = "alba", evening: date = ON, *, harmed: bool = True) -> TreeNight:
    """Return a night that was coldest at 9 h UTC of the morning after."""
    lowest = -2.0 if harmed else 2.0
    return TreeNight(tree, evening, harmed, lowest, 0.0, a_moment(evening + timedelta(days=1), 9))


def call(*trees: str, evening: date = ON, hour: int = 11) -> Call:
    """Return a call to balanced readers."""
    return Call("balanced", evening, a_moment(evening, hour), frozenset(trees))


def test_each_tree_of_each_night_is_judged_by_itself() -> None:
    """Told and harmed, told in vain, harmed untold, rightly quiet."""
    nights = (
        night("alba"),
        night("bo", harmed=False),
        night("cy"),
        night("alba", NEXT, harmed=False),
    )
    judged = judge(nights, [call("alba", "bo")], "balanced")
    assert [each.outcome for each in judged] == [
        Outcome.HIT, Outcome.FALSE_ALARM, Outcome.MISS, Outcome.QUIET,
    ]  # fmt: skip
    table = table_of(judged)
    assert (table.pod, table.far) == (0.5, 0.5)
    assert median_lead(judged) == pytest.approx(22)


def test_the_first_call_that_named_a_tree_counts() -> None:
    """An update does not shorten the time of those named before."""
    judged = judge(
        [night("alba"), night("bo")], [call("alba", "bo", hour=20), call("alba")], "balanced"
    )
    assert [each.lead_hours for each in judged] == [22, 13]


def test_a_call_after_the_coldest_hour_is_a_miss() -> None:
    """It came too late to bring anything in."""
    late = Call("balanced", ON, a_moment(NEXT, 10), frozenset({"alba"}))
    (verdict,) = judge([night()], [late], "balanced")
    assert verdict.outcome is Outcome.MISS


def test_calls_to_other_levels_do_not_count() -> None:
    """What few were told says nothing of the cautious."""
    (verdict,) = judge([night()], [call("alba")], "cautious")
    assert verdict.outcome is Outcome.MISS
    assert median_lead([verdict]) is None


def test_a_notice_becomes_a_call_for_the_trees_that_frost_endangers() -> None:
    """A tree named for cold roots alone is left out; other steps make no call."""
    garden = a_garden([a_tree(name) for name in ("Alba", "Bo")])
    cold = a_frost_advice("bo", kind=CareKind.WINTER, action="winter-night")
    situation = a_situation(garden, (a_frost_advice("alba"), cold))
    (notice,) = Readers().hear(situation)
    assert {name for line in notice.lines for name in line.trees} == {"Alba", "Bo"}
    assert call_of(notice, situation) == Call("balanced", ON, notice.at, frozenset({"alba"}))
    assert call_of(_as(notice, NoticeStep.PREPARE), situation) is None


def _as(notice: Notice, step: NoticeStep) -> Notice:

    return replace(notice, step=step)
