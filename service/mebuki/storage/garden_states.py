"""How each garden stands: its newest round, how far it can see, what went wrong last."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import sqlalchemy as sa

from mebuki.storage.database import Database
from mebuki.storage.keeper_tables import gardens, subscribers
from mebuki.storage.round_tables import agendas, garden_states
from mebuki.storage.upsert import put


@dataclass(frozen=True, slots=True)
class GardenState:
    """What a round found of a garden beside its plan.

    Parameters
    ----------
    measured_until, forecast_until
        How far its weather reaches (UTC); none where nothing is known.
    blind
        Whether the coming night cannot be seen.
    watch
        Whether it is looked at more often: a cold night is ahead, or it is blind.
    """

    garden: str
    at: datetime
    measured_until: datetime | None
    forecast_until: datetime | None
    blind: bool
    watch: bool


@dataclass(frozen=True, slots=True)
class GardenCard:
    """A garden as the schedule sees it, without its trees."""

    garden: str
    zone: ZoneInfo
    latitude: float
    longitude: float
    digest_hours: frozenset[int]
    last: datetime | None
    watch: bool


def put_state(connection: sa.Connection, state: GardenState) -> None:
    """Keep how a garden stands, within a transaction; an earlier fault is over."""
    row = {
        "garden": state.garden,
        "at": state.at,
        "measured_until": state.measured_until,
        "forecast_until": state.forecast_until,
        "blind": state.blind,
        "watch": state.watch,
        "fault": "",
    }
    put(connection, garden_states, [row])


class StateBook:
    """The states of all gardens of a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def cards(self) -> tuple[GardenCard, ...]:
        """Return every garden with what decides when it is looked at, by id."""
        query = (
            sa.select(
                gardens.c.id, gardens.c.time_zone, gardens.c.latitude, gardens.c.longitude,
                agendas.c.at, garden_states.c.watch,
            )
            .outerjoin(agendas, agendas.c.garden == gardens.c.id)
            .outerjoin(garden_states, garden_states.c.garden == gardens.c.id)
            .order_by(gardens.c.id)
        )  # fmt: skip
        hours: dict[str, set[int]] = defaultdict(set)
        with self._database.read() as connection:
            rows = connection.execute(query).all()
            pairs = sa.select(subscribers.c.garden_id, subscribers.c.digest_hour).distinct()
            for garden, hour in connection.execute(pairs):
                hours[garden].add(hour)
        return tuple(
            GardenCard(
                row.id, ZoneInfo(row.time_zone), row.latitude, row.longitude,
                frozenset(hours[row.id]), row.at, bool(row.watch),
            )
            for row in rows
        )  # fmt: skip

    def failed(self, garden: str, at: datetime, fault: str) -> None:
        """Note that a round of a garden failed; how far it could see stays as it was."""
        changed = (
            sa.update(garden_states).where(garden_states.c.garden == garden).values(fault=fault)
        )
        row = {
            "garden": garden, "at": at, "measured_until": None, "forecast_until": None,
            "blind": True, "watch": False, "fault": fault,
        }  # fmt: skip
        with self._database.write() as connection:
            if connection.execute(changed).rowcount == 0:
                put(connection, garden_states, [row])

    def measured_until(self) -> tuple[datetime | None, ...]:
        """Return how far measured weather reaches for each garden; none where it never came."""
        query = sa.select(garden_states.c.measured_until).select_from(
            gardens.outerjoin(garden_states, garden_states.c.garden == gardens.c.id)
        )
        with self._database.read() as connection:
            return tuple(connection.scalars(query))

    def faults(self) -> tuple[tuple[str, str], ...]:
        """Return the gardens whose last round failed, each with the reason."""
        query = (
            sa.select(garden_states.c.garden, garden_states.c.fault)
            .where(garden_states.c.fault != "")
            .order_by(garden_states.c.garden)
        )
        with self._database.read() as connection:
            return tuple((row.garden, row.fault) for row in connection.execute(query))
