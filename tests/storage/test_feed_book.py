"""The feeds of readers: chosen, prepared at once, ended, under a new address."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from icalendar import Calendar

from mebuki.agenda.entry import Entry, Gone, Published
from mebuki.clock import FixedClock
from mebuki.domain.advice import CareKind
from mebuki.domain.feed import FeedChoice, FeedForm, Revoked
from mebuki.domain.garden import Garden
from mebuki.errors import InputError
from mebuki.feeds.calendar import IcsWriter
from mebuki.mail.compose import MailWriter
from mebuki.rounds.planned import Plan
from mebuki.rounds.publish import Exits, publish
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.database import Database
from mebuki.storage.feed_book import FeedBook
from mebuki.storage.feed_rows import DatabaseFeedShelf, PreparedFeed
from mebuki.storage.gardens import GardenStore
from mebuki.storage.ledger import DatabaseLedger
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.round_tables import feed_addresses, feed_choices, feeds
from tests.builders import AT, a_record
from tests.plans import a_plan

CLOCK = FixedClock(AT + timedelta(minutes=3))
WRITER = IcsWriter("mebuki.invalid")
FROST = FeedChoice(kinds=frozenset({CareKind.FROST}), name="Frost")


def book_of(database: Database, minutes: int = 3) -> FeedBook:
    """Return the feeds of a database."""
    return FeedBook(database, FixedClock(AT + timedelta(minutes=minutes)), WRITER, kept_days=7)


def run_round(database: Database, plan: Plan) -> None:
    """Publish a plan as a round does."""
    store = DatabaseAgendaStore(database)
    ways = Exits(
        store=store,
        calendar=WRITER,
        letters=MailWriter("mebuki@mebuki.invalid", "mebuki.invalid"),
        outbox=DatabaseOutbox(database, CLOCK),
        shelf=DatabaseFeedShelf(database, CLOCK),
        ledger=DatabaseLedger(database, CLOCK),
    )
    publish(plan, store.load(plan.garden.id), ways)


def content(database: Database, token: str) -> bytes:
    """Return the bytes behind an address that leads to a feed."""
    feed = DatabaseFeedShelf(database, CLOCK).read(token)
    assert isinstance(feed, PreparedFeed)
    return feed.content


def titles(feed: bytes, what: str = "VEVENT") -> list[str]:
    """Return the titles in a feed."""
    return [str(part["SUMMARY"]) for part in Calendar.from_ical(feed).walk(what)]


@pytest.fixture
def plan(database: Database) -> Plan:
    """Return a plan whose garden is in the database."""
    made = a_plan()
    GardenStore(database, CLOCK).save(made.garden)
    return made


def test_a_feed_made_between_rounds_can_be_read_at_once(database: Database, plan: Plan) -> None:
    """With what the newest round left, its credits too, and as the next round would write it."""
    run_round(database, plan)
    new = book_of(database).add(plan.garden.id, "ada", FROST)
    first = content(database, new.token)
    (title,) = titles(first)
    assert title.startswith("Frost")
    assert b"NOAA Integrated Surface" in first.replace(b"\r\n ", b"")
    run_round(database, replace(plan, at=AT + timedelta(hours=1), notices=()))
    assert content(database, new.token) == first


def test_a_feed_made_before_the_first_round_is_an_empty_calendar(
    database: Database, plan: Plan
) -> None:
    """An address that was given out is never unknown; the first round fills the feed."""
    new = book_of(database).add(plan.garden.id, "ada", FROST)
    assert titles(content(database, new.token)) == []
    run_round(database, plan)
    assert len(titles(content(database, new.token))) == 1


def test_a_reader_has_as_many_feeds_as_wanted(database: Database, plan: Plan) -> None:
    """Each with its own choice and address, all prepared in the round's transaction."""
    book = book_of(database)
    tasks = FeedChoice(form=FeedForm.TASKS)
    tokens = [book.add(plan.garden.id, "ada", choice).token for choice in (FROST, tasks)]
    run_round(database, plan)
    assert len(titles(content(database, tokens[0]))) == 1
    assert len(titles(content(database, tokens[1]), "VTODO")) == 3
    held = book.held(plan.garden.id)
    assert {each.choice for each in held} == {FROST, tasks}
    assert {each.holder for each in held} == {"ada"}
    assert len(set(tokens)) == 2


