"""One transaction for all that a round leaves behind."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta

import pytest
import sqlalchemy as sa

from mebuki.agenda.entry import Published
from mebuki.agenda.memory import remembered
from mebuki.bootstrap import demo_inputs, plan_day
from mebuki.clock import FixedClock
from mebuki.errors import FaultError, InputError
from mebuki.feeds.calendar import IcsWriter
from mebuki.mail.compose import MailWriter
from mebuki.rounds.judging import calls_of
from mebuki.rounds.planned import Plan
from mebuki.rounds.publish import Exits, publish
from mebuki.season.night_minima import night_forecasts
from mebuki.storage import ledger as ledgers
from mebuki.storage.agendas import DatabaseAgendaStore
from mebuki.storage.database import Database
from mebuki.storage.feed_rows import DatabaseFeedShelf
from mebuki.storage.ledger import DatabaseLedger, parameter_version
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.past_forecasts import DatabasePastForecasts
from mebuki.storage.round_book import RoundBook, RoundId
from mebuki.storage.schema import metadata
from tests.builders import AT, ON, a_taxon
from tests.plans import a_notice, a_plan

CLOCK = FixedClock(AT + timedelta(minutes=3))


def _exits(database: Database, *, ledger: bool = True) -> Exits:
    return Exits(
        store=DatabaseAgendaStore(database),
        calendar=IcsWriter("mebuki.invalid"),
        letters=MailWriter("mebuki@mebuki.invalid", "mebuki.invalid"),
        outbox=DatabaseOutbox(database, CLOCK),
        shelf=DatabaseFeedShelf(database, CLOCK),
        ledger=DatabaseLedger(database, CLOCK) if ledger else None,
        past=DatabasePastForecasts(database),
    )


def _rows(database: Database) -> dict[str, list[object]]:
    with database.read() as connection:
        return {
            name: list(connection.execute(sa.select(table).order_by(*table.primary_key)))
            for name, table in metadata.tables.items()
        }


def _letters(plan: Plan) -> int:
    """Return how many letters a plan makes: each notice to those whom it concerns."""
    people = plan.garden.subscribers
    return sum(notice.concerns(person) for notice in plan.notices for person in people)


def _counts(database: Database) -> dict[str, int]:
    return {name: len(rows) for name, rows in _rows(database).items() if rows}


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the plan of the demo day, as a first round sees it."""
    return plan_day(demo_inputs(), ON, AT, Published.nothing())


def test_a_round_leaves_all_its_parts(database: Database, plan: Plan) -> None:
    """State, letters, feed, findings and the round's own row."""
    letters = publish(plan, Published.nothing(), _exits(database))
    assert len(letters) == _letters(plan) > 0
    assert _counts(database) == {
        "agendas": 1,
        "entries": len(plan.entries),
        "entry_revisions": len(plan.entries),
        "notices": len(remembered((), plan.notices, plan.marks, plan.on)),
        "outbox": len(letters),
        "feeds": 1,
        "feed_credits": 1,
        "advice": len(plan.advice),
        "predictions": len(plan.outlooks),
        "night_forecasts": len(night_forecasts(plan.picture)),
        "frost_nights": 1,
        "frost_calls": sum(len(call.trees) for call in calls_of(plan)),
        "rounds": 1,
        "garden_states": 1,
    }
    assert RoundBook(database, CLOCK).done(RoundId("plan", plan.garden.id, AT))
    loaded = DatabaseAgendaStore(database).load(plan.garden.id)
    assert loaded.entries == plan.entries
    assert loaded.notices == remembered((), plan.notices, plan.marks, plan.on)


def test_the_same_round_again_changes_nothing(database: Database, plan: Plan) -> None:
    """Whether it is told again with what was before, or with what it left itself."""
    publish(plan, Published.nothing(), _exits(database))
    rows = _rows(database)
    for before in (Published.nothing(), DatabaseAgendaStore(database).load(plan.garden.id)):
        assert publish(plan, before, _exits(database)) == ()
    assert _rows(database) == rows


def test_of_two_that_run_one_round_at_once_one_keeps_it(database: Database, plan: Plan) -> None:
    """The other finds it done; nothing is there twice."""
    other = Database(database.url.render_as_string(hide_password=False))
    both = threading.Barrier(2)

    def run(where: Database) -> int:
        both.wait()
        return len(publish(plan, Published.nothing(), _exits(where)))

    with ThreadPoolExecutor(2) as pool:
        put = sorted(pool.map(run, (database, other)))
    other.close()
    letters = _letters(plan)
    assert put == [0, letters]
    assert _counts(database)["outbox"] == letters
    assert _counts(database)["entry_revisions"] == len(plan.entries)


