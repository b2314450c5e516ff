"""A service in a process of its own, so that it can be killed while it works."""

from __future__ import annotations

import asyncio
from contextlib import closing
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from multiprocessing.connection import Connection
from pathlib import Path

from mebuki.bootstrap import demo_inputs
from mebuki.bootstrap.serving import Outside, make_service
from mebuki.domain.garden import Garden
from mebuki.mail.smtp import SmtpMailer
from mebuki.rounds.ports import Mailer
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.database import Database
from tests.fakes.clock import HandClock
from tests.schedule.benches import Heard, SwitchedSource, a_small_garden, settings_for

START = datetime(2013, 3, 20, 11, 0, tzinfo=UTC)
"""Where the trial begins: a week with frosts over freshly repotted trees."""

HOUR = timedelta(hours=1)


def the_garden() -> Garden:
    """Return the garden of the trials: small, with two readers."""
    garden = a_small_garden()
    people = tuple(each.model_copy(update={"digest_hour": 7}) for each in garden.subscribers)
    return garden.model_copy(update={"subscribers": people})


def mailer_for(port: int) -> Mailer:
    """Return a mailer to a server on loopback."""
    return SmtpMailer(host="127.0.0.1", port=port, security="plain")


def content_of(content: bytes) -> tuple[str, bytes]:
    """Return the identity of a message, and its bytes with one kind of line ends."""
    whole = content.replace(b"\r\n", b"\n").rstrip(b"\n")
    return str(message_from_bytes(content)["Message-ID"]), whole


def live(folder: str, port: int, tell: Connection | None, hours: int) -> None:
    """Run rounds an hour apart, from where the database stands, sending mail after each."""
    settings = settings_for(Path(folder), round_every_hours=1)
    with closing(Database(settings.database)) as database:
        clock, source = HandClock(START), SwitchedSource(demo_inputs().weather)
        outside = Outside(clock, source, mailer_for(port))
        service = make_service(settings, database, outside, Heard())
        store, garden = DatabaseAgendaStore(database), the_garden().id
        if tell is not None:
            tell.send("ready")
        while True:
            last = store.load(garden).at
            clock.moment = START if last is None else last + HOUR
            if clock.moment >= START + hours * HOUR:
                break
            service.run_due()
            asyncio.run(service.deliver_due())
            if tell is not None:
                tell.send("round")
        # what a kill left claimed is sent once its lease is over
        clock.moment += timedelta(hours=2)
        asyncio.run(service.deliver_due())
    if tell is not None:
        tell.send("end")
