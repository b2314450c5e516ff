"""The running service from settings: one database, its rounds, its mail, its pages."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from mebuki.bootstrap.folder import weather_source
from mebuki.bootstrap.linking import link_parts
from mebuki.bootstrap.mailing import delivery_terms
from mebuki.clock import Clock, SystemClock
from mebuki.feeds.calendar import IcsWriter
from mebuki.mail.compose import MailWriter
from mebuki.pictures.for_mail import MailPictures
from mebuki.rounds.ports import Mailer, WeatherSource
from mebuki.rounds.publish import Exits
from mebuki.rulebook import read_rulebook, read_taxa_with_faults
from mebuki.schedule.chores import Chore, Chores
from mebuki.schedule.desk import processors
from mebuki.schedule.garden_round import Bench
from mebuki.schedule.service import Crew, Office, Service, Witness
from mebuki.schedule.timetable import Timetable
from mebuki.settings import Settings
from mebuki.storage.acknowledgements import NoticeBook
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.backup import backup
from mebuki.storage.bounces import AddressBook
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.garden_states import StateBook
from mebuki.storage.gardens import GardenStore
from mebuki.storage.ledger import DatabaseLedger
from mebuki.storage.observations import ObservationBook
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.past_forecasts import DatabasePastForecasts
from mebuki.storage.round_book import RoundBook
from mebuki.storage.score_book import ScoreBook
from mebuki.storage.snapshots import SnapshotStore

WEATHER_KEPT: Final = timedelta(days=30)
ROUNDS_KEPT: Final = timedelta(days=400)
LETTERS_KEPT: Final = timedelta(days=60)
"""How long the weather behind plans, the book of rounds and the bytes of letters are kept."""

FORECASTS_KEPT: Final = timedelta(days=400)
"""How long forecasts of nights are kept: a season, to be scored after it."""

SCORES_KEPT: Final = timedelta(days=800)
"""How long it is kept how notices turned out: the running season and the whole one before it."""


@dataclass(frozen=True, slots=True)
class Outside:
    """What tests put in the place of the world: clock, weather and mail server."""

    clock: Clock
    weather: WeatherSource | None = None
    mailer: Mailer | None = None


def make_bench(settings: Settings, database: Database, outside: Outside) -> Bench:
    """Return all that rounds over a database work with."""
    clock, outbox = outside.clock, DatabaseOutbox(database, outside.clock)
    taxa, _ = read_taxa_with_faults(settings.config_dir)
    linked = link_parts(settings, database, clock)
    exits = Exits(
        store=DatabaseAgendaStore(database),
        calendar=IcsWriter(settings.host_name),
        letters=MailWriter(settings.sender, settings.host_name, linked.for_mails),
        pictures=MailPictures(),
        outbox=outbox,
        shelf=DatabaseFeedShelf(database, clock),
        ledger=DatabaseLedger(database, clock),
        past=DatabasePastForecasts(database),
        doors=linked.doors,
    )
    return Bench(
        taxa=taxa,
        rulebook=read_rulebook(settings.config_dir),
        weather=outside.weather or _weather(settings, clock),
        exits=exits,
        gardens=GardenStore(database, clock),
        rounds=RoundBook(database, clock),
        states=StateBook(database),
        snapshots=SnapshotStore(database),
        clock=clock,
        readings=ObservationBook(database, clock),
        outbox=outbox,
        scores=ScoreBook(database),
        asking=linked.asking,
        notices=NoticeBook(database),
    )


def crew_bench(settings: Settings) -> Bench:
    """Return a bench for a process of its own, over its own connections."""
    return make_bench(settings, Database(settings.database), Outside(SystemClock()))


def _weather(settings: Settings, clock: Clock) -> WeatherSource:
    if settings.weather_file is not None:
        return weather_source(settings.weather_file)
    from mebuki.weather.live_setup import live_source  # noqa: PLC0415 - no HTTP client for a replay

    return live_source(settings, clock)


def make_service(
    settings: Settings, database: Database, outside: Outside, witness: Witness
) -> Service:
    """Return the service over a database that is open and up to date."""
    bench = make_bench(settings, database, outside)
    workers = settings.workers or processors()
    return Service(
        bench,
        timetable(settings),
        Office(bench.outbox, outside.mailer, delivery_terms(settings), AddressBook(database)),
        Chores(bench.rounds, _chores(settings, database, bench)),
        witness,
        Crew(functools.partial(crew_bench, settings), workers),
    )


def timetable(settings: Settings) -> Timetable:
    """Return how often gardens are looked at."""
    every, cold = settings.round_every_hours, settings.cold_round_every_hours
    return Timetable(
        step=timedelta(hours=every) if every else None,
        cold_step=timedelta(hours=min(cold, every or cold)) if cold else None,
    )


def _chores(settings: Settings, database: Database, bench: Bench) -> Mapping[str, Chore]:
    chores: dict[str, Chore] = {
        "tidy": functools.partial(_tidy, bench, DatabasePastForecasts(database)),
    }
    if settings.backup_file is not None and database.file is not None:
        chores["backup"] = functools.partial(_back_up, database, settings.backup_file)
    return chores


def _back_up(database: Database, target: Path, _now: datetime) -> None:
    backup(database, target)


def _tidy(bench: Bench, forecasts: DatabasePastForecasts, now: datetime) -> None:
    bench.snapshots.tidy(now - WEATHER_KEPT)
    bench.rounds.tidy(now - ROUNDS_KEPT)
    bench.outbox.tidy(now - LETTERS_KEPT)
    forecasts.tidy((now - FORECASTS_KEPT).date())
    bench.scores.tidy((now - SCORES_KEPT).date())
