"""A desk for links over a database with one garden, one notice, and readers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

import sqlalchemy as sa
from starlette.testclient import TestClient

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep, Published
from mebuki.agenda.judged import Call, TreeNight
from mebuki.clock import FixedClock
from mebuki.domain.advice import CareKind
from mebuki.domain.garden import Garden, Subscriber
from mebuki.mail.links import SignedLinks, Signer
from mebuki.storage.agendas import save_agenda
from mebuki.storage.consents import Consents
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from mebuki.storage.schema import metadata
from mebuki.storage.score_book import ScoreBook, put_calls
from mebuki.web.feed_cache import FeedCache
from mebuki.web.links_desk import LinkDesk
from mebuki.web.links_routes import link_routes
from mebuki.web.metrics import Metrics
from mebuki.web.service_app import WebParts, service_app
from tests.builders import AT, a_garden, a_subscriber, a_tree
from tests.web.healths import a_health

BASE = "https://trees.example.org"
KEY = "a key that is known to tests alone"
READER = a_subscriber(name="Ada", email="ada@example.org")


def a_notice(**changes: object) -> Notice:
    """Return a call to act for two of the garden's three trees."""
    start: dict[str, object] = {
        "key": "frost:2013-04-02:act",
        "thread": "frost:2013-04-02",
        "step": NoticeStep.ACT,
        "kind": CareKind.FROST,
        "subject": "Frost −3 °C tonight: bring in 2 trees",
        "lead": "Lowest −3.2 °C about 05:00; act before dark.",
        "lines": (
            NoticeLine("Bench", "Bring in before dark.", ("Maple", "Pine"), ("maple", "pine")),
        ),
        "facts": (("Lowest air temperature", "−3.2 °C ± 1.6"),),
        "cautions": ("Do not water frozen pots.",),
        "at": AT,
    }
    return Notice(**{**start, **changes})  # type: ignore[arg-type] # fields by name


@dataclass
class Moving:
    """A clock that a test sets, and seconds that run with it."""

    moment: datetime = AT

    def now(self) -> datetime:
        """Return the moment."""
        return self.moment

    def ticks(self) -> float:
        """Return seconds."""
        return self.moment.timestamp()


@dataclass
class Linked:
    """A service with links, and what stands behind them."""

    database: Database
    garden: Garden
    notice: Notice
    clock: Moving
    signer: Signer
    links: SignedLinks
    consents: Consents
    client: TestClient

    @property
    def store(self) -> GardenStore:
        """The gardens."""
        return GardenStore(self.database, self.clock)

    def path(self, address: str) -> str:
        """Return the path of a link."""
        return urlsplit(address).path

    def link(self, name: str, reader: Subscriber = READER, kind: str = "") -> str:
        """Return the path of a link of a reader by its purpose."""
        if name == "leave":
            return self.path(self.links.leave(self.garden, reader, kind))
        if name == "confirm":
            return self.path(self.links.confirm(self.garden, reader, self.clock.now()))
        return self.path(getattr(self.links, name)(self.garden, self.notice, reader))

    def rows(self) -> dict[str, list[tuple[object, ...]]]:
        """Return every row of every table."""
        with self.database.read() as connection:
            return {
                name: [tuple(row) for row in connection.execute(sa.select(table))]
                for name, table in metadata.tables.items()
            }


@contextmanager
def linked(
    folder: Path, garden: Garden | None = None, notice: Notice | None = None
) -> Iterator[Linked]:
    """Give a service over a new database; its clock stands where the test puts it."""
    garden = garden or a_garden(
        [a_tree("Maple"), a_tree("Pine"), a_tree("Elm")],
        subscribers=(READER, a_subscriber(name="Ben", email="ben@example.org")),
    )
    notice = notice or a_notice()
    clock = Moving()
    database = open_database(folder / "mebuki.db")
    GardenStore(database, FixedClock(AT)).save(garden)
    with database.write() as connection:
        published = Published(at=AT, entries=(), notices=(notice.told,))
        save_agenda(connection, garden.id, published, [notice])
    signer = Signer(KEY)
    desk = LinkDesk(database, signer, clock)
    cache = FeedCache(DatabaseFeedShelf(database, clock))
    routes = link_routes(desk, clock.ticks)
    app = service_app(WebParts(cache, a_health, Metrics().render, routes=routes))
    client = TestClient(app, raise_server_exceptions=False, follow_redirects=False)
    try:
        links = SignedLinks(BASE, signer)
        consents = Consents(database)
        yield Linked(database, garden, notice, clock, signer, links, consents, client)
    finally:
        cache.close()
        database.close()


def keep_a_spell(service: Linked) -> None:
    """Keep ten judged nights: three harm, and two of these and two others have a call."""
    book, garden = ScoreBook(service.database), service.garden
    today = service.clock.moment.astimezone(garden.site.zone).date()
    for number in range(10):
        evening = today - timedelta(days=12 - number)
        coldest = garden.site.moment(evening + timedelta(days=1), 6)
        harmed = number in HARMFUL
        night = TreeNight("maple", evening, harmed, -1.0 if harmed else 1.0, 0.0, coldest)
        call = Call("balanced", evening, garden.site.moment(evening, 7), frozenset({"maple"}))
        with service.database.write() as connection:
            put_calls(connection, garden, [call] if number in CALLED else [])
        book.settle(garden, {evening: [night]}, service.clock.moment)


HARMFUL, CALLED = (2, 3, 7), (2, 3, 5, 9)
"""Which of the ten nights of `keep_a_spell` harm a tree, and which have a call."""

HOUR = timedelta(hours=1)
