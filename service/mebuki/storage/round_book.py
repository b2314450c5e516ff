"""Which rounds were done: one row for each round, garden and nominal moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.storage.database import Database
from mebuki.storage.round_tables import rounds
from mebuki.storage.upsert import inserting

PLAN: Final = "plan"
"""The kind of the rounds that look, plan and publish for one garden."""


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
        return self.attempt(which) is not None

    def attempt(self, which: RoundId) -> int | None:
        """Note that a round begins, as `begin` does; return how often it was begun by now."""
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

    def finished(self, round_: str, since: datetime) -> Mapping[str, frozenset[datetime]]:
        """Return the nominal moments of the finished rounds of a kind from a moment on, by garden.

        Those that failed are among them: a round is run once.
        """
        query = sa.select(rounds.c.garden, rounds.c.nominal).where(
            rounds.c.round == round_, rounds.c.nominal >= since, rounds.c.finished_at.is_not(None)
        )
        found: dict[str, set[datetime]] = defaultdict(set)
        with self._database.read() as connection:
            for garden, nominal in connection.execute(query):
                found[garden].add(nominal)
        return {garden: frozenset(moments) for garden, moments in found.items()}

    def outcomes(self, since: datetime) -> Mapping[str, tuple[datetime | None, int, int]]:
        """Return for each kind of round: the newest end, how many were done, how many failed."""
        failed = rounds.c.outcome.startswith("failed")
        query = (
            sa.select(
                rounds.c.round,
                sa.func.max(rounds.c.finished_at),
                sa.func.count().filter(~failed),
                sa.func.count().filter(failed),
            )
            .where(rounds.c.finished_at >= since)
            .group_by(rounds.c.round)
        )
        with self._database.read() as connection:
            return {kind: (at, done, bad) for kind, at, done, bad in connection.execute(query)}

    def tidy(self, before: datetime) -> int:
        """Forget rounds of before a moment; return how many."""
        old = sa.delete(rounds).where(rounds.c.nominal < before)
        with self._database.write() as connection:
            return connection.execute(old).rowcount


def begin_round(connection: sa.Connection, which: RoundId, at: datetime) -> int | None:
    """Begin a round within a transaction; return the attempt, or none if it was finished before."""
    insert = inserting(connection, rounds).values(
        round=which.round, garden=which.garden, nominal=which.nominal,
        begun_at=at, attempts=1, outcome="",
    )  # fmt: skip
    begun = insert.on_conflict_do_update(
        index_elements=[column.name for column in rounds.primary_key],
        set_={"begun_at": at, "attempts": rounds.c.attempts + 1},
        where=rounds.c.finished_at.is_(None),
    ).returning(rounds.c.attempts)
    found: int | None = connection.execute(begun).scalar()
    return found


def finish_round(connection: sa.Connection, which: RoundId, at: datetime, outcome: str) -> None:
    """Finish a round within a transaction."""
    connection.execute(sa.update(rounds).where(_is(which)).values(finished_at=at, outcome=outcome))


def _is(which: RoundId) -> sa.ColumnElement[bool]:
    return sa.and_(
        rounds.c.round == which.round,
        rounds.c.garden == which.garden,
        rounds.c.nominal == which.nominal,
    )
