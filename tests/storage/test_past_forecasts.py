"""What was forecast of each night: kept once, in file, memory and database alike."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from mebuki.domain.lessons import NightForecast
from mebuki.errors import InputError
from mebuki.rounds.forecast_memory import ForecastMemory
from mebuki.rounds.ports import PastForecasts
from mebuki.storage.database import Database
from mebuki.storage.forecast_file import ForecastFile
from mebuki.storage.past_forecasts import DatabasePastForecasts
from tests.builders import AT

NIGHT = date(2013, 3, 27)
DAY = timedelta(days=1)


def a_forecast(ahead: int = 0, minimum: float = -1.2345678901234567) -> NightForecast:
    """Return a forecast of a night so many days ahead."""
    return NightForecast(NIGHT + ahead * DAY, ahead, minimum, AT)


@pytest.fixture(params=["file", "memory", "sqlite", "postgresql"])
def past(request: pytest.FixtureRequest, tmp_path: Path) -> PastForecasts:
    """Return each of the stores, empty."""
    if request.param == "file":
        return ForecastFile(tmp_path)
    if request.param == "memory":
        return ForecastMemory()
    name = "sqlite" if request.param == "sqlite" else "emptied_server"
    return DatabasePastForecasts(request.getfixturevalue(name))


@pytest.fixture
def emptied_server(shared_server: Database) -> Database:
    """Return the PostgreSQL database without forecasts."""
    DatabasePastForecasts(shared_server).tidy(date.max)
    return shared_server


def test_what_is_remembered_is_recalled_by_garden_and_night(past: PastForecasts) -> None:
    """To the last bit, by night and lead, from a day on; nothing of other gardens."""
    assert list(past.recall("home", NIGHT)) == []
    past.remember("home", [a_forecast(2), a_forecast(0), a_forecast(1)])
    past.remember("away", [a_forecast(0, 9.0)])
    assert list(past.recall("home", NIGHT)) == [a_forecast(0), a_forecast(1), a_forecast(2)]
    assert list(past.recall("home", NIGHT + DAY)) == [a_forecast(1), a_forecast(2)]
    assert list(past.recall("away", date(2000, 1, 1))) == [a_forecast(0, 9.0)]


def test_of_a_night_and_lead_the_first_stays(past: PastForecasts) -> None:
    """A round run again, or a later one of the day, changes nothing and adds what is new."""
    past.remember("home", [a_forecast(0)])
    later = replace(a_forecast(0, 5.0), made_at=AT + timedelta(hours=3))
    past.remember("home", [later, a_forecast(1)])
    past.remember("home", [later, a_forecast(1)])
    past.remember("home", [])
    assert list(past.recall("home", NIGHT)) == [a_forecast(0), a_forecast(1)]


def test_old_nights_leave_the_database(sqlite: Database) -> None:
    """Those that began before a day, of all gardens."""
    past = DatabasePastForecasts(sqlite)
    past.remember("home", [a_forecast(0), a_forecast(1)])
    past.remember("away", [a_forecast(0)])
    assert past.tidy(NIGHT + DAY) == 2
    assert past.recall("home", NIGHT) == (a_forecast(1),)


def test_a_file_is_not_written_where_nothing_is_new_and_forgets_old_nights(tmp_path: Path) -> None:
    """The same bytes and the same file; nights of more than a hundred days ago are let go."""
    store = ForecastFile(tmp_path)
    store.remember("home", [a_forecast(0)])
    before = store.path("home").stat()
    store.remember("home", [a_forecast(0, 7.0)])
    assert store.path("home").stat().st_mtime_ns == before.st_mtime_ns
    assert store.path("home").stat().st_ino == before.st_ino
    store.remember("home", [replace(a_forecast(0), night=NIGHT + 101 * DAY)])
    assert [each.night for each in store.recall("home", NIGHT)] == [NIGHT + 101 * DAY]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ("", "broken"),
        ("{}", "broken"),
        (json.dumps({"schema": 1, "garden": "home", "forecasts": [{"night": "x"}]}), "broken"),
        (json.dumps({"schema": 2, "garden": "home"}), "newer Mebuki"),
        (json.dumps({"schema": 1, "garden": "away", "forecasts": []}), "not that of the garden"),
    ],
)
def test_a_file_that_cannot_be_used_is_named_with_the_reason(
    content: str, reason: str, tmp_path: Path
) -> None:
    """Broken, of another garden, or of a newer program; it is left as it is."""
    store = ForecastFile(tmp_path)
    store.path("home").write_text(content, encoding="utf-8")
    for attempt in (
        lambda: store.recall("home", NIGHT),
        lambda: store.remember("home", [a_forecast()]),
    ):
        with pytest.raises(InputError, match=reason):
            attempt()
    assert store.path("home").read_text(encoding="utf-8") == content


def test_a_garden_id_that_is_none_is_refused(tmp_path: Path) -> None:
    """It could name a file elsewhere."""
    with pytest.raises(InputError, match="not a garden id"):
        ForecastFile(tmp_path).path("../home")
