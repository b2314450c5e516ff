"""What a round called in at every level, and what it makes of the last nights."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache

import numpy as np
import pytest

from mebuki.agenda.entry import Published
from mebuki.domain.garden import Garden
from mebuki.domain.site import Place
from mebuki.domain.weather import Origin, WeatherPicture, hour_number
from mebuki.rounds.harm import tree_nights, well_measured
from mebuki.rounds.judging import OpenNight, calls_of, verdicts
from mebuki.rounds.plan import plan_garden
from mebuki.rounds.planned import Plan
from mebuki.rules.risk import level_threshold
from tests.builders import a_record, a_subscriber
from tests.rounds.trials import STATIONS, bench, rules, source

DAY = timedelta(days=1)
COLD = date(2013, 3, 21)
"""An evening before a night of frost at JFK: −1.7 °C on the morning of 22 March."""

SHED = Place.model_validate({"id": "shed", "name": "Shed", "kind": "shed", "minimum_held": 2})


@lru_cache(maxsize=8)
def _picture(day: date, hour: int = 7) -> WeatherPicture:
    site = bench().site
    return source(STATIONS["JFK"], seed=1).look(site, site.moment(day, hour))


def _plan(garden: Garden, picture: WeatherPicture) -> Plan:
    known, on = rules(), picture.at.astimezone(garden.site.zone).date()
    return plan_garden(garden, known.taxa, known.rulebook, picture, Published.nothing(), on)


def _open(evening: date, **called: str) -> OpenNight:
    return OpenNight(evening, {tree.replace("_", "-"): place for tree, place in called.items()})


def test_a_level_that_nobody_reads_at_calls_what_it_would_have_been_told() -> None:
    """The chance of every tree called is above what its level is told of; others' is not."""
    garden = bench().model_copy(update={"subscribers": (a_subscriber(notice_level="few"),)})
    plan = _plan(garden, _picture(COLD))
    calls = {call.level: call for call in calls_of(plan)}
    assert set(calls) == {"cautious", "balanced", "few"}
    practice = rules().rulebook.practice
    tonight = [each for each in plan.advice if each.kind == "frost"]
    tonight = [each for each in tonight if each.cycle == COLD.isoformat()]
    for level, call in calls.items():
        assert (call.evening, call.told_at) == (COLD, plan.at)
        assert call.trees == {
            each.tree
            for each in tonight
            if (each.probability or 0) > level_threshold(practice, each.threshold or 0, level)
        }
    assert calls["few"].trees <= calls["balanced"].trees <= calls["cautious"].trees


def test_what_readers_were_called_to_before_is_not_called_again_that_day() -> None:
    """The notices of a second round are silent; levels without readers say the same again."""
    garden = bench().model_copy(update={"subscribers": (a_subscriber(notice_level="few"),)})
    first = _plan(garden, _picture(COLD))
    known = rules()
    second = plan_garden(
        garden, known.taxa, known.rulebook, _picture(COLD, 8),
        first.published(Published.nothing()), COLD,
    )  # fmt: skip
    assert [call.level for call in calls_of(second)] == ["cautious"]


def test_verdicts_of_a_round_are_those_of_looking_back_anew() -> None:
    """The outlooks that a round has made anyway give the same nights, to the last bit."""
    evenings = [COLD - 3 * DAY, COLD]
    picture = _picture(COLD + 2 * DAY)
    plan = _plan(bench(), picture)
    found = verdicts(plan, [_open(evening) for evening in evenings])
    anew = tree_nights(bench(), rules(), picture, evenings)
    assert [night for nights in found.values() for night in nights] == list(anew)
    assert len(anew) >= 2


def test_a_night_that_is_not_over_or_not_measured_waits() -> None:
    """At 9 h the morning may still turn colder; at 10 h it is over."""
    assert not well_measured(_picture(COLD + DAY, 9), COLD)
    assert well_measured(_picture(COLD + DAY, 11), COLD)
    plan = _plan(bench(), _picture(COLD + DAY, 9))
    assert list(verdicts(plan, [_open(COLD - DAY), _open(COLD)])) == [COLD - DAY]


