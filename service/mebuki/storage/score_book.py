"""How notices turned out, in the database: calls, and what the nights did.

What a round called in is kept in the transaction of the round, so that no notice is told
of which no call is kept. Nights are judged later, each once and as a whole; a round that
was cut before that leaves them to the rounds of the days after it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa

from mebuki.agenda.danger import notice_key
from mebuki.agenda.entry import NoticeStep
from mebuki.agenda.judged import Call, TreeNight
from mebuki.agenda.scored import Account, KeptCall
from mebuki.domain.garden import Garden
from mebuki.rounds.judging import OpenNight
from mebuki.storage.consents import address_key
from mebuki.storage.database import Database
from mebuki.storage.round_tables import outbox
from mebuki.storage.score_tables import frost_calls, frost_nights, frost_verdicts
from mebuki.storage.upsert import Row, add

REVISIONS = 10
"""Mails about one night that are looked through: a day has place for two."""


class ScoreBook:
    """The nights of the gardens of a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def open_nights(self, garden: str, since: date, before: date) -> tuple[OpenNight, ...]:
        """Return the nights to be judged that began from one day on and before another.

        From the first night that a round watched for: nights during which nothing ran
        are among them.
        """
        nights, calls = frost_nights.c, frost_calls.c
        known = sa.select(nights.evening, nights.judged_at).where(
            nights.garden == garden, nights.evening >= since, nights.evening < before
        )
        with self._database.read() as connection:
            found = {row.evening: row.judged_at for row in connection.execute(known)}
            days = _days(min(found), before) if found else ()
            missing = [day for day in days if found.get(day) is None]
            if not missing:
                return ()
            stood = (
                sa.select(calls.evening, calls.tree, calls.place)
                .where(calls.garden == garden, calls.evening.in_(missing))
                .order_by(calls.called_at.desc())
            )
            called: dict[date, dict[str, str]] = defaultdict(dict)
            for row in connection.execute(stood):
                called[row.evening][row.tree] = row.place
        return tuple(OpenNight(day, called[day]) for day in missing)

    def settle(
        self, garden: Garden, found: Mapping[date, Sequence[TreeNight]], at: datetime
    ) -> None:
        """Keep what nights did, by evening; a night that was judged before stays as it is.

        Parameters
        ----------
        garden
            With its readers.
        at
            The moment (UTC) of the round that judged.
        """
        if not found:
            return
        with self._database.write() as connection:
            for evening, nights in found.items():
                put_night(connection, garden.id, evening)
                if _closed(connection, garden.id, evening, at):
                    add(connection, frost_verdicts, [_row(garden.id, each) for each in nights])
                    _note_told(connection, garden, evening)

    def account(self, garden: str, first: date, last: date) -> Account:
        """Return what is kept of the nights that began from one day to another, both counted."""

        def within(table: sa.Table) -> sa.ColumnElement[bool]:
            column = table.c
            return sa.and_(column.garden == garden, column.evening.between(first, last))

        with self._database.read() as connection:
            nights = connection.execute(sa.select(frost_nights).where(within(frost_nights))).all()
            verdicts = connection.execute(
                sa.select(frost_verdicts)
                .where(within(frost_verdicts))
                .order_by(frost_verdicts.c.evening, frost_verdicts.c.tree)
            ).all()
            calls = connection.execute(
                sa.select(frost_calls)
                .where(within(frost_calls))
                .order_by(frost_calls.c.evening, frost_calls.c.level, frost_calls.c.tree)
            ).all()
        return Account(
            last,
            frozenset(row.evening for row in nights),
            frozenset(row.evening for row in nights if row.judged_at is not None),
            tuple(_night(row) for row in verdicts),
            tuple(_call(row) for row in calls),
        )

    def tidy(self, before: date) -> int:
        """Forget nights that began before a day; return how many."""
        with self._database.write() as connection:
            for table in (frost_calls, frost_verdicts):
                connection.execute(sa.delete(table).where(table.c.evening < before))
            gone = connection.execute(
                sa.delete(frost_nights).where(frost_nights.c.evening < before)
            )
        return gone.rowcount


def put_night(connection: sa.Connection, garden: str, evening: date) -> None:
    """Note within a transaction that a night was watched for."""
    add(connection, frost_nights, [{"garden": garden, "evening": evening, "judged_at": None}])


def put_calls(connection: sa.Connection, garden: Garden, calls: Iterable[Call]) -> None:
    """Keep calls within a transaction; of a night, level and tree the one kept first stays."""
    places = {tree.id: tree.place for tree in garden.trees}
    rows: list[Row] = [
        {
            "garden": garden.id,
            "evening": call.evening,
            "level": call.level,
            "tree": tree,
            "place": places[tree],
            "called_at": call.told_at,
            "mailed": False,
            "told_at": None,
        }
        for call in calls
        for tree in sorted(call.trees & places.keys())
    ]
    add(connection, frost_calls, rows)


def _days(first: date, before: date) -> Iterator[date]:
    return (first + timedelta(days=number) for number in range((before - first).days))


def _closed(connection: sa.Connection, garden: str, evening: date, at: datetime) -> bool:
    """Note that a night is judged; False if it was before."""
    night = frost_nights.c
    closing = (
        sa.update(frost_nights)
        .where(night.garden == garden, night.evening == evening, night.judged_at.is_(None))
        .values(judged_at=at)
    )
    return connection.execute(closing).rowcount == 1


def _note_told(connection: sa.Connection, garden: Garden, evening: date) -> None:
    """Note for the calls of a night which were mailed, and when the first mail was taken."""
    letters = _letters(connection, garden.id, evening)
    call = frost_calls.c
    mine = sa.and_(call.garden == garden.id, call.evening == evening)
    for row in connection.execute(sa.select(frost_calls).where(mine)).all() if letters else ():
        readers = {
            address_key(each.email)
            for each in garden.subscribers
            if each.notice_level == row.level and (not each.trees or row.tree in each.trees)
        }
        got = [
            each
            for each in letters
            if address_key(each.recipient) in readers and each.put_at >= row.called_at
        ]
        if got:
            told = min((each.sent_at for each in got if each.sent_at), default=None)
            which = sa.and_(mine, call.level == row.level, call.tree == row.tree)
            noted = sa.update(frost_calls).where(which).values(mailed=True, told_at=told)
            connection.execute(noted)


def _letters(connection: sa.Connection, garden: str, evening: date) -> list[sa.Row[Any]]:
    """Return the letters that called to act before a night, sent or not."""
    key = f"{garden}:{notice_key(evening, NoticeStep.ACT)}"
    query = sa.select(outbox.c.recipient, outbox.c.put_at, outbox.c.sent_at).where(
        outbox.c.key.in_([f"{key}:{revision}" for revision in range(REVISIONS)])
    )
    return list(connection.execute(query))


def _row(garden: str, night: TreeNight) -> Row:
    return {
        "garden": garden,
        "evening": night.evening,
        "tree": night.tree,
        "harmed": night.harmed,
        "lowest": night.lowest,
        "stands": night.limit,
        "coldest_at": night.coldest_at,
    }


def _night(row: sa.Row[Any]) -> TreeNight:
    return TreeNight(row.tree, row.evening, row.harmed, row.lowest, row.stands, row.coldest_at)


def _call(row: sa.Row[Any]) -> KeptCall:
    return KeptCall(row.level, row.evening, row.tree, row.called_at, row.mailed, row.told_at)
