"""The judgement on the service: from a few facts, for machines that watch."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki import __version__
from mebuki.web.health import (
    BeatFacts,
    OutboxFacts,
    RoundFacts,
    Status,
    WeatherFacts,
    judge,
    weather_facts,
)
from tests.web.healths import HOUR, NOW, a_health, good_facts


def with_weather(*hours: float | None) -> WeatherFacts:
    """Return weather of these ages [h]."""
    return weather_facts([None if age is None else NOW - age * HOUR for age in hours], NOW)


def test_a_service_that_works_is_ok() -> None:
    """Fresh weather, rounds on time, letters that leave: nothing to say."""
    health = a_health()
    assert (health.status, health.healthy, health.reasons) == (Status.OK, True, ())
    assert (health.weather.newest_age, health.weather.oldest_age) == (3600, 7200)


@pytest.mark.parametrize(
    ("ages", "status", "healthy"),
    [
        ((5.9,), Status.OK, True),
        ((6,), Status.DEGRADED, True),
        ((23.9,), Status.DEGRADED, True),
        ((24,), Status.BLIND, False),
        ((1, 30), Status.BLIND, False),
        ((1, 1, 30), Status.DEGRADED, True),
        ((None,), Status.BLIND, False),
        ((1, 1, None), Status.DEGRADED, True),
        ((), Status.OK, True),
    ],
)
def test_old_weather_is_stale_and_older_weather_is_none(
    ages: tuple[float | None, ...], status: Status, healthy: bool
) -> None:
    """Stale from 6 h, blind from 24 h; half of the gardens blind and the whole service is."""
    health = judge(replace(good_facts(), weather=with_weather(*ages)), NOW)
    assert (health.status, health.healthy) == (status, healthy)
    assert bool(health.reasons) == (status is not Status.OK)


def test_stale_and_blind_gardens_are_counted_apart() -> None:
    """Each garden counts once."""
    weather = with_weather(1, 7, 8, 30, None)
    assert (weather.gardens, weather.stale, weather.blind, weather.without) == (5, 2, 1, 1)


def test_just_started_it_waits_for_its_first_weather_and_rounds() -> None:
    """For a quarter of an hour no weather is no fault; then it is."""
    young = replace(
        good_facts(),
        started=NOW,
        weather=with_weather(None, None),
        rounds=(RoundFacts("plan", None, HOUR),),
    )
    first = judge(young, NOW + timedelta(minutes=14))
    assert (first.status, first.healthy, first.reasons) == (Status.STARTING, True, ())
    late = judge(young, NOW + timedelta(minutes=15))
    assert (late.status, late.healthy) == (Status.BLIND, False)


def test_started_again_with_old_weather_it_is_blind_at_once() -> None:
    """What is known to be old needs no waiting."""
    facts = replace(good_facts(), started=NOW, weather=with_weather(30))
    assert judge(facts, NOW).status is Status.BLIND


@pytest.mark.parametrize(("late", "overdue"), [(6.5, False), (6.6, True)])
def test_rounds_that_do_not_come_make_it_unhealthy(late: float, overdue: bool) -> None:
    """Twice the interval of 3 h and half an hour are allowed."""
    rounds = (RoundFacts("plan", NOW - late * HOUR, 3 * HOUR),)
    health = judge(replace(good_facts(), rounds=rounds), NOW)
    assert health.healthy is not overdue
    assert health.rounds[0].overdue is overdue
    assert ("the plan rounds are overdue" in health.reasons) is overdue


def test_a_first_round_that_never_comes_is_overdue_too() -> None:
    """Counted from the start."""
    rounds = (RoundFacts("plan", None, 3 * HOUR),)
    assert not judge(replace(good_facts(), rounds=rounds), NOW).healthy


@pytest.mark.parametrize(("minutes", "status"), [(59, Status.OK), (60, Status.DEGRADED)])
def test_a_letter_that_waits_for_an_hour_is_said(minutes: int, status: Status) -> None:
    """Pages and feeds still work, so it stays healthy; the heartbeat stops."""
    outbox = OutboxFacts(1, NOW - timedelta(minutes=minutes))
    health = judge(replace(good_facts(), outbox=outbox), NOW)
    assert (health.status, health.healthy) == (status, True)


def test_a_garden_that_fails_is_said_without_its_name() -> None:
    """One poison garden degrades, it does not end, the service."""
    weather = replace(with_weather(1, 1), failed=1)
    health = judge(replace(good_facts(), weather=weather), NOW)
    assert health.reasons == ("1 garden failed in the last round",)
    assert health.healthy


def test_a_clock_that_was_set_back_gives_no_negative_age() -> None:
    """A moment in the future counts as now."""
    health = judge(replace(good_facts(), weather=with_weather(-3)), NOW)
    assert health.weather.newest_age == 0
    assert health.status is Status.OK


def test_the_json_holds_what_a_watcher_needs() -> None:
    """Versions, ages and counts; moments in UTC."""
    facts = replace(good_facts(), heartbeat=BeatFacts("sent", NOW))
    told = json.loads(judge(facts, NOW).as_json())
    assert told["status"] == "ok"
    assert told["healthy"] is True
    assert told["version"] == __version__
    assert told["schema"] == "garden_states"
    assert told["at"] == "2026-03-27T12:00:00Z"
    assert told["weather"]["newest_age"] == 3600
    assert told["rounds"][0] == {
        "kind": "plan", "finished": "2026-03-27T11:00:00Z", "age": 3600, "overdue": False,
    }  # fmt: skip
    assert told["outbox"] == {"waiting": 2, "oldest_age": 60, "given_up": 1}
    assert told["heartbeat"] == {"state": "sent", "at": "2026-03-27T12:00:00Z"}


MOMENTS = st.integers(-(10**7), 10**7).map(lambda seconds: NOW - timedelta(seconds=seconds))


@given(st.lists(st.none() | MOMENTS, max_size=8), MOMENTS, MOMENTS)
def test_any_facts_can_be_judged_and_told(
    weather: list[datetime | None], started: datetime, oldest: datetime
) -> None:
    """Unhealthy always has a reason, ok never has one, and JSON can always be made."""
    facts = replace(
        good_facts(),
        started=started,
        weather=weather_facts(weather, NOW),
        outbox=OutboxFacts(1, oldest),
    )
    health = judge(facts, NOW)
    assert health.healthy or health.reasons
    assert not (health.status is Status.OK and health.reasons)
    assert json.loads(health.as_json())["status"] == health.status
