"""What the fault tests run in processes of their own, so that these can be killed."""

from __future__ import annotations

import resource
from dataclasses import replace
from datetime import datetime, timedelta
from multiprocessing.connection import Connection

from mebuki.clock import FixedClock
from mebuki.errors import FaultError
from mebuki.feeds.calendar import IcsWriter
from mebuki.mail.compose import MailWriter
from mebuki.rounds.planned import Plan
from mebuki.rounds.publish import Exits, publish
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.ledger import DatabaseLedger
from mebuki.storage.outbox import DatabaseOutbox
from tests.builders import AT
from tests.plans import a_notice, a_plan

_PLAN = a_plan(each=1)


def moment(number: int) -> datetime:
    """Return the nominal moment of a round by its number."""
    return AT + number * timedelta(hours=1)


def plan(number: int) -> Plan:
    """Return a plan with one new notice, every entry at a new revision."""
    at = moment(number)
    entries = tuple(replace(each, revision=number, changed=at) for each in _PLAN.entries)
    return replace(_PLAN, at=at, entries=entries, notices=(a_notice(key=f"frost:{number}:act"),))


def run_round(database: Database, number: int) -> None:
    """Publish one plan over the ledger, as a round does."""
    clock = FixedClock(moment(number))
    store = DatabaseAgendaStore(database)
    ways = Exits(
        store=store,
        calendar=IcsWriter("mebuki.invalid"),
        letters=MailWriter("mebuki@mebuki.invalid", "mebuki.invalid"),
        outbox=DatabaseOutbox(database, clock),
        shelf=DatabaseFeedShelf(database, clock),
        ledger=DatabaseLedger(database, clock),
    )
    publish(plan(number), store.load(_PLAN.garden.id), ways)


def write_rounds(file: str, first: int, tell: Connection) -> None:
    """Run rounds for ever and tell the number of each once it was acknowledged."""
    database = Database(file)
    number = first
    while True:
        run_round(database, number)
        tell.send(number)
        number += 1


def write_until_full(file: str, first: int, limit: int, tell: Connection) -> None:
    """Run rounds until no file may grow any more; tell each number, then the error."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    database = Database(file)
    number = first
    try:
        while True:
            run_round(database, number)
            tell.send(number)
            number += 1
    except FaultError as error:
        tell.send(str(error))
        tell.send(len(DatabaseAgendaStore(database).load(_PLAN.garden.id).notices))
