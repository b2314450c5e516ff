"""Which rounds were done: one row for each round, garden and nominal moment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.storage.database import Database
from mebuki.storage.round_tables import rounds
from mebuki.storage.upsert import inserting


@dataclass(frozen=True, slots=True)
class RoundId:
    """The identity of a round: its kind (``plan``), its garden, its nominal moment (UTC)."""

    round: str
    garden: str
    nominal: datetime


class RoundBook:
    """The book of rounds of a database."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def begin(self, which: RoundId) -> bool:
        """Note that a round begins; False if it was finished before and must not run again.

        A round that was begun and cut short may be begun again.
        """
        with self._database.write() as connection:
            return begin_round(connection, which, self._clock.now())

    def finish(self, which: RoundId, outcome: str = "done") -> None:
        """Note that a round is finished; it is never run again."""
        with self._database.write() as connection:
            finish_round(connection, which, self._clock.now(), outcome)

    def done(self, which: RoundId) -> bool:
        """Whether a round was finished."""
        query = sa.select(rounds.c.finished_at).where(_is(which))
        with self._database.read() as connection:
            return connection.scalar(query) is not None

    def newest(self, round_: str, garden: str | None = None) -> datetime | None:
        """Return the newest nominal moment of a finished round of a kind, or none."""
        query = sa.select(sa.func.max(rounds.c.nominal)).where(
            rounds.c.round == round_, rounds.c.finished_at.is_not(None)
        )
        if garden is not None:
            query = query.where(rounds.c.garden == garden)
        with self._database.read() as connection:
            found: datetime | None = connection.scalar(query)
            return found


def begin_round(connection: sa.Connection, which: RoundId, at: datetime) -> bool:
    """Begin a round within a transaction; False if it was finished before."""
    insert = inserting(connection, rounds).values(
        round=which.round, garden=which.garden, nominal=which.nominal,
        begun_at=at, attempts=1, outcome="",
    )  # fmt: skip
    begun = insert.on_conflict_do_update(
        index_elements=[column.name for column in rounds.primary_key],
        set_={"begun_at": at, "attempts": rounds.c.attempts + 1},
        where=rounds.c.finished_at.is_(None),
    ).returning(rounds.c.attempts)
    return connection.execute(begun).first() is not None


def finish_round(connection: sa.Connection, which: RoundId, at: datetime, outcome: str) -> None:
    """Finish a round within a transaction."""
    connection.execute(sa.update(rounds).where(_is(which)).values(finished_at=at, outcome=outcome))


def _is(which: RoundId) -> sa.ColumnElement[bool]:
    return sa.and_(
        rounds.c.round == which.round,
        rounds.c.garden == which.garden,
        rounds.c.nominal == which.nominal,
    )
