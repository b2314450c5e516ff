"""Looking: a failed look is told, never passed over in silence."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest

from mebuki.agenda.entry import NoticeStep, Published
from mebuki.bootstrap import Inputs, demo_inputs, plan_day
from mebuki.domain.advice import CareKind
from mebuki.domain.lessons import NightForecast
from mebuki.domain.weather import Freshness
from mebuki.rounds.forecast_memory import ForecastMemory
from mebuki.rounds.look import look
from mebuki.season.night_minima import analysed_minima, night_forecasts
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


def test_a_look_carries_what_past_forecasts_teach_and_the_plan_is_corrected_by_it() -> None:
    """Ten nights told 3 °C too warm: tonight is planned 10/14 of that colder, and it is said."""
    inputs, past, on = demo_inputs(), ForecastMemory(), AT.date()
    site = inputs.garden.site
    plain = look(inputs.weather, site, AT)
    nights = analysed_minima(plain, on, 20)
    past.remember(
        inputs.garden.id,
        [NightForecast(night, 0, low + 3.0, AT) for night, low in list(nights.items())[-10:]],
    )
    picture = look(inputs.weather, site, AT, past, inputs.garden.id)
    assert picture.lessons is not None
    assert picture.lessons.bias[0] == pytest.approx(3.0 * 10 / 14)
    air = picture.hourly.air_temperature, plain.hourly.air_temperature
    assert np.array_equal(*air, equal_nan=True)
    before = plan_day(inputs, on, AT, Published.nothing())
    after = plan_day(inputs, on, AT, Published.nothing(), past)
    places = {tree.id: inputs.garden.place(tree.place) for tree in inputs.garden.trees}
    tree = next(each for each, place in places.items() if place.minimum_held is None)
    told, taught = (plan.outlooks[tree].nights[0] for plan in (before, after))
    assert told.air_minimum - taught.air_minimum == pytest.approx(3.0 * 10 / 14, abs=0.4)
    assert night_forecasts(after.picture) == night_forecasts(before.picture)
    facts = [fact for notice in after.notices for fact in notice.facts]
    assert any("2.1 °C too warm over 10 nights" in value for _, value in facts)


def test_a_failed_look_learns_nothing_and_fails_nothing() -> None:
    """The lessons wait for a round that can see."""
    picture = look(FakeWeatherSource(), a_site(), AT, ForecastMemory(), "home")
    assert picture.lessons is None
    assert night_forecasts(picture) == ()
