"""Waits and expiries: read as the standards say, and never longer than is sensible."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.weather.conduct import LONGEST_REST, Conduct, Limits, conduct_from
from mebuki.weather.waits import (
    LONGEST_KEEP,
    LONGEST_WAIT,
    holds_until,
    http_date,
    reason_of,
    retry_after,
    wait_by_reason,
)
from tests.weather.series import utc

NOW = utc(2026, 3, 24, 12).replace(minute=20, second=30)
HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("value", "wait"),
    [
        ("120", timedelta(seconds=120)),
        (" 0 ", timedelta(0)),
        ("Tue, 24 Mar 2026 12:21:00 GMT", timedelta(seconds=30)),
        ("Tue, 24 Mar 2026 11:00:00 GMT", timedelta(0)),
        ("Fri, 01 Jan 2100 00:00:00 GMT", LONGEST_WAIT),
        ("99999999999999999999", LONGEST_WAIT),
        ("-5", None),
        ("soon", None),
        ("", None),
        (None, None),
        ("٣", None),
    ],
)
def test_retry_after_is_seconds_or_a_date_and_capped(
    value: str | None, wait: timedelta | None
) -> None:
    """As RFC 9110, section 10.2.3 has it; anything else says nothing."""
    assert retry_after(value, NOW) == wait


@pytest.mark.parametrize(
    ("reason", "until"),
    [
        ("Minutely API request limit exceeded. Please try again in one minute.", (12, 21)),
        ("Hourly API request limit exceeded. Please try again in the next hour.", (13, 0)),
    ],
)
def test_a_limit_in_words_ends_with_its_minute_or_hour(reason: str, until: tuple[int, int]) -> None:
    """The words are Open-Meteo's own."""
    wait = wait_by_reason(reason, NOW)
    assert wait is not None
    assert NOW + wait == utc(2026, 3, 24, until[0]).replace(minute=until[1])


def test_other_words_name_no_wait() -> None:
    """Only what is known is waited for by its words."""
    assert wait_by_reason("Something went wrong.", NOW) is None


@pytest.mark.parametrize(
    ("headers", "until"),
    [
        ({}, NOW + HOUR),
        ({"expires": "Tue, 24 Mar 2026 14:00:00 GMT"}, utc(2026, 3, 24, 14)),
        ({"expires": "Tue, 24 Mar 2026 11:00:00 GMT"}, NOW + HOUR),
        ({"expires": "0"}, NOW + HOUR),
        ({"expires": "Fri, 01 Jan 2100 00:00:00 GMT"}, NOW + LONGEST_KEEP),
        ({"cache-control": "public, max-age=600"}, NOW + timedelta(minutes=10)),
        ({"cache-control": "max-age=0"}, NOW + HOUR),
        ({"cache-control": "max-age=99999999999999"}, NOW + LONGEST_KEEP),
        ({"cache-control": "max-age=x", "expires": "Tue, 24 Mar 2026 14:00:00 GMT"},
         utc(2026, 3, 24, 14)),
        ({"cache-control": "max-age=60", "expires": "Tue, 24 Mar 2026 14:00:00 GMT"},
         NOW + timedelta(minutes=1)),
    ],
)  # fmt: skip
def test_an_answer_holds_as_long_as_its_headers_say(
    headers: dict[str, str], until: datetime
) -> None:
    """Max-age before Expires (RFC 9111, section 5.3), at most a day, else our own time."""
    assert holds_until(headers, NOW, HOUR) == until


@given(st.text(max_size=40), st.binary(max_size=60))
def test_no_header_and_no_body_breaks_the_reading(value: str, content: bytes) -> None:
    """Whatever a server writes there, a moment, a wait or nothing comes of it."""
    wait = retry_after(value, NOW)
    assert wait is None or timedelta(0) <= wait <= LONGEST_WAIT
    found = http_date(value)
    assert found is None or found.tzinfo is UTC
    until = holds_until({"expires": value, "cache-control": f"max-age={value}"}, NOW, HOUR)
    assert NOW < until <= NOW + LONGEST_KEEP
    assert len(reason_of(content)) <= 200


def test_a_circuit_opens_after_three_failures_and_closes_with_an_answer() -> None:
    """Five minutes at first, twice as long each time, three hours at most."""
    one = Conduct()
    rests = []
    for _ in range(12):
        one = one.failed("status 503", NOW)
        until = one.closed_until and datetime.fromisoformat(one.closed_until) - NOW
        rests.append(until or timedelta(0))
    minutes = [rest / timedelta(minutes=1) for rest in rests]
    assert minutes[:6] == [0, 0, 5, 10, 20, 40]
    assert rests[-1] == LONGEST_REST
    assert "not asked again before" in one.resting(NOW)
    assert one.succeeded().resting(NOW) == ""
    assert one.succeeded().failures == 0


def test_a_rest_the_provider_asks_for_holds_at_once() -> None:
    """One failure is enough if it comes with a wait."""
    one = Conduct().failed("status 429", NOW, timedelta(hours=2))
    assert one.resting(NOW + HOUR)
    assert one.resting(NOW + 2 * HOUR) == ""


@given(
    st.lists(st.tuples(st.floats(0.1, 50), st.integers(0, 4000)), min_size=1, max_size=60),
    st.floats(20, 200),
)
def test_no_minute_hour_or_day_is_ever_overdrawn(
    calls: list[tuple[float, int]], allowed: float
) -> None:
    """Whatever is asked and when, the weights let through in a UTC day stay within the limit."""
    limits = Limits(minute=allowed / 4, hour=allowed / 2, day=allowed)
    one, at = Conduct(), NOW
    spent: dict[str, float] = {}
    for weight, seconds in calls:
        at += timedelta(seconds=seconds)
        if one.exceeding(weight, limits, at):
            continue
        one = one.spending(weight, at)
        for word in (f"{at:%Y-%m-%d}", f"{at:%Y-%m-%dT%H}", f"{at:%Y-%m-%dT%H:%M}"):
            spent[word] = spent.get(word, 0) + weight
    for word, total in spent.items():
        limit = {10: limits.day, 13: limits.hour, 16: limits.minute}[len(word)]
        assert total <= limit + 1e-6


@given(st.binary(max_size=80))
def test_damaged_manners_begin_anew(content: bytes) -> None:
    """A damaged note is no reason to stop."""
    assert isinstance(conduct_from(content), Conduct)


def test_manners_survive_being_written() -> None:
    """What is read is what was kept."""
    one = Conduct().spending(3.5, NOW).failed("status 503", NOW, HOUR)
    assert conduct_from(one.as_bytes()) == one
