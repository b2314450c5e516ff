"""Consents, keys and what goes with them, on SQLite and PostgreSQL."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import timedelta

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mebuki.clock import FixedClock
from mebuki.domain.garden import Subscriber
from mebuki.errors import InputError
from mebuki.mail.confirmation import ConfirmationWriter
from mebuki.mail.links import SignedLinks, Signer
from mebuki.rulebook.garden_text import garden_text
from mebuki.schedule.asking import Asking
from mebuki.storage.bounces import AddressBook
from mebuki.storage.consents import ASKED_AGAIN_AFTER, ConsentDoor, Consents
from mebuki.storage.database import Database
from mebuki.storage.deeds import Deed, DeedBook
from mebuki.storage.gardens import GardenStore
from mebuki.storage.keys import link_key
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.reader_standings import reader_standings
from mebuki.storage.reader_tables import acknowledgements, consents, keys
from mebuki.storage.round_tables import outbox
from tests.builders import AT, a_garden, a_subscriber, a_tree

DAY = timedelta(days=1)
ADA = a_subscriber(name="Ada", email="Ada@Example.org")
GARDEN = a_garden(subscribers=(ADA,))
WISHES: dict[str, object] = {
    "kinds": ("heat", "frost"), "trees": ("maple",), "prepare_days": 2, "quiet_from": 22,
    "quiet_until": 7, "quiet_broken": False, "time_zone": "Europe/Berlin",
}  # fmt: skip


def _asking(database: Database) -> Asking:
    links = SignedLinks("https://trees.example.org", Signer("k" * 32))
    writer = ConfirmationWriter("mebuki@example.org", "example.org", links)
    box = DatabaseOutbox(database, FixedClock(AT))
    return Asking(Consents(database), box, writer, AddressBook(database))


def test_all_wishes_of_a_reader_come_back(database: Database) -> None:
    """From the database as they were saved; kinds in the order of pages."""
    garden = a_garden([a_tree("Maple")], subscribers=(a_subscriber(**WISHES), a_subscriber()))
    store = GardenStore(database, FixedClock(AT))
    store.save(garden)
    assert store.load(garden.id) == garden
    assert [str(kind) for kind in garden.subscribers[0].kinds] == ["frost", "heat"]


def test_all_wishes_of_a_reader_stand_in_a_garden_file() -> None:
    """And those that are as by default are left out."""
    garden = a_garden([a_tree("Maple")], subscribers=(a_subscriber(**WISHES), a_subscriber()))
    read = tomllib.loads(garden_text(garden))["subscribers"]
    assert [Subscriber.model_validate(each) for each in read] == list(garden.subscribers)
    assert set(read[1]) == {"name", "email"}


def test_nobody_gets_mail_before_saying_so(database: Database) -> None:
    """A subscriber of a file or an older database is as unknown as any other."""
    door = ConsentDoor(Consents(database))
    assert not door.of("home").may(ADA, "frost")
    Consents(database).confirm("home", "ada@example.ORG", AT)
    assert door.of("home").may(ADA, "frost")
    assert not door.of("other").may(ADA, "frost")
    other = ADA.model_copy(update={"email": "ada@example.com"})
    assert not door.of("home").may(other, "frost")


def test_an_address_is_asked_once_and_again_a_few_times(database: Database) -> None:
    """On the first day, after a week and after two; then never more."""
    asking = _asking(database)
    days = [day for day in range(60) if asking.ask(GARDEN, AT + day * DAY)]
    assert days == [0, 7, 14]
    with database.read() as connection:
        kept = connection.execute(sa.select(outbox.c.recipient, outbox.c.kind)).all()
    assert [tuple(row) for row in kept] == [("Ada@Example.org", "confirm")] * 3


def test_who_said_yes_or_left_is_not_asked(database: Database) -> None:
    """Neither is asked for what was answered."""
    asking, consents_ = _asking(database), Consents(database)
    consents_.confirm("home", ADA.email, AT)
    assert asking.ask(GARDEN, AT) == 0
    consents_.leave("home", ADA.email, AT)
    assert asking.ask(GARDEN, AT + 30 * DAY) == 0
    assert not consents_.confirm("home", ADA.email, AT)
    ben = a_garden(subscribers=(a_subscriber(email="ben@example.org"),))
    consents_.leave("home", "ben@example.org", AT)
    assert asking.ask(ben, AT) == 0


def test_another_address_is_asked_anew(database: Database) -> None:
    """A consent is of an address; changing it needs a new one."""
    asking = _asking(database)
    Consents(database).confirm("home", ADA.email, AT)
    moved = ADA.model_copy(update={"email": "ada@elsewhere.example"})
    assert asking.ask(GARDEN.model_copy(update={"subscribers": (moved,)}), AT) == 1


def test_a_process_that_ends_between_letter_and_note_asks_once(database: Database) -> None:
    """The letter is kept under its number already, and left as it is."""
    asking = _asking(database)
    letter = asking.writer.write(GARDEN, ADA, AT, 1)
    asking.outbox.put([letter])
    asking.ask(GARDEN, AT + DAY)
    with database.read() as connection:
        assert connection.execute(sa.select(outbox.c.content)).scalars().all() == [letter.content]


def test_a_question_waits_for_the_end_of_quiet_hours(database: Database) -> None:
    """At noon UTC it is 21:00 in Tokyo; it goes at 07:00 there."""
    quiet = {"quiet_from": 20, "quiet_until": 7, "time_zone": "Asia/Tokyo"}
    reader = ADA.model_copy(update=quiet)
    noon = AT.replace(hour=12, minute=0)
    _asking(database).ask(GARDEN.model_copy(update={"subscribers": (reader,)}), noon)
    with database.read() as connection:
        assert connection.scalar(sa.select(outbox.c.not_before)) == noon + timedelta(hours=10)


def test_an_address_that_refuses_mail_is_not_asked(database: Database) -> None:
    """No question is counted that was never sent; once the address is cleared it is asked."""
    asking = _asking(database)
    asking.addresses.bounced(ADA.email, AT, "550 5.1.1 no such user")
    assert asking.ask(GARDEN, AT) == 0
    assert Consents(database).state("home", ADA.email).asks == 0
    asking.addresses.cleared(ADA.email)
    assert asking.ask(GARDEN, AT) == 1


def test_an_address_that_cannot_be_written_to_stands_in_nobodys_way(database: Database) -> None:
    """A garden with one such reader asks the others, and its round goes on."""
    wrong = a_subscriber(name="Wrong", email="wrong@-.example")
    asking = _asking(database)
    assert asking.ask(GARDEN.model_copy(update={"subscribers": (wrong, ADA)}), AT) == 1
    assert Consents(database).state("home", ADA.email).asks == 1


def test_who_never_answered_is_named_and_can_be_asked_again(database: Database) -> None:
    """After three questions the operator sees it; asked anew, other mails of their own go out."""
    store, asking = GardenStore(database, FixedClock(AT)), _asking(database)
    store.save(GARDEN)
    said = [next(iter(reader_standings(database)))]
    for day in (0, 7, 14):
        asking.ask(GARDEN, AT + day * DAY)
    said += reader_standings(database)
    assert [each.silent for each in said] == [True, True]
    assert "is asked in the next round" in said[0].words
    assert "asked 3 times" in said[1].words
    assert "is not asked any more" in said[1].words
    with database.read() as connection:
        before = set(connection.scalars(sa.select(outbox.c.message_id)))
    assert Consents(database).ask_anew("home", ADA.email)
    assert asking.ask(GARDEN, AT + 40 * DAY) == 1
    with database.read() as connection:
        after = connection.scalars(sa.select(outbox.c.message_id)).all()
    assert len(after) == 1
    assert not before & set(after)
    Consents(database).confirm("home", ADA.email, AT + 41 * DAY)
    assert not Consents(database).ask_anew("home", ADA.email)
    assert "wants mails since" in next(iter(reader_standings(database))).words
    Consents(database).leave("home", ADA.email, AT + 42 * DAY)
    assert not Consents(database).ask_anew("home", ADA.email)
    assert "stopped all mails" in next(iter(reader_standings(database))).words


words = st.lists(
    st.tuples(
        st.sampled_from(["ask", "confirm", "leave", "rejoin"]),
        st.sampled_from(["", "frost", "heat"]),
        st.integers(0, 10),
    ),
    max_size=8,
)


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words)
def test_whatever_is_said_in_whatever_order_a_no_holds(
    database: Database, said: list[tuple[str, str, int]]
) -> None:
    """Mail is allowed just when confirmed and not left since; each word may be said twice."""
    with database.write() as connection:
        connection.execute(sa.delete(consents))
    book, at = Consents(database), AT
    confirmed, left = False, False
    kinds: set[str] = set()
    for word, kind, days in said:
        at += days * DAY
        for _ in range(2):
            if word == "ask":
                book.ask("home", ADA.email, at)
            elif word == "confirm":
                book.confirm("home", ADA.email, at)
            else:
                getattr(book, word)("home", ADA.email, at, kind)
        if word == "confirm" and not left:
            confirmed = True
        elif word == "leave":
            kinds |= {kind} - {""}
            left = left or not kind
        elif word == "rejoin":
            kinds -= {kind}
            left, confirmed = (left, confirmed) if kind else (False, True)
        state = book.state("home", ADA.email)
        for each in ("frost", "heat", "digest"):
            assert state.may(each) is (confirmed and not left and each not in kinds)
        assert state.asks <= 3


def test_a_week_must_pass_between_questions(database: Database) -> None:
    """To the second."""
    book = Consents(database)
    assert book.ask("home", ADA.email, AT)
    early = AT + ASKED_AGAIN_AFTER - timedelta(seconds=1)
    assert not book.ask("home", ADA.email, early)
    assert book.ask("home", ADA.email, AT + ASKED_AGAIN_AFTER)


def test_the_key_of_links_is_made_once(database: Database) -> None:
    """It is the same for ever, long, and stands in the database alone."""
    first = link_key(database, FixedClock(AT))
    assert link_key(database, FixedClock(AT + DAY)) == first
    assert len(first) >= 43
    with database.read() as connection:
        assert connection.execute(sa.select(keys)).all() == [("links", first, AT)]
        assert connection.execute(sa.select(acknowledgements)).all() == []


def test_a_deed_is_added_to_what_stands(database: Database) -> None:
    """On either database; a deed that stands already is not added, one for a lost tree refused."""
    store, book = GardenStore(database, FixedClock(AT)), DeedBook(database, FixedClock(AT))
    garden = a_garden([a_tree("Maple"), a_tree("Pine")])
    store.save(garden)
    deed = Deed("moved", AT.date(), ("maple", "pine"), "shed")
    assert book.enter("home", replace(deed, trees=("maple",))) == 1
    assert book.enter("home", deed) == 1
    assert book.enter("home", deed) == 0
    assert [tree.place for tree in store.load("home").trees] == ["shed", "shed"]
    with pytest.raises(InputError, match="not in the garden"):
        book.enter("home", replace(deed, trees=("maple", "gone")))
    assert [len(tree.records) for tree in store.load("home").trees] == [1, 1]