def test_ports_one_by_one_leave_the_same_state_as_the_ledger(
    database: Database, plan: Plan
) -> None:
    """The adapters alone serve where no ledger is asked for."""
    letters = publish(plan, Published.nothing(), _exits(database, ledger=False))
    counts = _counts(database)
    assert counts["outbox"] == len(letters)
    assert (counts["entries"], counts["feeds"]) == (len(plan.entries), 1)
    assert publish(plan, Published.nothing(), _exits(database, ledger=False)) == letters
    assert _counts(database) == counts


@pytest.mark.parametrize(
    "part",
    [
        "begin_round",
        "save_agenda",
        "put_letters",
        "put_feeds",
        "_keep_predictions",
        "put_forecasts",
        "finish_round",
    ],
)
def test_a_round_cut_in_any_part_leaves_nothing_and_runs_again(
    part: str, sqlite: Database, plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All or nothing, wherever it breaks."""
    made = getattr(ledgers, part)

    def breaks(*arguments: object) -> object:
        made(*arguments)
        msg = "cut"
        raise FaultError(msg)

    monkeypatch.setattr(ledgers, part, breaks)
    with pytest.raises(FaultError, match="cut"):
        publish(plan, Published.nothing(), _exits(sqlite))
    assert _counts(sqlite) == {}
    monkeypatch.undo()
    assert publish(plan, Published.nothing(), _exits(sqlite))
    assert _counts(sqlite)["rounds"] == 1


def test_rounds_go_forward_only(database: Database) -> None:
    """An earlier moment after a later one is refused, and leaves nothing."""
    ways = _exits(database)
    publish(a_plan(), Published.nothing(), ways)
    rows = _rows(database)
    with pytest.raises(InputError, match="forward only"):
        publish(a_plan(at=AT - timedelta(hours=1)), Published.nothing(), ways)
    assert _rows(database) == rows


def test_a_later_round_keeps_what_was_told_and_adds_what_is_new(database: Database) -> None:
    """A notice is kept once with its words; advice keeps the first and the last moment."""
    ways, store = _exits(database), DatabaseAgendaStore(database)
    first = a_plan()
    publish(first, Published.nothing(), ways)
    later = AT + timedelta(hours=6)
    more = a_notice(key="frost:2013-03-27:over", at=later)
    second = replace(first, at=later, notices=(more,))
    publish(second, store.load(first.garden.id), ways)
    assert store.load(first.garden.id).notices == (first.notices[0].key, more.key)
    with database.read() as connection:
        told = connection.exec_driver_sql("SELECT key, content FROM notices ORDER BY position")
        assert [content is not None for _, content in told] == [True, True]
        table = metadata.tables["advice"]
        spans = connection.execute(sa.select(table.c.first_at, table.c.last_at)).all()
    assert {tuple(span) for span in spans} == {(AT, later)}
    assert _counts(database)["predictions"] == len(first.outlooks)


def test_a_feed_that_did_not_change_keeps_its_date(database: Database) -> None:
    """A calendar program that asks again is told so."""
    ways = _exits(database)
    shelf = DatabaseFeedShelf(database, CLOCK)
    plan = a_plan()
    publish(plan, Published.nothing(), ways)
    token = shelf.issue(plan.garden.id, "ada")
    first = shelf.read(token)
    publish(replace(plan, at=AT + timedelta(hours=6), notices=()), Published.nothing(), ways)
    assert first is not None
    assert shelf.read(token) == first


def test_the_version_of_parameters_changes_with_them_alone() -> None:
    """A prediction can be scored against the parameters it was made with."""
    taxon = a_taxon()
    assert parameter_version(taxon) == parameter_version(a_taxon(note="another note"))
    clock = taxon.phenology.bud_break
    warmer = clock.model_copy(update={"sd_ln": clock.sd_ln.model_copy(update={"value": 0.33})})
    changed = taxon.phenology.model_copy(update={"bud_break": warmer})
    assert parameter_version(taxon) != parameter_version(
        taxon.model_copy(update={"phenology": changed})
    )