def test_a_feed_that_is_ended_says_so_and_is_prepared_no_more(
    database: Database, plan: Plan
) -> None:
    """The others stay; ending it twice is refused."""
    book = book_of(database)
    gone, stays = (book.add(plan.garden.id, "ada", FROST) for _ in range(2))
    book.revoke(plan.garden.id, gone.variant)
    run_round(database, plan)
    shelf = DatabaseFeedShelf(database, CLOCK)
    assert shelf.read(gone.token) == Revoked()
    assert isinstance(shelf.read(stays.token), PreparedFeed)
    assert [each.variant for each in book.held(plan.garden.id)] == [stays.variant]
    with database.read() as connection:
        assert gone.variant not in set(connection.scalars(sa.select(feeds.c.variant)))
    with pytest.raises(InputError, match="no such feed"):
        book.revoke(plan.garden.id, gone.variant)


def test_a_new_address_keeps_what_the_feed_holds(database: Database, plan: Plan) -> None:
    """The choice and the bytes stay, the old address ends."""
    book = book_of(database)
    old = book.add(plan.garden.id, "ada", FROST)
    run_round(database, plan)
    before = content(database, old.token)
    new = book.replace(plan.garden.id, old.variant)
    assert new.variant == old.variant
    assert DatabaseFeedShelf(database, CLOCK).read(old.token) == Revoked()
    assert content(database, new.token) == before
    assert [each.choice for each in book.held(plan.garden.id)] == [FROST]


def test_no_address_is_kept(database: Database, plan: Plan) -> None:
    """Neither the table of addresses nor that of choices holds it; it has 256 bits."""
    new = book_of(database).add(plan.garden.id, "ada", FROST)
    with database.read() as connection:
        rows = [
            str(row)
            for table in (feed_addresses, feed_choices)
            for row in connection.execute(sa.select(table))
        ]
    assert len(rows) == 2
    assert not [row for row in rows if new.token in row]
    assert len(new.token) == 43


@pytest.mark.parametrize(
    ("choice", "named"),
    [
        ({"places": {"attic"}}, "attic: .*no such place"),
        ({"trees": {"oak"}}, "oak: .*no such tree"),
    ],
)
def test_a_choice_of_what_the_garden_has_not_is_refused(
    choice: dict[str, Any], named: str, database: Database, plan: Plan
) -> None:
    """With what there is; nothing is kept."""
    book = book_of(database)
    with pytest.raises(InputError, match=named):
        book.add(plan.garden.id, "ada", FeedChoice.model_validate(choice))
    assert book.held(plan.garden.id) == ()


def test_an_unknown_garden_is_refused(database: Database) -> None:
    """No feed leads nowhere."""
    with pytest.raises(InputError, match="no such garden"):
        book_of(database).add("nowhere", "ada", FROST)


def _repotted(garden: Garden, entry: Entry) -> Garden:
    records = (a_record("repotted", "2013-03-27"),)
    trees = tuple(
        tree.model_copy(update={"records": (*tree.records, *records)})
        if tree.id in entry.trees
        else tree
        for tree in garden.trees
    )
    return garden.model_copy(update={"trees": trees})


def test_done_work_leaves_the_calendar_at_the_next_fetch(database: Database, plan: Plan) -> None:
    """Between rounds: out of the events, ticked off among the tasks, and remembered."""
    book = book_of(database)
    run_round(database, plan)
    events = book.add(plan.garden.id, "ada", FeedChoice()).token
    tasks = book.add(plan.garden.id, "ada", FeedChoice(form=FeedForm.TASKS)).token
    (repot,) = (entry for entry in plan.entries if entry.kind is CareKind.REPOT)
    GardenStore(database, CLOCK).save(_repotted(plan.garden, repot))
    book_of(database, minutes=90).refresh(plan.garden.id)
    assert repot.title not in titles(content(database, events))
    assert len(titles(content(database, events))) == len(plan.entries) - 1
    ticked = {
        str(part["SUMMARY"]): (str(part["STATUS"]), str(part["PERCENT-COMPLETE"]))
        for part in Calendar.from_ical(content(database, tasks)).walk("VTODO")
    }
    assert ticked[repot.title] == ("COMPLETED", "100")
    assert {state for title, state in ticked.items() if title != repot.title} == {
        ("NEEDS-ACTION", "0")
    }
    kept = {
        entry.key: entry for entry in DatabaseAgendaStore(database).load(plan.garden.id).entries
    }
    assert (kept[repot.key].gone, kept[repot.key].revision) == (Gone.DONE, repot.revision + 1)


def test_preparing_anew_without_a_change_changes_nothing(database: Database, plan: Plan) -> None:
    """The same bytes, tags and dates, and the same state."""
    book = book_of(database)
    run_round(database, plan)
    token = book.add(plan.garden.id, "ada", FROST).token
    store = DatabaseAgendaStore(database)
    before: Published = store.load(plan.garden.id)
    shelf = DatabaseFeedShelf(database, CLOCK)
    first = shelf.read(token)
    book_of(database, minutes=90).refresh(plan.garden.id)
    assert shelf.read(token) == first
    assert store.load(plan.garden.id) == before
