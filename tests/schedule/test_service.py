"""The service at work on a real database: what is due is done once, faults stay where they are."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from mebuki.errors import WeatherError
from mebuki.storage.acknowledgements import NoticeBook
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.garden_states import StateBook
from tests.schedule.benches import Stage, a_small_garden, a_stage

MORNING = datetime(2013, 3, 23, 11, 0, tzinfo=UTC)
"""07:00 in New York on the demo's day."""

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """Return a service over one small garden."""
    made = a_stage(tmp_path, MORNING, [a_small_garden()])
    yield made
    made.database.close()


def _rows(stage: Stage, query: str) -> list[tuple[Any, ...]]:
    assert stage.database.file is not None
    with closing(sqlite3.connect(stage.database.file)) as connection:
        return connection.execute(query).fetchall()


def _run_until(stage: Stage, end: datetime, every: timedelta = 15 * MINUTE) -> None:
    while stage.clock.now() < end:
        stage.clock.on(every)
        stage.service.run_due()


def test_what_is_due_is_done_once(stage: Stage) -> None:
    """A first tick runs the garden, a second one finds nothing."""
    assert stage.service.run_due() == {"done": 1}
    assert stage.service.run_due() == {}
    assert stage.heard.rounds == {"plan done": 1}
    assert stage.heard.gardens == ["garden-0000"]
    assert _rows(stage, "SELECT garden, outcome FROM rounds") == [("garden-0000", "done")]


def test_a_day_has_one_digest_however_often_the_garden_is_looked_at(stage: Stage) -> None:
    """Ticks a quarter of an hour apart over two days, each digest told once to each reader."""
    stage.service.run_due()
    _run_until(stage, MORNING + 50 * HOUR)
    digests = _rows(
        stage, "SELECT recipient, count(*) FROM outbox WHERE key LIKE '%digest%' GROUP BY 1"
    )
    assert digests
    assert {count for _, count in digests} == {3}


def test_weather_that_fails_is_told_and_the_round_is_kept(stage: Stage) -> None:
    """A provider that is down is no fault of the garden: readers hear that none can warn them."""
    stage.service.run_due()
    stage.weather.fails = WeatherError("no answer")
    _run_until(stage, MORNING + 4 * HOUR)
    assert stage.heard.rounds == {"plan done": 5}  # hourly while nothing can be seen
    blind = _rows(stage, "SELECT DISTINCT subject FROM outbox WHERE key LIKE '%blind%'")
    assert len(blind) == 1
    assert "cannot be seen" in blind[0][0]
    assert _rows(stage, "SELECT garden FROM garden_states WHERE blind") == [("garden-0000",)]


def test_a_poison_garden_among_a_hundred_stops_no_other(tmp_path: Path) -> None:
    """It is noted, its readers are told once a day, and it is tried again at the next slot."""
    site = a_small_garden().site
    gardens = [
        a_small_garden(
            number, site=site.model_copy(update={"name": "Poison" if number == 50 else "Fine"})
        )
        for number in range(100)
    ]
    gardens = [garden.model_copy(update={"trees": garden.trees[:1]}) for garden in gardens]
    stage = a_stage(tmp_path, MORNING, gardens, workers=1)
    stage.weather.poison = "Poison"
    assert stage.service.run_due() == {"done": 99, "failed": 1}
    assert stage.service.run_due() == {}
    faults = StateBook(stage.database).faults()
    assert faults == (("garden-0050", "ZeroDivisionError"),)
    told = _rows(
        stage, "SELECT count(*), count(DISTINCT recipient) FROM outbox WHERE key LIKE '%trouble%'"
    )
    people = len(a_small_garden().subscribers)
    assert told == [(people, people)]
    stage.clock.on(3 * HOUR)
    assert stage.service.run_due() == {"done": 99, "failed": 1}
    assert _rows(stage, "SELECT count(*) FROM outbox WHERE key LIKE '%trouble%'") == [(people,)]
    stage.weather.poison = ""
    stage.clock.on(3 * HOUR)
    assert stage.service.run_due() == {"done": 100}
    assert StateBook(stage.database).faults() == ()
    stage.database.close()


