"""Column types: what goes in comes out, in order, in both databases."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import InputError
from mebuki.storage.column_types import Day, Flag, Json, Moment, Number, Words
from mebuki.storage.database import Database

TABLE = sa.Table(
    "samples",
    sa.MetaData(),
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("day", Day),
    sa.Column("moment", Moment),
    sa.Column("flag", Flag),
    sa.Column("json", Json),
    sa.Column("words", Words),
    sa.Column("number", Number),
    sqlite_strict=True,
)
TOKYO = timezone(timedelta(hours=9))


@pytest.fixture
def samples(address: str) -> Iterator[Database]:
    """Return a database with one table of every type."""
    database = Database(address)
    with database.write() as connection:
        TABLE.metadata.create_all(connection)
    yield database
    database.close()


def _through(database: Database, **values: Any) -> dict[str, Any]:
    with database.write() as connection:
        connection.execute(sa.insert(TABLE), values)
        row = connection.execute(sa.select(TABLE).order_by(TABLE.c.id.desc())).first()
    assert row is not None
    return {name: row._mapping[name] for name in values}


@pytest.mark.parametrize(
    "values",
    [
        {"day": date(2024, 2, 29)},
        {"day": date(1, 1, 1)},
        {"day": date(9999, 12, 31)},
        {"moment": datetime(2013, 3, 27, 11, 0, 0, 1, UTC)},
        {"moment": datetime(987, 1, 1, tzinfo=UTC)},
        {"flag": True},
        {"flag": False},
        {"json": {"b": [1, 2.5, None, True], "a": "\x00 \ud800 é 🌱"}},
        {"json": []},
        {"words": "line\r\nline\t🌱 'quoted' \"twice\" \\"},
        {"words": ""},
        {"number": 0.1 + 0.2},
        {"number": -1e-300},
        {"number": 3.0},
        dict.fromkeys(("day", "moment", "flag", "json", "words", "number")),
    ],
    ids=str,
)
def test_what_goes_in_comes_out(samples: Database, values: dict[str, Any]) -> None:
    """The same value, of the same type."""
    found = _through(samples, **values)
    assert found == values
    assert [type(each) for each in found.values()] == [type(each) for each in values.values()]


def test_a_moment_of_another_zone_comes_back_in_utc(samples: Database) -> None:
    """The same instant."""
    moment = datetime(2013, 3, 27, 20, tzinfo=TOKYO)
    found = _through(samples, moment=moment)["moment"]
    assert found == moment
    assert found.utcoffset() == timedelta(0)


@pytest.mark.parametrize(
    "values",
    [
        {"day": datetime(2013, 3, 27, tzinfo=UTC)},
        {"day": "2013-03-27"},
        {"moment": datetime(2013, 3, 27)},  # noqa: DTZ001 - a moment without a zone is the point
        {"flag": 1},
        {"json": float("nan")},
        {"words": "a\x00b"},
        {"words": "\ud800"},
    ],
    ids=str,
)
def test_what_would_be_ambiguous_is_refused(samples: Database, values: dict[str, Any]) -> None:
    """Nothing is kept that would come back as something else."""
    with pytest.raises((sa.exc.StatementError, InputError, TypeError, ValueError)):
        _through(samples, **values)
    with samples.read() as connection:
        assert connection.execute(sa.select(TABLE)).all() == []


MOMENTS = st.datetimes(timezones=st.sampled_from([UTC, TOKYO])).filter(
    lambda moment: 2 < moment.year < 9998
)


@given(MOMENTS, MOMENTS)
def test_stored_moments_sort_as_time_does(one: datetime, other: datetime) -> None:
    """The texts in a SQLite file compare as the instants do."""
    dialect = sa.create_engine("sqlite://").dialect
    texts = [Moment().process_bind_param(each, dialect) for each in (one, other)]
    assert (texts[0] < texts[1]) == (one < other)
    assert Moment().process_result_value(texts[0], dialect) == one


def test_ranges_are_found(samples: Database) -> None:
    """Days and moments can be asked for by span."""
    with samples.write() as connection:
        connection.execute(
            sa.insert(TABLE),
            [
                {"day": date(2013, month, 1), "moment": datetime(2013, month, 1, tzinfo=UTC)}
                for month in range(1, 13)
            ],
        )
        spring = sa.select(sa.func.count()).where(
            TABLE.c.day.between(date(2013, 3, 1), date(2013, 5, 31)),
            TABLE.c.moment < datetime(2013, 5, 1, tzinfo=UTC),
        )
        assert connection.scalar(spring) == 2
        assert connection.scalar(sa.select(sa.func.max(TABLE.c.day))) == date(2013, 12, 1)
