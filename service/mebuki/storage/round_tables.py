"""Tables of what rounds leave behind.

They name their garden by id alone, so that rounds also run for a garden that is
kept in a file.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from mebuki.storage.column_types import Day, Flag, Json, Moment, Number, Words
from mebuki.storage.columns import maybe, needed, number_key, table

snapshots = table(
    "snapshots",
    number_key(),
    needed("cell", Words),
    needed("provider", Words),
    needed("what", Words),
    maybe("run_at", Moment),
    needed("fetched_at", Moment),
    needed("first_at", Moment),
    needed("last_at", Moment),
    needed("credit", Words),
    needed("digest", Words),
    needed("content", sa.LargeBinary),
    sa.UniqueConstraint("cell", "provider", "what", "fetched_at"),
)

agendas = table(
    "agendas",
    needed("garden", Words, key=True),
    maybe("at", Moment),
)


def _agenda_key() -> sa.Column[Any]:
    return needed("garden", Words, sa.ForeignKey("agendas.garden", ondelete="CASCADE"), key=True)


entries = table(
    "entries",
    _agenda_key(),
    needed("uid", Words, key=True),
    maybe("position", sa.Integer),
    needed("revision", sa.Integer),
    needed("digest", Words),
)
"""The newest revision of each entry; without a position it is no longer shown."""

entry_revisions = table(
    "entry_revisions",
    needed("garden", Words, key=True),
    needed("uid", Words, key=True),
    needed("revision", sa.Integer, key=True),
    needed("digest", Words, key=True),
    needed("changed", Moment),
    needed("kind", Words),
    needed("status", Words),
    needed("content", Json),
    sa.ForeignKeyConstraint(
        ["garden", "uid"], ["entries.garden", "entries.uid"], ondelete="CASCADE"
    ),
)
"""Every revision that was ever shown, word for word."""

notices = table(
    "notices",
    _agenda_key(),
    needed("key", Words, key=True),
    maybe("position", sa.Integer),
    maybe("told_at", Moment),
    maybe("content", Json),
)

advice = table(
    "advice",
    needed("garden", Words, key=True),
    needed("tree", Words, key=True),
    needed("kind", Words, key=True),
    needed("action", Words, key=True),
    needed("cycle", Words, key=True),
    needed("first_at", Moment),
    needed("last_at", Moment),
    needed("content", Json),
)

predictions = table(
    "predictions",
    needed("garden", Words, key=True),
    needed("tree", Words, key=True),
    needed("made_on", Day, key=True),
    needed("at", Moment),
    needed("parameters", Words),
    needed("content", Json),
)

outbox = table(
    "outbox",
    number_key(),
    needed("key", Words),
    needed("recipient", Words),
    needed("message_id", Words),
    needed("subject", Words),
    needed("content", sa.LargeBinary),
    needed("put_at", Moment),
    needed("not_before", Moment),
    needed("attempts", sa.Integer),
    maybe("lease_until", Moment),
    maybe("sent_at", Moment),
    maybe("given_up_at", Moment),
    needed("last_error", Words),
    maybe("useful_until", Moment),
    maybe("garden", Words),
    maybe("kind", Words),
    sa.UniqueConstraint("key", "recipient"),
)
sa.Index(
    "ix_outbox_waiting", outbox.c.not_before,
    sqlite_where=outbox.c.sent_at.is_(None), postgresql_where=outbox.c.sent_at.is_(None),
)  # fmt: skip
sa.Index(
    "ix_outbox_given_up", outbox.c.garden, outbox.c.given_up_at,
    sqlite_where=outbox.c.given_up_at.is_not(None),
    postgresql_where=outbox.c.given_up_at.is_not(None),
)  # fmt: skip

bounces = table(
    "bounces",
    needed("address", Words, key=True),
    needed("times", sa.Integer),
    needed("days", sa.Integer),
    needed("first_at", Moment),
    needed("last_at", Moment),
    needed("last_reply", Words),
    needed("gone", Flag),
)
"""Addresses that mail servers refused for good; ``gone`` where a server said there is no such."""

feeds = table(
    "feeds",
    needed("garden", Words, key=True),
    needed("variant", Words, key=True),
    needed("etag", Words),
    needed("content", sa.LargeBinary),
    needed("changed_at", Moment),
)

feed_addresses = table(
    "feed_addresses",
    needed("token_hash", Words, key=True),
    needed("garden", Words),
    needed("variant", Words),
    needed("holder", Words),
    needed("issued_at", Moment),
    maybe("revoked_at", Moment),
)

feed_choices = table(
    "feed_choices",
    needed("garden", Words, key=True),
    needed("variant", Words, key=True),
    needed("holder", Words),
    needed("choice", Json),
    needed("made_at", Moment),
    maybe("ended_at", Moment),
)
"""What each feed of a reader holds; addresses lead to it and may be replaced."""

feed_credits = table(
    "feed_credits",
    needed("garden", Words, key=True),
    needed("credits", Json),
)
"""Whom the weather of a garden's newest round is owed to, for feeds made between rounds."""

rounds = table(
    "rounds",
    needed("round", Words, key=True),
    needed("garden", Words, key=True),
    needed("nominal", Moment, key=True),
    needed("begun_at", Moment),
    needed("attempts", sa.Integer),
    maybe("finished_at", Moment),
    needed("outcome", Words),
)

garden_states = table(
    "garden_states",
    needed("garden", Words, key=True),
    needed("at", Moment),
    maybe("measured_until", Moment),
    maybe("forecast_until", Moment),
    needed("blind", Flag),
    needed("watch", Flag),
    needed("fault", Words),
)
"""How each garden stood after its newest round, for the schedule and for those who watch."""

night_forecasts = table(
    "night_forecasts",
    needed("garden", Words, key=True),
    needed("evening", Day, key=True),
    needed("lead_days", sa.Integer, key=True),
    needed("minimum", Number),
    needed("made_at", Moment),
)
"""What providers said of each night, the first of each lead; see `past_forecasts`."""
