"""Services over a database in a folder, with a clock moved by hand and replayed weather."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import SecretStr

from mebuki.bootstrap import demo_inputs
from mebuki.bootstrap.serving import Outside, make_service
from mebuki.clock import Clock
from mebuki.domain.garden import Garden
from mebuki.domain.site import Site
from mebuki.domain.weather import WeatherPicture
from mebuki.rounds.ports import Mailer, WeatherSource
from mebuki.schedule.service import Service
from mebuki.settings import Settings
from mebuki.storage.consents import Consents
from mebuki.storage.database import Database
from mebuki.storage.gardens import GardenStore
from mebuki.storage.migrate import open_database
from tests.fakes.clock import HandClock

LINK_KEY = SecretStr("a key of tests alone")
"""Signs the links in mails, so that mails of two databases can be compared."""

TREES = 3
"""Trees of the demo garden that small gardens have."""


@dataclass
class Heard:
    """Keeps what a service tells its witness."""

    rounds: Counter[str] = field(default_factory=Counter)
    gardens: list[str | None] = field(default_factory=list)
    sent: int = 0

    def round_done(self, kind: str, outcome: str, seconds: float) -> None:
        """Count a round."""
        assert seconds >= 0
        self.rounds[f"{kind} {outcome}"] += 1

    def published(self, garden: str | None) -> None:
        """Note a garden."""
        self.gardens.append(garden)

    def letters(self, sent: int, put_off: int, given_up: int) -> None:
        """Count letters."""
        self.sent += sent


class SwitchedSource:
    """Replayed weather that can be switched off, and that can break for one site."""

    def __init__(self, source: WeatherSource) -> None:
        self.source = source
        self.fails: Exception | None = None
        self.poison: str = ""

    def look(self, site: Site, at: datetime) -> WeatherPicture:
        """Return the weather, or raise what was set."""
        if self.fails is not None:
            raise self.fails
        if site.name == self.poison:
            msg = "a bug that nobody foresaw"
            raise ZeroDivisionError(msg)
        return self.source.look(site, at)


@dataclass
class Stage:
    """A service with everything around it."""

    service: Service
    database: Database
    clock: HandClock
    weather: SwitchedSource
    heard: Heard


def settings_for(folder: Path, **changes: Any) -> Settings:
    """Return settings with a database in a folder, whatever the environment says."""
    given = {
        "database": str(folder / "mebuki.db"),
        "secret_key": LINK_KEY,
        "base_url": "https://trees.example.org",
        **changes,
    }
    return Settings.model_construct(**given)


def a_small_garden(number: int = 0, **changes: Any) -> Garden:
    """Return a garden of the demo's first trees under a name of its own."""
    demo = demo_inputs().garden
    named = {"id": f"garden-{number:04d}", "name": f"Invented garden {number}"}
    return demo.model_copy(update={**named, "trees": demo.trees[:TREES], **changes})


def settle(database: Database, gardens: Iterable[Garden], clock: Clock) -> None:
    """Keep gardens whose readers have all said yes to mails."""
    store, consents = GardenStore(database, clock), Consents(database)
    for garden in gardens:
        store.save(garden)
        for reader in garden.subscribers:
            consents.confirm(garden.id, reader.email, clock.now())


def a_stage(
    folder: Path, at: datetime, gardens: Sequence[Garden], mailer: Mailer | None = None,
    **settings: Any,
) -> Stage:  # fmt: skip
    """Return a service over gardens, its clock at a moment."""
    clock, heard = HandClock(at), Heard()
    chosen = settings_for(folder, **settings)
    database = open_database(chosen.database)
    settle(database, gardens, clock)
    weather = SwitchedSource(demo_inputs().weather)
    outside = Outside(clock, weather, mailer)
    return Stage(make_service(chosen, database, outside, heard), database, clock, weather, heard)
