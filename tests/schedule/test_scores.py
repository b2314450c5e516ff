"""A service judges its own warnings, held against the measured series read with pandas."""

from __future__ import annotations

import asyncio
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from mebuki.agenda.judged import TreeNight
from mebuki.agenda.scored import Account, level_records
from mebuki.domain.garden import Garden
from mebuki.rounds.planned import Plan
from mebuki.schedule import garden_round
from mebuki.storage.score_book import ScoreBook
from tests.builders import a_record, a_subscriber
from tests.fakes.mailer import FakeMailer, Killed
from tests.rounds.trials import STATIONS, bench
from tests.schedule.benches import Stage, a_stage

FIRST = date(2013, 3, 7)
"""The first evening; clocks go forward in the night of 9 March."""

DAYS = 26
DAY = timedelta(days=1)
MORNING = datetime(2013, 3, 7, 12, 5, tzinfo=UTC)
ALL_YEAR = (date(2013, 1, 1), date(2013, 12, 31))


def a_bench() -> Garden:
    """Return one elm repotted on 1 March, which stands no frost until 26 April, and a reader."""
    elm = bench().trees[0].model_copy(update={"records": (a_record("repotted", date(2013, 3, 1)),)})
    readers = (a_subscriber(name="Ada", email="ada@example.org"),)
    return bench().model_copy(update={"trees": (elm,), "subscribers": readers})


def begun(folder: Path) -> Stage:
    """Return a service that looks once a day, at the digest hour of 7 h."""
    every = {"round_every_hours": 0, "cold_round_every_hours": 0}
    return a_stage(folder, MORNING, [a_bench()], FakeMailer(), **every)


def go_on(stage: Stage, days: int) -> None:
    """Run a round and send its mail on each of some days."""
    for _ in range(days):
        assert stage.service.run_due() == {"done": 1}
        asyncio.run(stage.service.deliver_due())
        stage.clock.on(DAY)


def account_of(stage: Stage) -> Account:
    """Return what was kept."""
    return ScoreBook(stage.database).account(a_bench().id, *ALL_YEAR)


@dataclass
class Watched:
    """What a whole spell left, and the evenings of which a mail called to act."""

    account: Account
    mailed: set[date]


@pytest.fixture(scope="module")
def spell(tmp_path_factory: pytest.TempPathFactory) -> Watched:
    """Return March 2013 at JFK, watched from 7 March on."""
    stage = begun(tmp_path_factory.mktemp("spell"))
    go_on(stage, DAYS)
    with closing(sqlite3.connect(str(stage.database.file))) as connection:
        keys = connection.execute("SELECT key FROM outbox WHERE key LIKE '%:frost:%:act:%'")
        mailed = {date.fromisoformat(key.split(":")[2]) for (key,) in keys}
    watched = Watched(account_of(stage), mailed)
    stage.database.close()
    return watched


@pytest.fixture(scope="module")
def lows() -> dict[date, float]:
    """Return the lowest air temperature [°C] from 16 h to 10 h at JFK, read with pandas."""
    table = pd.read_csv(STATIONS["JFK"], comment="#", parse_dates=["time_utc"])
    local = table.set_index("time_utc")["temp_c"].tz_convert("America/New_York")
    found = {}
    for number in range(DAYS):
        day = FIRST + number * DAY
        begins = pd.Timestamp(day.isoformat() + " 16:00", tz="America/New_York")
        ends = pd.Timestamp((day + DAY).isoformat() + " 10:00", tz="America/New_York")
        found[day] = float(local.loc[begins:ends].min())
    return found


def test_every_night_is_judged_as_the_measured_series_says(
    spell: Watched, lows: dict[date, float]
) -> None:
    """Fresh roots stand 0 °C (practice file): minimum by pandas at or below it, or not.

    A round at 7 h sees the night before last to its end; so the last two are open.
    """
    expected = {day: low for day, low in lows.items() if day < FIRST + (DAYS - 2) * DAY}
    found = {night.evening: night for night in spell.account.nights}
    assert found.keys() == expected.keys() == spell.account.judged
    assert {day: night.harmed for day, night in found.items()} == {
        day: low <= 0.0 for day, low in expected.items()
    }
    assert {night.lowest for night in found.values()} == set(expected.values())
    assert sum(night.harmed for night in found.values()) >= 5


