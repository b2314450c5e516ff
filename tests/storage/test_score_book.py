"""Calls and verdicts in the database: first word wins, each night judged once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import sqlalchemy as sa

from mebuki.agenda.judged import Call, TreeNight
from mebuki.domain.garden import Caution, Garden
from mebuki.rounds.judging import OpenNight
from mebuki.rounds.ports import Letter
from mebuki.storage.database import Database
from mebuki.storage.outbox import put_letters
from mebuki.storage.round_tables import outbox
from mebuki.storage.score_book import ScoreBook, put_calls, put_night
from tests.builders import AT, ON, a_garden, a_moment, a_subscriber, a_tree

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
ADA = a_subscriber(name="Ada", email="Ada@example.org")
BEN = a_subscriber(name="Ben", email="ben@example.org", notice_level="few", trees=("bo",))
GARDEN = a_garden([a_tree("Alba"), a_tree("Bo")], subscribers=(ADA, BEN))


def a_night(tree: str = "alba", evening: date = ON) -> TreeNight:
    """Return a night that harmed, to the last bit."""
    return TreeNight(tree, evening, True, -1.2345678901234567, -0.1, a_moment(evening + DAY, 9))


def watch(database: Database, *evenings: date, garden: str = GARDEN.id) -> None:
    """Note nights that were watched for."""
    with database.write() as connection:
        for evening in evenings:
            put_night(connection, garden, evening)


def call(
    database: Database, *trees: str, level: Caution = "balanced", at: datetime = AT,
    garden: Garden = GARDEN,
) -> None:  # fmt: skip
    """Keep a call for tonight."""
    with database.write() as connection:
        put_calls(connection, garden, [Call(level, ON, at, frozenset(trees))])


def send(
    database: Database, recipient: str, sent: datetime | None, put: datetime = AT, revision: int = 0
) -> None:
    """Keep a letter that calls to act tonight, and note when it was taken."""
    key = f"{GARDEN.id}:frost:{ON.isoformat()}:act:{revision}"
    letter = Letter(key, recipient, f"<{key}{recipient}>", "Frost", b"x", garden=GARDEN.id)
    with database.write() as connection:
        put_letters(connection, [letter], put)
        which = sa.and_(outbox.c.key == key, outbox.c.recipient == recipient)
        connection.execute(sa.update(outbox).where(which).values(sent_at=sent))


def told(database: Database) -> dict[tuple[str, str], tuple[bool, datetime | None]]:
    """Return of each level and tree of tonight whether it was mailed, and when it was told."""
    calls = ScoreBook(database).account(GARDEN.id, ON, ON).calls
    return {(each.level, each.tree): (each.mailed, each.told_at) for each in calls}


def test_of_a_night_level_and_tree_the_first_call_stays(database: Database) -> None:
    """A later round adds trees and moves nothing; a tree that is gone is not kept."""
    call(database, "alba", "gone")
    call(database, "alba", "bo", at=AT + HOUR)
    kept = ScoreBook(database).account(GARDEN.id, ON, ON).calls
    assert [(each.tree, each.called_at, each.mailed) for each in kept] == [
        ("alba", AT, False), ("bo", AT + HOUR, False),
    ]  # fmt: skip


def test_nights_are_open_from_the_first_that_was_watched_until_judged(database: Database) -> None:
    """A day on which nothing ran is among them; other gardens and nights long ago are not."""
    book = ScoreBook(database)
    assert book.open_nights(GARDEN.id, ON - 7 * DAY, ON + 4 * DAY) == ()
    watch(database, ON, ON + 2 * DAY)
    watch(database, ON - DAY, garden="away")
    call(database, "alba")
    place = GARDEN.trees[0].place
    assert book.open_nights(GARDEN.id, ON - 7 * DAY, ON + 3 * DAY) == (
        OpenNight(ON, {"alba": place}), OpenNight(ON + DAY, {}), OpenNight(ON + 2 * DAY, {}),
    )  # fmt: skip
    book.settle(GARDEN, {ON: [a_night()], ON + DAY: []}, AT)
    found = book.open_nights(GARDEN.id, ON - 7 * DAY, ON + 3 * DAY)
    assert [each.evening for each in found] == [ON + 2 * DAY]
    assert book.open_nights(GARDEN.id, ON + 3 * DAY, ON + 5 * DAY) == ()


def test_a_tree_is_judged_where_it_stood_at_the_first_call(database: Database) -> None:
    """Moved because of it, and called at another level from there."""
    inside = GARDEN.trees[0].model_copy(update={"place": "shed"})
    moved = GARDEN.model_copy(update={"trees": (inside, GARDEN.trees[1])})
    watch(database, ON)
    call(database, "alba", level="few", at=AT + HOUR, garden=moved)
    call(database, "alba")
    (night,) = ScoreBook(database).open_nights(GARDEN.id, ON, ON + DAY)
    assert night.called == {"alba": GARDEN.trees[0].place}


def test_a_night_is_judged_once_and_comes_back_to_the_last_bit(database: Database) -> None:
    """A second verdict, whatever it says, changes nothing."""
    book = ScoreBook(database)
    watch(database, ON)
    book.settle(GARDEN, {ON: [a_night()]}, AT)
    book.settle(GARDEN, {ON: [replace(a_night(), harmed=False), a_night("bo")]}, AT + HOUR)
    account = book.account(GARDEN.id, ON - DAY, ON + DAY)
    assert account.nights == (a_night(),)
    assert account.watched == account.judged == {ON}


def test_who_was_told_follows_from_the_letters_that_were_taken(database: Database) -> None:
    """Ada reads balanced and all trees, Ben few and Bo alone; nobody reads cautious."""
    watch(database, ON)
    for level in ("cautious", "balanced", "few"):
        call(database, "alba", "bo", level=level)
    send(database, "ada@example.org", AT + 2 * HOUR)
    send(database, "ben@example.org", AT + 3 * HOUR)
    ScoreBook(database).settle(GARDEN, {ON: []}, AT + DAY)
    assert told(database) == {
        ("cautious", "alba"): (False, None),
        ("cautious", "bo"): (False, None),
        ("balanced", "alba"): (True, AT + 2 * HOUR),
        ("balanced", "bo"): (True, AT + 2 * HOUR),
        ("few", "alba"): (False, None),
        ("few", "bo"): (True, AT + 3 * HOUR),
    }


def test_a_letter_from_before_a_tree_was_called_did_not_name_it(database: Database) -> None:
    """The second mail of the night did; the first of two mails that did counts."""
    watch(database, ON)
    call(database, "alba")
    call(database, "bo", at=AT + HOUR)
    send(database, "ada@example.org", AT)
    send(database, "ada@example.org", AT + 2 * HOUR, put=AT + HOUR, revision=1)
    ScoreBook(database).settle(GARDEN, {ON: []}, AT + DAY)
    assert told(database) == {
        ("balanced", "alba"): (True, AT), ("balanced", "bo"): (True, AT + 2 * HOUR),
    }  # fmt: skip


def test_a_letter_that_nobody_took_is_known_as_mailed_and_not_told(database: Database) -> None:
    """The mail server was away all night."""
    watch(database, ON)
    call(database, "alba")
    send(database, "ada@example.org", None)
    ScoreBook(database).settle(GARDEN, {ON: []}, AT + DAY)
    assert told(database) == {("balanced", "alba"): (True, None)}


def test_old_nights_are_let_go_with_all_that_belongs_to_them(database: Database) -> None:
    """Nights before a day, of all gardens."""
    book = ScoreBook(database)
    watch(database, ON, ON + DAY)
    watch(database, ON, garden="away")
    call(database, "alba")
    book.settle(GARDEN, {ON: [a_night()], ON + DAY: [a_night(evening=ON + DAY)]}, AT)
    assert book.tidy(ON + DAY) == 2
    account = book.account(GARDEN.id, date.min, date.max)
    assert account.watched == {ON + DAY}
    assert account.calls == ()
    assert account.nights == (a_night(evening=ON + DAY),)
