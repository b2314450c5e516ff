"""``mebuki serve``: schedule, feeds and pages in one process, until it is told to stop."""

from __future__ import annotations

import asyncio
import logging
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from starlette.routing import Route

from mebuki.bootstrap.link_pages import link_pages
from mebuki.bootstrap.mailing import make_mailer
from mebuki.bootstrap.serving import Outside, make_service, timetable
from mebuki.clock import SystemClock, stopwatch
from mebuki.domain.wording import count_text
from mebuki.schedule.clockwork import Clockwork, Job
from mebuki.schedule.service import Service
from mebuki.settings import Settings
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.garden_states import StateBook
from mebuki.storage.migrate import HEAD, open_database
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.reader_standings import reader_standings
from mebuki.storage.round_book import PLAN, RoundBook
from mebuki.storage.sole import sole_service
from mebuki.web.feed_cache import FeedCache
from mebuki.web.health import (
    BeatFacts,
    Facts,
    Health,
    OutboxFacts,
    RoundFacts,
    judge,
    weather_facts,
)
from mebuki.web.heartbeat import Heart
from mebuki.web.metrics import Metrics
from mebuki.web.serve import serve_app
from mebuki.web.service_app import WebParts, service_app

log = logging.getLogger(__name__)

BEAT_EVERY: Final = timedelta(minutes=5)
LOOK_BACK: Final = timedelta(days=3)
"""How far back the book of rounds is read for the health page."""

Announce = Callable[[str], object]


class Watch:
    """What the service tells of itself: figures, feeds that changed, how it is."""

    def __init__(self, settings: Settings, database: Database, clock: SystemClock) -> None:
        self.metrics = Metrics()
        self.cache = FeedCache(DatabaseFeedShelf(database, clock), stopwatch)
        self._step = timetable(settings).step
        self._clock = clock
        self._started = clock.now()
        self._states = StateBook(database)
        self._rounds = RoundBook(database, clock)
        self._outbox = DatabaseOutbox(database, clock)
        self.heart: Heart | None = None

    def round_done(self, kind: str, outcome: str, seconds: float) -> None:
        """Count a round."""
        self.metrics.round_done(kind, outcome, seconds)

    def letters(self, sent: int, put_off: int, given_up: int) -> None:
        """Count letters."""
        self.metrics.letters(sent, put_off, given_up)

    def published(self, garden: str | None) -> None:
        """Have feeds read anew before they are next shown."""
        self.cache.forget()

    def health(self) -> Health:
        """Return how the service is; reads the database."""
        return judge(self._facts(self._clock.now()), self._clock.now())

    def figures(self) -> bytes:
        """Return the figures for those who collect them; reads the database."""
        self.metrics.health(self.health())
        return self.metrics.render()

    def _facts(self, now: datetime) -> Facts:
        depth = self._outbox.depth()
        moments = self._states.measured_until()
        outcomes = self._rounds.outcomes(now - LOOK_BACK)
        every = {PLAN: self._step or timedelta(days=1)} if moments else {}
        rounds = tuple(
            RoundFacts(kind, outcomes[kind][0] if kind in outcomes else None, every.get(kind))
            for kind in sorted({*outcomes, *every})
        )
        return Facts(
            schema=HEAD,
            started=self._started,
            weather=weather_facts(moments, now, failed=len(self._states.faults())),
            rounds=rounds,
            outbox=OutboxFacts(depth.waiting, depth.oldest, depth.given_up),
            heartbeat=self.heart.facts if self.heart else BeatFacts(),
        )


@dataclass(frozen=True, slots=True)
class Running:
    """The parts of a service that is about to run."""

    settings: Settings
    service: Service
    watch: Watch
    database: Database
    routes: Sequence[Route] = ()


def serve(settings: Settings, announce: Announce) -> None:
    """Run the service until SIGTERM or SIGINT; the work in hand is finished then.

    Raises
    ------
    InputError
        If a setting cannot be used.
    FaultError
        If the database cannot be used, or another service is at work on it.
    """
    with (
        closing(Database(settings.database)) as door,
        sole_service(door),
        closing(open_database(settings.database)) as database,
    ):
        asyncio.run(_until_stopped(_made(settings, database), announce))


def _made(settings: Settings, database: Database) -> Running:
    clock = SystemClock()
    watch = Watch(settings, database, clock)
    outside = Outside(clock, mailer=make_mailer(settings))
    service = make_service(settings, database, outside, watch)
    if settings.heartbeat_url:
        from mebuki.weather.transport import Transport  # noqa: PLC0415 - no client without a beat

        watch.heart = Heart(settings.heartbeat_url, Transport("Mebuki"), clock)
    routes = link_pages(settings, database, clock)
    return Running(settings, service, watch, database, routes)


async def _until_stopped(running: Running, announce: Announce) -> None:
    """Serve and tick until told to stop.

    Work that does not end in time waits for somebody else's answer and has
    nothing half done: the process ends without it, and the next start goes on.
    """
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for each in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(each, stop.set)
    clockwork = Clockwork(_jobs(running))
    watch, settings = running.watch, running.settings
    parts = WebParts(watch.cache, watch.health, watch.figures, watch.metrics.feed, running.routes)

    def ready(port: int) -> None:
        clockwork.start()
        _tell(running, port, announce)

    try:
        await serve_app(service_app(parts), settings.serve_host, settings.serve_port, stop, ready)
    finally:
        running.service.stop()
        whole = await clockwork.stop()
        watch.cache.close()
    if not whole:
        log.warning("stopped while something waited for an answer; the next start goes on")
        logging.shutdown()
        os._exit(0)


def _jobs(running: Running) -> dict[str, tuple[timedelta, Job]]:
    jobs = running.service.jobs()
    if running.watch.heart:
        jobs["heartbeat"] = (BEAT_EVERY, lambda: _beat(running.watch))
    return jobs


async def _beat(watch: Watch) -> None:
    if watch.heart:
        await watch.heart.beat(await asyncio.to_thread(watch.health))


def _tell(running: Running, port: int, announce: Announce) -> None:
    gardens = running.service.bench.gardens.ids()
    announce(f"Mebuki serves http://{running.settings.serve_host}:{port}/")
    if not gardens:
        announce("There is no garden yet: mebuki trees import GARDEN.toml")
    for line in obstacles(running.settings, running.database):
        announce(line)


def obstacles(settings: Settings, database: Database) -> Iterator[str]:
    """Yield what keeps mails, or what can be done from them, from readers: for the operator."""
    if not settings.reached_from_outside:
        yield (
            f"MEBUKI_BASE_URL is {settings.base_url}: only this machine can open it. Mails go "
            "without links, and readers can say yes to mails on this machine alone. Set it to an "
            "address that their phones can open."
        )
    silent = sum(1 for each in reader_standings(database) if each.silent)
    if silent:
        yield (
            f"{count_text(silent, 'reader')} without a yes to mails so far, and so without mails: "
            "mebuki mail --readers"
        )
    if not settings.smtp_host:
        yield "No mail server is set (MEBUKI_SMTP_HOST): letters wait in the outbox."