def test_the_night_when_clocks_go_forward_is_judged_by_its_own_minimum(
    spell: Watched, lows: dict[date, float]
) -> None:
    """From 16 h standard time to 10 h summer time, 18 hours."""
    (night,) = [each for each in spell.account.nights if each.evening == date(2013, 3, 9)]
    assert night.lowest == lows[date(2013, 3, 9)]


def test_pod_and_far_follow_from_mails_and_minima_alone(
    spell: Watched, lows: dict[date, float]
) -> None:
    """Counted from the keys in the outbox and the lows of pandas, no verdict of ours."""
    judged = [day for day in lows if day < FIRST + (DAYS - 2) * DAY]
    cold = {day for day in judged if lows[day] <= 0.0}
    called = spell.mailed & set(judged)
    record = next(each for each in level_records(spell.account) if each.level == "balanced")
    assert (record.harmful, record.warned) == (len(cold), len(cold & called))
    assert (record.calls, record.vain) == (len(called), len(called - cold))
    assert record.table.pod == pytest.approx(len(cold & called) / len(cold))
    assert record.table.far == pytest.approx(len(called - cold) / len(called))
    assert record.mailed == record.calls
    assert record.unsent == 0


def test_levels_without_readers_show_what_they_would_have_meant(spell: Watched) -> None:
    """The more cautious, the more nights with a call; only the balanced had mails."""
    cautious, balanced, few = level_records(spell.account)
    assert few.calls <= balanced.calls <= cautious.calls
    assert few.calls > 0
    assert (cautious.mailed, few.mailed) == (0, 0)


def test_a_round_that_is_cut_before_it_judges_loses_nothing(
    spell: Watched, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed on three mornings between telling and judging: the fourth judges all of it."""
    stage = begun(tmp_path)
    go_on(stage, 2)

    def die(*_: object) -> None:
        raise Killed

    with monkeypatch.context() as patched:
        patched.setattr(garden_round, "verdicts", die)
        for _ in range(3):
            with pytest.raises(Killed):
                stage.service.run_due()
            assert stage.service.run_due() == {}
            asyncio.run(stage.service.deliver_due())
            stage.clock.on(DAY)
        assert len(account_of(stage).judged) == 0
    go_on(stage, 1)
    found = account_of(stage)
    last = max(found.judged)
    assert last == FIRST + 3 * DAY
    assert found.nights == tuple(n for n in spell.account.nights if n.evening <= last)
    calls = [each for each in found.calls if each.evening <= last]
    assert calls == [each for each in spell.account.calls if each.evening <= last]
    stage.database.close()


def test_a_fault_in_judging_keeps_no_warning_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The round is done and its letters are out; a later round judges."""
    stage = begun(tmp_path)
    go_on(stage, 2)

    def break_down(_: Plan, __: object) -> dict[date, tuple[TreeNight, ...]]:
        msg = "a bug that nobody foresaw"
        raise ZeroDivisionError(msg)

    with monkeypatch.context() as patched:
        patched.setattr(garden_round, "verdicts", break_down)
        go_on(stage, 1)
    assert "are not judged" in caplog.text
    assert account_of(stage).judged == frozenset()
    go_on(stage, 1)
    assert account_of(stage).judged == {FIRST, FIRST + DAY}
    stage.database.close()


def test_days_on_which_nothing_ran_are_judged_as_well(
    tmp_path: Path, lows: dict[date, float]
) -> None:
    """Three days away: what came in these nights was told to nobody, and counts."""
    stage = begun(tmp_path)
    stage.clock.on(4 * DAY)
    go_on(stage, 1)
    stage.clock.on(3 * DAY)
    go_on(stage, 1)
    found = account_of(stage)
    away = [FIRST + number * DAY for number in (4, 5, 6)]
    assert found.judged == set(away)
    assert {n.evening for n in found.nights if n.harmed} == {d for d in away if lows[d] <= 0.0}
    stage.database.close()
