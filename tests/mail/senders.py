"""What the tests of sending run in processes of their own, so that these can be killed."""

from __future__ import annotations

import asyncio
from contextlib import closing
from datetime import datetime
from multiprocessing.connection import Connection

from mebuki.clock import FixedClock
from mebuki.mail.smtp import SmtpMailer
from mebuki.rounds.deliver import Terms, deliver
from mebuki.storage.database import Database
from mebuki.storage.outbox import DatabaseOutbox

HANDS = 2


def message(number: int) -> bytes:
    """Return the bytes of a message."""
    head = f"Message-ID: <{number}@x>\r\nFrom: mebuki@garden.example\r\nSubject: Frost\r\n\r\n"
    return f"{head}Bring in tree {number}.\r\n".encode()


def a_way(port: int) -> SmtpMailer:
    """Return a way to a server on loopback."""
    return SmtpMailer(
        host="127.0.0.1", port=port, security="plain", sender="mebuki@garden.example",
        timeout_seconds=5,
    )  # fmt: skip


def send_for_ever(file: str, port: int, at: datetime, tell: Connection) -> None:
    """Deliver what is due until killed."""
    clock = FixedClock(at)
    with closing(Database(file)) as database:
        post = DatabaseOutbox(database, clock)
        tell.send("ready")
        while True:
            asyncio.run(deliver(post, a_way(port), clock, Terms(hands=HANDS)))
