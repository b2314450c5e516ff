"""What instruments saw: readings that are added, corrected by further rows, never changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite

import sqlalchemy as sa

from mebuki.clock import Clock
from mebuki.errors import InputError
from mebuki.storage.column_types import NO
from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import gardens, observations


@dataclass(frozen=True, slots=True)
class Observation:
    """One reading.

    Parameters
    ----------
    quantity
        What was measured, with its unit in the name: ``air_temperature_c``.
    at
        When it was so (aware).
    source
        The instrument or person.
    place, tree
        Ids of where; empty where it is of the whole garden.
    """

    quantity: str
    value: float
    at: datetime
    source: str
    place: str = ""
    tree: str = ""


@dataclass(frozen=True, slots=True)
class KeptObservation:
    """A reading that stands, under its number."""

    number: int
    observation: Observation


class ObservationBook:
    """The readings of all gardens of a database."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    def add(self, garden: str, seen: Sequence[Observation]) -> None:
        """Keep readings of a garden that is in the database.

        Raises
        ------
        InputError
            If there is no such garden, or a value is no number.
        """
        rows = [self._row(garden, each) for each in seen]
        with self._database.write() as connection:
            _known(connection, garden)
            if rows:
                connection.execute(sa.insert(observations), rows)

    def correct(self, number: int, value: float | None) -> None:
        """Put another value in the place of a reading, or take it back where there is none.

        Raises
        ------
        InputError
            If no such reading stands.
        """
        with self._database.write() as connection:
            row = connection.execute(_standing().where(observations.c.id == number)).first()
            if row is None:
                msg = f"there is no reading {number} that stands"
                raise InputError(msg)
            told = row.value if value is None else value
            fresh = self._row(row.garden_id, _observation(row))
            connection.execute(
                sa.insert(observations),
                {**fresh, "value": told, "corrects": number, "withdrawn": value is None},
            )

    def read(
        self, garden: str, quantity: str, since: datetime, until: datetime
    ) -> tuple[KeptObservation, ...]:
        """Return the readings that stand, from a moment up to another one, by time."""
        query = (
            _standing()
            .where(
                observations.c.garden_id == garden,
                observations.c.quantity == quantity,
                observations.c.at >= since,
                observations.c.at < until,
            )
            .order_by(observations.c.at, observations.c.id)
        )
        with self._database.read() as connection:
            return tuple(
                KeptObservation(row.id, _observation(row)) for row in connection.execute(query)
            )

    def _row(self, garden: str, seen: Observation) -> dict[str, object]:
        if not isfinite(seen.value):
            msg = f"{seen.quantity} at {seen.at}: a reading must be a number"
            raise InputError(msg)
        return {
            "garden_id": garden,
            "place_id": seen.place or None,
            "tree_id": seen.tree or None,
            "quantity": seen.quantity,
            "value": seen.value,
            "at": seen.at,
            "source": seen.source,
            "recorded_at": self._clock.now(),
            "corrects": None,
            "withdrawn": False,
        }


def _standing() -> sa.Select[tuple[object, ...]]:
    later = observations.alias("later")
    return (
        sa.select(observations)
        .outerjoin(later, later.c.corrects == observations.c.id)
        .where(observations.c.withdrawn == NO, later.c.id.is_(None))
    )


def _known(connection: sa.Connection, garden: str) -> None:
    if connection.scalar(sa.select(gardens.c.id).where(gardens.c.id == garden)) is None:
        msg = f"{garden}: there is no such garden in the database"
        raise InputError(msg)


def _observation(row: sa.Row[tuple[object, ...]]) -> Observation:
    return Observation(
        quantity=row.quantity,
        value=row.value,
        at=row.at,
        source=row.source,
        place=row.place_id or "",
        tree=row.tree_id or "",
    )