@pytest.mark.parametrize("fails_at", [0, 3])
def test_who_is_told_of_a_fault_can_look_at_it_and_is_not_woken(
    tmp_path: Path, fails_at: int
) -> None:
    """The page behind the link of the mail exists, before a first plan too; quiet hours hold."""
    garden = a_small_garden()
    sleeper = garden.subscribers[0].model_copy(update={"quiet_from": 22, "quiet_until": 12})
    garden = garden.model_copy(update={"subscribers": (sleeper, garden.subscribers[1])})
    stage = a_stage(tmp_path, MORNING, [garden], workers=1)
    for hour in range(0, fails_at + 1, 3):
        stage.weather.poison = garden.site.name if hour == fails_at else ""
        stage.service.run_due()
        stage.clock.on(3 * HOUR)
    (told,) = _rows(stage, "SELECT key, content FROM notices WHERE key LIKE 'trouble%'")
    notice = NoticeBook(stage.database).told(garden.id, str(told[0]))
    assert notice is not None
    assert "could not be worked on" in notice.subject
    held = _rows(
        stage,
        "SELECT recipient, not_before > put_at FROM outbox WHERE key LIKE '%trouble%' ORDER BY id",
    )
    assert held == [(sleeper.email, 1), (garden.subscribers[1].email, 0)]
    stage.weather.poison = ""
    assert stage.service.run_due() == {"done": 1}
    stage.database.close()


def test_a_round_that_kills_its_process_is_given_up_after_three_times(stage: Stage) -> None:
    """Begun and never finished: the fourth attempt is not made."""
    which = "INSERT INTO rounds VALUES ('plan', 'garden-0000', ?, ?, 3, NULL, '')"
    assert stage.database.file is not None
    with closing(sqlite3.connect(stage.database.file)) as connection:
        moment = f"{MORNING:%Y-%m-%dT%H:%M:%S.%fZ}"
        connection.execute(which, (moment, moment))
        connection.commit()
    assert stage.service.run_due() == {"failed": 1}
    stage.clock.on(15 * MINUTE)
    assert stage.service.run_due() == {"done": 1}


def test_a_database_that_is_locked_puts_the_round_off(tmp_path: Path) -> None:
    """The next tick does what this one could not; nothing is doubled."""
    stage = a_stage(tmp_path, MORNING, [a_small_garden()])
    stage.database._busy = 0.1
    assert stage.database.file is not None
    with closing(sqlite3.connect(stage.database.file, isolation_level=None)) as stranger:
        stage.database.close()
        stranger.execute("BEGIN IMMEDIATE")
        assert stage.service.run_due() == {"put off": 1}
        stranger.execute("ROLLBACK")
    assert stage.service.run_due() == {"done": 1}
    digests = _rows(stage, "SELECT count(*) FROM outbox GROUP BY key, recipient")
    assert set(digests) == {(1,)}
    stage.database.close()


def test_a_laptop_that_slept_catches_up_once(stage: Stage) -> None:
    """Two days asleep: one round, one digest, no mail of the days between."""
    stage.service.run_due()
    before = _rows(stage, "SELECT key FROM outbox")
    stage.clock.on(timedelta(days=2, hours=3, minutes=7))
    assert stage.service.run_due() == {"done": 1}
    assert stage.service.run_due() == {}
    new = {key for (key,) in _rows(stage, "SELECT key FROM outbox")} - {key for (key,) in before}
    assert {key.split(":")[2] for key in new if "digest" in key} == {"2013-03-25"}


def test_a_clock_that_was_ahead_and_is_set_right_silences_nothing(stage: Stage) -> None:
    """A round kept for next week does not stop this week's."""
    stage.clock.on(timedelta(days=7))
    assert stage.service.run_due() == {"done": 1}
    stage.clock.on(-timedelta(days=7))
    assert stage.service.run_due() == {"done": 1}
    kept = DatabaseAgendaStore(stage.database).load("garden-0000")
    assert kept.at == MORNING
    stage.clock.on(3 * HOUR)
    assert stage.service.run_due() == {"done": 1}


def test_a_stop_ends_after_the_garden_in_hand(tmp_path: Path) -> None:
    """Nothing new is begun; what was not run is still due."""
    stage = a_stage(tmp_path, MORNING, [a_small_garden(number) for number in range(3)])
    stage.service.stop()
    assert stage.service.run_due() == {}
    assert stage.service.do_chores() == ()
    stage.database.close()


def test_chores_are_done_once_a_day_even_after_a_long_sleep(tmp_path: Path) -> None:
    """A backup beside the database, checked, and a book that says so."""
    target = tmp_path / "backups" / "mebuki.db"
    stage = a_stage(tmp_path, MORNING, [a_small_garden()], backup_file=target)
    assert stage.service.do_chores() == ("tidy", "backup")
    assert stage.service.do_chores() == ()
    assert target.exists()
    stage.clock.on(timedelta(days=5))
    assert stage.service.do_chores() == ("tidy", "backup")
    assert target.with_name("mebuki.db.1").exists()
    stage.database.close()
