"""Weather as it was fetched: kept before it is used, with where it came from."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from mebuki.domain.weather import Provenance
from mebuki.errors import FaultError
from mebuki.storage.database import Database
from mebuki.storage.round_tables import snapshots
from mebuki.storage.upsert import add


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One validated answer of a provider for one grid cell.

    Parameters
    ----------
    cell
        The grid cell; sites in one cell share their snapshots.
    provenance
        Provider, what it is, span, run and fetch time; the fetch time is needed.
    content
        The answer as bytes, in whatever form its reader wants.
    """

    cell: str
    provenance: Provenance
    content: bytes


class SnapshotStore:
    """The snapshots of a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def put(self, snapshot: Snapshot) -> None:
        """Keep a snapshot; the same one again (cell, provider, what, fetch time) changes nothing.

        Raises
        ------
        ValueError
            If it does not say when it was fetched.
        """
        origin = snapshot.provenance
        if origin.fetched is None:
            msg = f"a snapshot of {origin.provider} must say when it was fetched"
            raise ValueError(msg)
        row = {
            "cell": snapshot.cell,
            "provider": origin.provider,
            "what": origin.what,
            "run_at": origin.run,
            "fetched_at": origin.fetched,
            "first_at": origin.first,
            "last_at": origin.last,
            "credit": origin.credit,
            "digest": _digest(snapshot.content),
            "content": snapshot.content,
        }
        with self._database.write() as connection:
            add(connection, snapshots, [row], unique=("cell", "provider", "what", "fetched_at"))

    def newest(
        self, cell: str, what: str, at: datetime, provider: str | None = None
    ) -> Snapshot | None:
        """Return the snapshot fetched last, up to a moment; None if there is none.

        Raises
        ------
        FaultError
            If its bytes are not those that were put.
        """
        query = (
            sa.select(snapshots)
            .where(
                snapshots.c.cell == cell,
                snapshots.c.what == what,
                snapshots.c.fetched_at <= at,
            )
            .order_by(snapshots.c.fetched_at.desc(), snapshots.c.id.desc())
            .limit(1)
        )
        if provider is not None:
            query = query.where(snapshots.c.provider == provider)
        with self._database.read() as connection:
            row = connection.execute(query).first()
        if row is None:
            return None
        if _digest(row.content) != row.digest:
            msg = f"the weather of {row.provider} fetched at {row.fetched_at} is damaged"
            raise FaultError(msg)
        origin = Provenance(
            row.provider, row.what, row.first_at, row.last_at,
            run=row.run_at, fetched=row.fetched_at, credit=row.credit,
        )  # fmt: skip
        return Snapshot(row.cell, origin, row.content)

    def tidy(self, before: datetime) -> int:
        """Remove what was fetched before a moment, but the newest of each kind; return how many."""
        newer = snapshots.alias("newer")
        superseded = (
            sa.select(newer.c.id)
            .where(
                *(newer.c[name] == snapshots.c[name] for name in ("cell", "provider", "what")),
                newer.c.fetched_at > snapshots.c.fetched_at,
            )
            .exists()
        )
        old = sa.delete(snapshots).where(snapshots.c.fetched_at < before, superseded)
        with self._database.write() as connection:
            return connection.execute(old).rowcount


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