@pytest.mark.parametrize(("lost", "judged"), [(2, True), (3, False)])
def test_a_night_with_three_lost_hours_is_not_judged(lost: int, judged: bool) -> None:
    """Two hours between 22 h and 8 h may be missing, whatever was put in their place."""
    picture = _picture(COLD + DAY, 12)
    first = hour_number(picture.site.moment(COLD + DAY, 2)) - picture.hourly.start
    origin = picture.hourly.origin.copy()
    origin[first : first + lost] = Origin.MISSING
    holed = replace(picture, hourly=replace(picture.hourly, origin=origin))
    assert well_measured(holed, COLD) is judged
    assert not well_measured(replace(picture, measured_until=None), COLD)


def test_an_hour_that_was_not_measured_is_no_minimum() -> None:
    """A bridged −20 °C beside measured hours does not harm a tree."""
    picture = _picture(COLD + DAY, 12)
    at = hour_number(picture.site.moment(COLD + DAY, 2)) - picture.hourly.start
    air, origin = picture.hourly.air_temperature.copy(), picture.hourly.origin.copy()
    air[at], origin[at] = -20.0, Origin.MISSING
    hourly = replace(picture.hourly, air_temperature=air, origin=origin)
    nights = tree_nights(bench(), rules(), replace(picture, hourly=hourly), [COLD])
    assert nights
    assert min(night.lowest for night in nights) > -10


def _in_the_shed(garden: Garden) -> Garden:
    elm = garden.trees[0].model_copy(update={"place": "shed"})
    moved = {"places": (*garden.places, SHED), "trees": (elm, *garden.trees[1:])}
    return garden.model_copy(update=moved)


def test_a_tree_that_was_brought_in_is_judged_where_it_stood() -> None:
    """In the shed it counts as safe, unless a call had it brought there from the bench."""
    plan = _plan(_in_the_shed(bench()), _picture(COLD + DAY, 12))
    (inside,) = verdicts(plan, [_open(COLD)]).values()
    (called,) = verdicts(plan, [_open(COLD, fresh_elm="bench")]).values()
    assert "fresh-elm" not in {night.tree for night in inside}
    elm = next(night for night in called if night.tree == "fresh-elm")
    assert (elm.harmed, elm.limit) == (True, 0.0)
    (lost,) = verdicts(plan, [_open(COLD, fresh_elm="no-more")]).values()
    assert lost == inside


def test_a_call_for_buds_that_had_not_moved_was_in_vain() -> None:
    """In January a maple bears the night: no verdict, or an unharmed one if it was called."""
    plan = _plan(bench(), _picture(date(2013, 1, 22), 12))
    evening = date(2013, 1, 21)
    (quiet,) = verdicts(plan, [_open(evening)]).values()
    (called,) = verdicts(plan, [_open(evening, leafing_maple="bench")]).values()
    assert "leafing-maple" not in {night.tree for night in quiet}
    maple = next(night for night in called if night.tree == "leafing-maple")
    assert not maple.harmed
    assert np.isfinite(maple.limit)


def test_wood_bent_in_winter_is_judged_by_its_own_limit() -> None:
    """Bent on 1 February: it stands no frost for weeks; bent in June it is not looked at."""
    limit = rules().rulebook.practice.value("wire.bend_frost_limit")
    plans = {}
    for day in (date(2013, 2, 1), date(2012, 6, 1)):
        maple = bench().trees[2]
        bent = maple.model_copy(update={"records": (a_record("major-bend", day),)})
        garden = bench().model_copy(update={"trees": (bent,)})
        plan = _plan(garden, _picture(date(2013, 2, 8), 12))
        plans[day.month] = verdicts(plan, [_open(date(2013, 2, 5))])[date(2013, 2, 5)]
    assert plans[6] == ()
    assert [night.limit for night in plans[2]] == [limit]
    assert [night.harmed for night in plans[2]] == [True]


@pytest.mark.parametrize(
    ("evening", "hours"), [(date(2013, 3, 9), 18), (date(2013, 3, 8), 19)], ids=["spring", "plain"]
)
def test_the_night_of_a_clock_change_is_judged_over_its_own_hours(
    evening: date, hours: int
) -> None:
    """16 h to 10 h is 18 hours long when clocks go forward; its last hour must be measured."""
    zone = bench().site.zone
    begins = datetime(evening.year, evening.month, evening.day, 16, tzinfo=zone).astimezone(UTC)
    assert well_measured(_until(evening, begins + timedelta(hours=hours - 1)), evening)
    assert not well_measured(_until(evening, begins + timedelta(hours=hours - 2)), evening)


def _until(evening: date, last: datetime) -> WeatherPicture:
    """Return a picture with measured hours up to a moment, of which 10 h local is the last."""
    return replace(_picture(evening + DAY, 12), measured_until=last)
