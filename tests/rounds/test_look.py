"""Looking: a failed look is told, never passed over in silence."""

from __future__ import annotations

from datetime import UTC, date, datetime

from mebuki.agenda.entry import NoticeStep, Published
from mebuki.bootstrap import Inputs, demo_inputs, plan_day
from mebuki.domain.advice import CareKind
from mebuki.domain.weather import Freshness
from mebuki.rounds.look import look
from tests.builders import a_site
from tests.fakes.ports import FakeWeatherSource

AT = datetime(2013, 3, 27, 11, tzinfo=UTC)


def test_a_source_that_fails_gives_an_empty_picture_with_the_reason() -> None:
    """Nothing is known, the picture is blind, and says why."""
    picture = look(FakeWeatherSource(), a_site(), AT)
    assert picture.freshness is Freshness.BLIND
    assert picture.measured_until is None
    assert "no answer" in picture.remarks[0]


def test_a_blind_round_says_so_in_the_feed_and_by_mail_and_clears_nothing() -> None:
    """Without any weather the round still runs: an entry and a notice say that it cannot see."""
    known = demo_inputs()
    inputs = Inputs(known.garden, known.taxa, known.rulebook, FakeWeatherSource())
    plan = plan_day(inputs, date(2013, 3, 27), AT, Published.nothing())
    steps = {notice.step for notice in plan.notices}
    assert NoticeStep.BLIND in steps
    assert NoticeStep.OVER not in steps
    assert any("cannot be seen" in entry.title for entry in plan.entries)
    assert not [each for each in plan.advice if each.kind is CareKind.FROST]
