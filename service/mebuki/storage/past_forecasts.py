"""What was forecast of each night, in the database.

Of a night and lead the forecast of the day's first round is kept: further rounds
of a day, and a round run again, change nothing, and all nights were forecast at
about the same hour, however often a garden is looked at when cold is near.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import sqlalchemy as sa

from mebuki.domain.lessons import NightForecast
from mebuki.storage.database import Database
from mebuki.storage.round_tables import night_forecasts
from mebuki.storage.upsert import add


class DatabasePastForecasts:
    """The forecasts of all gardens of a database; see `mebuki.rounds.ports.PastForecasts`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def remember(self, garden: str, forecasts: Sequence[NightForecast]) -> None:
        """Keep forecasts; of a night and lead the one kept first stays."""
        with self._database.write() as connection:
            put_forecasts(connection, garden, forecasts)

    def recall(self, garden: str, since: date) -> tuple[NightForecast, ...]:
        """Return the forecasts of nights that began on a day or later, by night and lead."""
        table = night_forecasts.c
        query = (
            sa.select(table.evening, table.lead_days, table.minimum, table.made_at)
            .where(table.garden == garden, table.evening >= since)
            .order_by(table.evening, table.lead_days)
        )
        with self._database.read() as connection:
            return tuple(NightForecast(*row) for row in connection.execute(query).all())

    def tidy(self, before: date) -> int:
        """Forget nights that began before a day; return how many forecasts went."""
        with self._database.write() as connection:
            gone = connection.execute(
                sa.delete(night_forecasts).where(night_forecasts.c.evening < before)
            )
        return gone.rowcount


def put_forecasts(
    connection: sa.Connection, garden: str, forecasts: Sequence[NightForecast]
) -> None:
    """Keep forecasts within a transaction; one of a night and lead that is there stays."""
    rows = [
        {
            "garden": garden,
            "evening": each.night,
            "lead_days": each.lead_days,
            "minimum": each.minimum,
            "made_at": each.made_at,
        }
        for each in forecasts
    ]
    add(connection, night_forecasts, rows)
