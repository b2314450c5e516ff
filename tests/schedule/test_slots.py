"""Slots: one for each local day, however the clocks are put; one catch-up after any sleep."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.schedule.slots import (
    CatchUp,
    Slot,
    catch_up,
    local_slot,
    local_slots,
    regular_slots,
)

BERLIN = ZoneInfo("Europe/Berlin")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ZONES = st.sampled_from(
    ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Sao_Paulo",
     "Africa/Cairo", "Asia/Tokyo", "Asia/Kathmandu", "Pacific/Chatham", "America/St_Johns"]
).map(ZoneInfo)  # fmt: skip
MOMENTS = st.datetimes(datetime(2005, 1, 1), datetime(2030, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001 - bounds are naive by contract


@pytest.mark.parametrize(
    ("zone", "day", "hour", "utc"),
    [
        ("Europe/Berlin", "2013-03-30", 2, "2013-03-30T01:00"),
        ("Europe/Berlin", "2013-03-31", 2, "2013-03-31T01:00"),  # 02:00 is not there: 03:00
        ("Europe/Berlin", "2013-03-31", 7, "2013-03-31T05:00"),
        ("Europe/Berlin", "2013-10-27", 2, "2013-10-27T00:00"),  # there twice: the first
        ("Europe/Berlin", "2013-10-27", 7, "2013-10-27T06:00"),
        ("America/Sao_Paulo", "2013-10-20", 0, "2013-10-20T03:00"),  # midnight is not there
        ("Australia/Lord_Howe", "2013-10-06", 2, "2013-10-05T15:30"),  # half an hour is skipped
        ("Asia/Kathmandu", "2013-03-31", 6, "2013-03-31T00:15"),
    ],
)
def test_a_local_hour_is_one_moment_on_every_day(zone: str, day: str, hour: int, utc: str) -> None:
    """By the published rules of each zone."""
    slot = local_slot(date.fromisoformat(day), hour, ZoneInfo(zone))
    moment = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert slot == Slot(moment, date.fromisoformat(day))


def test_a_day_that_never_was_has_no_slot() -> None:
    """Samoa went from 29 to 31 December 2011."""
    apia = ZoneInfo("Pacific/Apia")
    days = [local_slot(date(2011, 12, day), 7, apia) for day in (29, 30, 31)]
    assert days[1] is None
    assert days[0] is not None
    assert days[2] is not None
    assert days[2].at - days[0].at == DAY


@given(ZONES, st.integers(0, 23), MOMENTS, st.integers(1, 800))
def test_every_local_day_has_exactly_one_slot(
    zone: ZoneInfo, hour: int, since: datetime, days: int
) -> None:
    """In any zone, over any span: no day is left out, none is there twice, time goes on."""
    slots = local_slots(hour, zone, since, since + days * DAY)
    found = [slot.day for slot in slots]
    assert found == [found[0] + number * DAY for number in range(len(found))]
    assert days - 1 <= len(found) <= days + 1
    assert all(a.at < b.at for a, b in pairwise(slots))
    for slot in slots:
        assert since < slot.at <= since + days * DAY
        local = slot.at.astimezone(zone)
        assert local.date() == slot.day
        assert local.hour == hour or 0 < local.hour - hour <= 1


@given(ZONES, st.integers(0, 23), MOMENTS, st.lists(st.integers(0, 100_000), max_size=8))
def test_however_often_one_asks_each_slot_is_told_once(
    zone: ZoneInfo, hour: int, since: datetime, minutes: list[int]
) -> None:
    """Spans that meet have no slot between them and none in common."""
    moments = [since, *(since + timedelta(minutes=each) for each in sorted(minutes))]
    parts = [
        slot for first, last in pairwise(moments) for slot in local_slots(hour, zone, first, last)
    ]
    assert tuple(parts) == local_slots(hour, zone, since, moments[-1])


def test_a_clock_that_goes_back_asks_for_nothing() -> None:
    """An empty span has no slots."""
    at = datetime(2013, 3, 27, 11, tzinfo=UTC)
    assert local_slots(7, BERLIN, at, at - 5 * DAY) == ()
    assert regular_slots(HOUR, at, at - 5 * DAY) == ()


@given(MOMENTS, st.integers(1, 600), st.integers(0, 59))
def test_regular_slots_are_a_step_apart_and_the_same_for_everybody(
    since: datetime, minutes: int, phase: int
) -> None:
    """Who begins later names the same moments."""
    shift = timedelta(minutes=phase)
    slots = regular_slots(15 * timedelta(minutes=1), since, since + minutes * HOUR / 60, shift)
    assert all(b - a == timedelta(minutes=15) for a, b in pairwise(slots))
    assert all(slot.minute % 15 == phase % 15 and slot.second == 0 for slot in slots)
    if slots:
        later = regular_slots(15 * timedelta(minutes=1), slots[0], slots[-1], shift)
        assert later == slots[1:]


def test_after_a_sleep_the_newest_slot_is_run_once() -> None:
    """A laptop that slept for three days catches up with one run."""
    at = datetime(2013, 3, 27, 11, tzinfo=UTC)
    slots = local_slots(7, BERLIN, at - 3 * DAY, at)
    run: set[Slot] = set()
    found = catch_up(slots, run.__contains__, at, DAY)
    assert found == CatchUp(slots[-1], slots[:-1])
    run.add(slots[-1])
    assert catch_up(slots, run.__contains__, at, DAY).run is None


def test_an_older_slot_is_never_run_after_a_newer_one() -> None:
    """Rounds go forward only."""
    at = datetime(2013, 3, 27, 11, tzinfo=UTC)
    slots = local_slots(7, BERLIN, at - 3 * DAY, at)
    assert catch_up(slots, {slots[-1]}.__contains__, at, DAY) == CatchUp(None, slots[:-1])


def test_what_is_too_old_is_left() -> None:
    """A digest of the morning is not sent at night, and nothing is run ahead of its time."""
    at = datetime(2013, 3, 27, 11, tzinfo=UTC)
    slots = local_slots(7, BERLIN, at - DAY, at)
    assert catch_up(slots, lambda _: False, at, HOUR) == CatchUp(None, slots)
    assert catch_up(slots, lambda _: False, slots[0].at - HOUR, DAY) == CatchUp(None, ())
