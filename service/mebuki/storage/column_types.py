"""Column types that mean the same in SQLite's strict tables and in PostgreSQL.

SQLite's strict tables know integers, reals, texts and bytes alone; each type
here says how a value is held in them and gives back the Python value it was
given. Texts of days and moments are of fixed width, so that they sort and
compare as time does, and any other program can read them.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

from mebuki.errors import InputError

_SQLITE = "sqlite"


class Day(TypeDecorator[date]):
    """A local day: ``2013-03-27`` in SQLite, ``DATE`` in PostgreSQL."""

    impl = sa.Date
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the type that the database itself has."""
        return dialect.type_descriptor(sa.Text() if dialect.name == _SQLITE else sa.Date())

    def process_bind_param(self, value: date | None, dialect: Dialect) -> Any:
        """Return what is stored; a moment is no day and is refused."""
        if value is None:
            return None
        if isinstance(value, datetime) or not isinstance(value, date):
            msg = f"a day is a date, not {value!r}"
            raise TypeError(msg)
        return value.isoformat() if dialect.name == _SQLITE else value

    def process_result_value(self, value: Any, dialect: Dialect) -> date | None:
        """Return the day."""
        if value is None or isinstance(value, date):
            return value
        return date.fromisoformat(value)


class Moment(TypeDecorator[datetime]):
    """An aware moment, held in UTC to the microsecond.

    ``2013-03-27T11:00:00.000000Z`` in SQLite, ``TIMESTAMP WITH TIME ZONE`` in
    PostgreSQL. A moment without a zone is refused: nobody knows when it is.
    """

    impl = sa.DateTime
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the type that the database itself has."""
        own = sa.Text() if dialect.name == _SQLITE else sa.DateTime(timezone=True)
        return dialect.type_descriptor(own)

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Return what is stored."""
        if value is None:
            return None
        if value.tzinfo is None:
            msg = f"a moment needs a time zone: {value!r}"
            raise TypeError(msg)
        there = value.astimezone(UTC)
        if dialect.name != _SQLITE:
            return there
        return there.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Return the moment in UTC."""
        if value is None:
            return None
        if isinstance(value, datetime):
            return value.astimezone(UTC)
        return datetime.fromisoformat(value)


class Flag(TypeDecorator[bool]):
    """Yes or no: 1 or 0 in SQLite, ``BOOLEAN`` in PostgreSQL."""

    impl = sa.Boolean
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the type that the database itself has."""
        return dialect.type_descriptor(sa.Integer() if dialect.name == _SQLITE else sa.Boolean())

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:
        """Return what is stored; a number is no flag and is refused."""
        if value is not None and not isinstance(value, bool):
            msg = f"a flag is True or False, not {value!r}"
            raise TypeError(msg)
        return int(value) if value is not None and dialect.name == _SQLITE else value

    def process_result_value(self, value: Any, dialect: Dialect) -> bool | None:
        """Return True or False."""
        return None if value is None else bool(value)


NO = sa.literal(value=False, type_=Flag())
"""To compare a flag with, in the words of either database."""


class Json(TypeDecorator[Any]):
    """Any JSON value as ASCII text with sorted keys, in both databases.

    Not PostgreSQL's own type: that refuses NUL and half surrogates, which
    people's texts may hold, and does not give back the same bytes.
    """

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        """Return what is stored; NaN is no JSON and is refused."""
        return None if value is None else dumped(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:
        """Return the value."""
        return None if value is None else json.loads(value)


class Words(TypeDecorator[str]):
    """Text of people and programs, with what a database cannot hold refused."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """Return what is stored.

        Raises
        ------
        InputError
            If the text holds a NUL or half of a surrogate pair.
        """
        if value is None:
            return None
        try:
            value.encode()
        except UnicodeEncodeError as error:
            raise _refused(value) from error
        if "\x00" in value:
            raise _refused(value)
        return value


class Number(TypeDecorator[float]):
    """A real number in double precision."""

    impl = sa.Double
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the type that the database itself has."""
        return dialect.type_descriptor(sa.REAL() if dialect.name == _SQLITE else sa.Double())


def dumped(value: object) -> str:
    """Return a JSON value as the text under which it is stored: the same value, the same text."""
    return json.dumps(
        value, ensure_ascii=True, sort_keys=True, separators=(",", ":"), allow_nan=False
    )


def _refused(text: str) -> InputError:
    return InputError(f"{text!r} holds a sign that no database can keep as text")


YES = sa.literal(value=True, type_=Flag())
