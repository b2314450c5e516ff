"""Feeds from a real database over HTTP: published, replaced, withdrawn, and the database gone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from mebuki.clock import FixedClock
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.schema import metadata
from mebuki.web.feed_cache import LOOK_AGAIN, FeedCache
from mebuki.web.service_app import WebParts, service_app
from tests.builders import AT
from tests.web.healths import a_health
from tests.web.shelves import Seconds


@dataclass(frozen=True, slots=True)
class Stage:
    """A database, the feeds in it, and a reader who asks over HTTP."""

    database: Database
    shelf: DatabaseFeedShelf
    cache: FeedCache
    seconds: Seconds
    client: TestClient
    path: str


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """Return a stage with one feed."""
    with closing(Database(tmp_path / "mebuki.db")) as database:
        with database.write() as connection:
            metadata.create_all(connection)
        shelf, seconds = DatabaseFeedShelf(database, FixedClock(AT)), Seconds()
        shelf.put("home", b"first")
        path = f"/feeds/{shelf.issue('home', 'ada')}.ics"
        with closing(FeedCache(shelf, seconds)) as cache:
            app = service_app(WebParts(cache, a_health, lambda: b""))
            with TestClient(app) as client:
                yield Stage(database, shelf, cache, seconds, client, path)


def test_a_publication_is_seen_at_the_next_fetch(stage: Stage) -> None:
    """With a new tag; and the old one is answered with the new bytes."""
    first = stage.client.get(stage.path)
    assert first.content == b"first"
    stage.shelf.put("home", b"second")
    stage.cache.forget()
    tag = {"if-none-match": first.headers["etag"]}
    assert stage.client.get(stage.path, headers=tag).content == b"second"


def test_a_withdrawn_address_is_gone_and_a_new_one_works(stage: Stage) -> None:
    """Within seconds, though nobody told the cache."""
    assert stage.client.get(stage.path).status_code == 200
    stage.shelf.revoke("home", "ada")
    stage.seconds.now += LOOK_AGAIN
    assert stage.client.get(stage.path).status_code == 410
    again = stage.shelf.issue("home", "ada")
    assert stage.client.get(f"/feeds/{again}.ics").content == b"first"


def test_a_database_that_is_broken_is_not_felt_by_readers_who_were_there_before(
    stage: Stage,
) -> None:
    """They get what they had; others are asked to come again."""
    other = stage.shelf.issue("home", "ben")
    assert stage.client.get(stage.path).status_code == 200
    with stage.database.write() as connection:
        connection.execute(sa.text("DROP TABLE feeds"))
    stage.cache.forget()
    assert stage.client.get(stage.path).content == b"first"
    assert stage.client.get(f"/feeds/{other}.ics").status_code == 503
