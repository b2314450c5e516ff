"""The feeds that readers have chosen: added, ended, given a new address, prepared anew.

A feed is a choice under a variant of its own; the secret address leads to the
variant. So an address that got about is replaced, and what its reader had
chosen stays.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from mebuki.agenda.changes import finished
from mebuki.agenda.done import done_keys
from mebuki.agenda.entry import Published
from mebuki.clock import Clock
from mebuki.domain.feed import WHOLE_FEED, FeedChoice
from mebuki.domain.garden import Garden
from mebuki.errors import InputError
from mebuki.rounds.cases import sound_garden
from mebuki.rounds.ports import CalendarWriter
from mebuki.rounds.prepare import Calendar, prepare_feeds
from mebuki.storage.agendas import load_agenda, save_agenda
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import (
    chosen_feeds,
    credits_of,
    issue_address,
    put_feeds,
    revoke_addresses,
)
from mebuki.storage.gardens import GardenStore
from mebuki.storage.round_tables import feed_addresses, feed_choices, feeds
from mebuki.storage.upsert import add


@dataclass(frozen=True, slots=True)
class HeldFeed:
    """A feed of somebody: what it holds, and since when."""

    variant: str
    holder: str
    choice: FeedChoice
    made_at: datetime


@dataclass(frozen=True, slots=True)
class NewFeed:
    """A feed just made, with the secret part of its address, which cannot be shown again."""

    variant: str
    token: str


class FeedBook:
    """The feeds of readers in a database.

    Parameters
    ----------
    writer
        Writes entries as bytes.
    kept_days
        Days for which a cancelled entry, or a task that is done, is shown.
    """

    def __init__(
        self, database: Database, clock: Clock, writer: CalendarWriter, kept_days: int
    ) -> None:
        self._database = database
        self._clock = clock
        self._writer = writer
        self._kept_days = kept_days
        self._gardens = GardenStore(database, clock)

    def held(self, garden: str) -> tuple[HeldFeed, ...]:
        """Return the feeds of a garden that have not ended, oldest first."""
        query = (
            sa.select(feed_choices)
            .where(feed_choices.c.garden == garden, feed_choices.c.ended_at.is_(None))
            .order_by(feed_choices.c.made_at, feed_choices.c.variant)
        )
        with self._database.read() as connection:
            return tuple(
                HeldFeed(
                    row.variant, row.holder, FeedChoice.model_validate(row.choice), row.made_at
                )
                for row in connection.execute(query)
            )

    def add(self, garden: str, holder: str, choice: FeedChoice) -> NewFeed:
        """Make a feed; it can be read at once, with what the newest round left.

        Raises
        ------
        InputError
            If there is no such garden, or it has no such place or tree.
        """
        known = self._gardens.load(garden)
        _check(known, choice)
        now, variant = self._clock.now(), secrets.token_hex(8)
        row = {
            "garden": garden,
            "variant": variant,
            "holder": holder,
            "choice": choice.model_dump(mode="json"),
            "made_at": now,
            "ended_at": None,
        }
        with self._database.write() as connection:
            add(connection, feed_choices, [row])
            token = issue_address(connection, (garden, variant), holder, now)
            self._prepare(connection, known, {variant: choice}, now)
        return NewFeed(variant, token)

    def revoke(self, garden: str, variant: str) -> None:
        """End a feed: its addresses say from now on that it is gone.

        Raises
        ------
        InputError
            If there is no such feed.
        """
        now = self._clock.now()
        with self._database.write() as connection:
            self._one(connection, garden, variant)
            revoke_addresses(connection, now, *_leading_to(garden, variant))
            this = (feed_choices.c.garden == garden, feed_choices.c.variant == variant)
            connection.execute(sa.update(feed_choices).where(*this).values(ended_at=now))
            its = (feeds.c.garden == garden, feeds.c.variant == variant)
            connection.execute(sa.delete(feeds).where(*its))

    def replace(self, garden: str, variant: str) -> NewFeed:
        """Give a feed a new address; the old one ends, and what the feed holds stays.

        Raises
        ------
        InputError
            If there is no such feed.
        """
        now = self._clock.now()
        with self._database.write() as connection:
            holder = self._one(connection, garden, variant)
            revoke_addresses(connection, now, *_leading_to(garden, variant))
            return NewFeed(variant, issue_address(connection, (garden, variant), holder, now))

    def refresh(self, garden: str) -> None:
        """Prepare all feeds of a garden anew between rounds.

        After a record, say: what is done leaves the calendar the next time it is
        fetched, and is ticked off in lists of tasks. Before the first round there
        is nothing to prepare, and no feed is made: an empty one would look like calm.
        """
        known = self._gardens.load(garden)
        now = self._clock.now()
        with self._database.write() as connection:
            choices = {WHOLE_FEED: FeedChoice()} | chosen_feeds(connection, garden)
            before = load_agenda(connection, garden)
            if before.at is None:
                return
            today = known.known_on(now.astimezone(known.site.zone).date())
            done = done_keys(before.entries, sound_garden(today))
            entries = finished(before.entries, done, now)
            save_agenda(connection, garden, Published(before.at, entries, before.notices))
            self._prepare(connection, known, choices, now)

    def _prepare(
        self,
        connection: sa.Connection,
        garden: Garden,
        choices: dict[str, FeedChoice],
        now: datetime,
    ) -> None:
        published = load_agenda(connection, garden.id)
        calendar = Calendar(
            garden,
            published.entries,
            published.at or now,
            self._kept_days,
            credits_of(connection, garden.id),
        )
        prepared = prepare_feeds(calendar, choices, self._writer)
        wanted = {variant: prepared[variant] for variant in choices}
        put_feeds(connection, garden.id, wanted, now)

    def _one(self, connection: sa.Connection, garden: str, variant: str) -> str:
        """Return who holds a feed that has not ended."""
        query = sa.select(feed_choices.c.holder).where(
            feed_choices.c.garden == garden,
            feed_choices.c.variant == variant,
            feed_choices.c.ended_at.is_(None),
        )
        holder: str | None = connection.scalar(query)
        if holder is None:
            msg = f"{variant}: the garden {garden} has no such feed; mebuki feeds list names them"
            raise InputError(msg)
        return holder


def _leading_to(garden: str, variant: str) -> tuple[sa.ColumnElement[bool], ...]:
    return feed_addresses.c.garden == garden, feed_addresses.c.variant == variant


def _check(garden: Garden, choice: FeedChoice) -> None:
    for what, chosen, known in (
        ("place", choice.places, {place.id for place in garden.places}),
        ("tree", choice.trees, {tree.id for tree in garden.trees}),
    ):
        unknown = sorted((chosen or frozenset()) - known)
        if unknown:
            allowed = ", ".join(sorted(known))
            msg = f"{unknown[0]}: the garden {garden.id} has no such {what}; it has {allowed}"
            raise InputError(msg)
