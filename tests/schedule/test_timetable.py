"""Which garden is due: even steps, cold nights, digest hours, sleep, and clocks that jump."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from mebuki.schedule.timetable import Due, Standing, Timetable

NEW_YORK = ZoneInfo("America/New_York")
HOUR, DAY, MINUTE = timedelta(hours=1), timedelta(days=1), timedelta(minutes=1)
ON_THE_HOUR = Timetable(spread=timedelta())
DIGESTS_ONLY = Timetable(step=None, cold_step=None)
START = datetime(2013, 3, 8, 12, 0, tzinfo=UTC)
"""A Friday, 07:00 in New York; clocks go forward on the Sunday."""


def _standing(hours: frozenset[int] = frozenset({7}), **values: object) -> Standing:
    return replace(Standing("a-garden", NEW_YORK, hours, last=START), **values)  # type: ignore[arg-type]


def _nothing_done(at: datetime) -> bool:
    return False


def _live(
    table: Timetable, standing: Standing, ticks: list[datetime], done: set[datetime] | None = None
) -> list[Due]:
    """Return the rounds that ticks lead to, each round done at once."""
    finished = set() if done is None else done
    found = []
    for now in ticks:
        due = table.due(standing, now, finished.__contains__)
        if due:
            found.append(due)
            finished.add(due.at)
            standing = replace(standing, last=due.at)
    return found


def _ticks(days: float, every: timedelta = MINUTE) -> list[datetime]:
    return [START + number * every for number in range(1, int(DAY * days / every) + 1)]


def test_a_garden_is_looked_at_in_even_steps_and_at_its_digest_hour() -> None:
    """Eight looks a day and the digest hour, which falls on one of them."""
    rounds = _live(ON_THE_HOUR, _standing(), _ticks(1))
    assert [due.at.hour for due in rounds] == [15, 18, 21, 0, 3, 6, 9, 12]
    assert [sorted(due.digest_hours) for due in rounds] == [[], [], [], [], [], [], [], [7]]


def test_a_cold_night_ahead_is_looked_at_every_hour() -> None:
    """More often on frost nights."""
    rounds = _live(ON_THE_HOUR, _standing(watch=True), _ticks(1))
    assert len(rounds) == 24


def test_each_local_day_has_one_digest_over_the_change_of_clocks() -> None:
    """07:00 is 12:00 UTC until Saturday and 11:00 UTC from Sunday 10 March 2013."""
    rounds = _live(DIGESTS_ONLY, _standing(), _ticks(4))
    assert [(due.on.day, due.at.hour) for due in rounds] == [(9, 12), (10, 11), (11, 11), (12, 11)]
    assert all(due.digest_hours == {7} for due in rounds)


def test_a_digest_at_an_hour_that_is_not_there_comes_after_the_gap() -> None:
    """02:00 to 03:00 is skipped on 10 March 2013."""
    rounds = _live(DIGESTS_ONLY, _standing(frozenset({2})), _ticks(3))
    assert [(due.on.day, due.at.hour) for due in rounds] == [(9, 7), (10, 7), (11, 6)]


def test_after_a_sleep_one_round_catches_up_with_the_digest_that_was_missed() -> None:
    """Slept from Friday to Saturday 10:40 New York time: one round, then quiet until the next."""
    wakes = datetime(2013, 3, 9, 15, 40, tzinfo=UTC)
    ticks = [wakes + number * MINUTE for number in range(60)]
    rounds = _live(ON_THE_HOUR, _standing(), ticks)
    assert [(due.at.hour, sorted(due.digest_hours)) for due in rounds] == [(15, [7])]


def test_the_digest_of_a_day_that_is_over_is_not_caught_up() -> None:
    """Nobody needs yesterday's work: after three days there is one digest, today's."""
    wakes = datetime(2013, 3, 11, 2, 30, tzinfo=UTC)
    rounds = _live(ON_THE_HOUR, _standing(), [wakes])
    assert rounds[0].on == date(2013, 3, 10)
    assert rounds[0].digest_hours == {7}
    later = datetime(2013, 3, 11, 9, 30, tzinfo=UTC)  # 05:30 in New York, before the digest
    assert _live(ON_THE_HOUR, _standing(), [later])[0].digest_hours == frozenset()


def test_the_first_round_of_a_garden_runs_at_once_with_the_digest_of_the_day() -> None:
    """A newcomer does not wait for tomorrow."""
    now = datetime(2013, 3, 9, 15, 47, 12, tzinfo=UTC)
    due = ON_THE_HOUR.due(_standing(last=None), now, _nothing_done)
    assert due == Due(
        "a-garden", datetime(2013, 3, 9, 15, 45, tzinfo=UTC), date(2013, 3, 9), frozenset({7})
    )


def test_a_first_round_that_fails_is_not_run_every_minute() -> None:
    """The same quarter of an hour has one round."""
    done: set[datetime] = set()
    standing = _standing(last=None)
    found = []
    for now in _ticks(1 / 24):
        due = ON_THE_HOUR.due(standing, now, done.__contains__)
        if due:
            found.append(due)
            done.add(due.at)
    assert len(found) == 5


def test_a_clock_set_back_an_hour_runs_nothing_twice() -> None:
    """What was done stays done, and the next slot is run when it comes."""
    done: set[datetime] = set()
    first = _live(ON_THE_HOUR, _standing(), _ticks(0.5), done)
    standing = _standing(last=first[-1].at)
    again = [now - HOUR for now in _ticks(0.5)][-60:] + _ticks(1)[12 * 60 :]
    rounds = _live(ON_THE_HOUR, standing, again, done)
    moments = [due.at for due in (*first, *rounds)]
    assert len(set(moments)) == len(moments)
    assert moments[-1] == START + DAY


def test_a_clock_that_was_years_ahead_does_not_silence_a_garden() -> None:
    """A round kept for 2031 is known for a wrong one once the clock is right again."""
    wrong = datetime(2031, 1, 1, tzinfo=UTC)
    due = ON_THE_HOUR.due(_standing(last=wrong), START, {wrong}.__contains__)
    assert due is not None
    assert due.at == START


def test_gardens_are_spread_so_that_nobody_is_asked_by_all_at_once() -> None:
    """Offsets differ, stay below the spread, and gardens of one cell keep together."""
    table = Timetable()

    def minutes(cell: str, garden: str = "a-garden") -> int:
        standing = _standing(frozenset(), garden=garden, cell=cell)
        return _live(table, standing, _ticks(0.5))[0].at.minute

    found = {minutes(f"40.{number},-73.8") for number in range(20)}
    assert len(found) > 4
    assert max(found) < 10
    assert minutes("40.6,-73.8") == minutes("40.6,-73.8", "another-garden")


@given(
    st.lists(st.integers(1, 600), min_size=20, max_size=200),
    st.sampled_from(["America/New_York", "Australia/Lord_Howe", "Europe/Berlin", "Asia/Tokyo"]),
    st.frozensets(st.integers(0, 23), max_size=3),
    st.booleans(),
)
def test_whatever_the_ticks_no_round_is_doubled_and_no_digest_is(
    gaps: list[int], zone: str, hours: frozenset[int], watch: bool
) -> None:
    """Ticks at any distance: rounds go forward, each day's digest hour comes at most once."""
    now, ticks = START, []
    for gap in gaps:
        now += gap * MINUTE
        ticks.append(now)
    standing = replace(_standing(hours, watch=watch), zone=ZoneInfo(zone))
    rounds = _live(Timetable(), standing, ticks)
    moments = [due.at for due in rounds]
    assert moments == sorted(set(moments))
    told = [(due.on, hour) for due in rounds for hour in due.digest_hours]
    assert len(told) == len(set(told))


@given(
    st.sampled_from(["America/New_York", "Australia/Lord_Howe", "Africa/Cairo"]),
    st.integers(0, 23),
    st.dates(date(2010, 1, 1), date(2025, 1, 1)),
)
def test_a_service_that_never_sleeps_tells_every_day(zone: str, hour: int, day: date) -> None:
    """Ten days of ticks a quarter of an hour apart: ten digests, whatever the clocks do."""
    start = datetime.combine(day, time(), UTC)
    standing = Standing("a-garden", ZoneInfo(zone), frozenset({hour}), last=start)
    ticks = [start + number * 15 * MINUTE for number in range(1, 10 * 96 + 1)]
    rounds = _live(Timetable(), standing, ticks)
    days = [due.on for due in rounds if due.digest_hours]
    assert days == sorted(set(days))
    assert 9 <= len(days) <= 11
    gaps = {(later - sooner).days for sooner, later in itertools.pairwise(days)}
    assert gaps == {1}
