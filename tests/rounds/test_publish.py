"""Publishing: state before showing, repeatable after a cut anywhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from mebuki.agenda.entry import Notice, Published
from mebuki.bootstrap import demo_inputs, exits, plan_day, run_round
from mebuki.domain.quantity import Units
from mebuki.errors import FaultError
from mebuki.rounds.forecast_memory import ForecastMemory
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import Picture
from mebuki.rounds.publish import Exits, publish
from mebuki.season.night_minima import night_forecasts
from mebuki.settings import Settings
from tests.fakes.ports import (
    FakeAgendaStore,
    FakeCalendarWriter,
    FakeDisk,
    FakeFeedShelf,
    FakeLetterWriter,
    FakeOutbox,
)

ON = date(2013, 3, 27)
AT = datetime(2013, 3, 27, 11, tzinfo=UTC)


def _exits(disk: FakeDisk) -> Exits:
    return Exits(
        store=FakeAgendaStore(disk),
        calendar=FakeCalendarWriter(),
        letters=FakeLetterWriter(),
        outbox=FakeOutbox(disk),
        shelf=FakeFeedShelf(disk),
    )


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the plan of the demo day, as a first round sees it."""
    return plan_day(demo_inputs(), ON, AT, Published.nothing())


def test_letters_are_kept_before_the_state_and_the_state_before_the_feed(plan: Plan) -> None:
    """What could be lost is written first, what can be written again last."""
    disk = FakeDisk()
    publish(plan, Published.nothing(), _exits(disk))
    kinds = [what.split()[0] for what in disk.writes]
    assert kinds[-2:] == ["state", "feed"]
    assert set(kinds[:-2]) == {"letter"}
    assert disk.published.at == plan.at


def test_publishing_twice_changes_nothing(plan: Plan) -> None:
    """The same plan again keeps the letters, the state and the feed's bytes."""
    disk = FakeDisk()
    publish(plan, Published.nothing(), _exits(disk))
    letters, state, feed = dict(disk.letters), disk.published, disk.feed
    publish(plan, disk.published, _exits(disk))
    assert (disk.letters, disk.feed) == (letters, feed)
    assert disk.published.entries == state.entries
    assert disk.published.notices == state.notices


class CountingPictures:
    """Draws one grey spot, and remembers for what."""

    def __init__(self) -> None:
        self.drawn: list[tuple[str, Units]] = []

    def draw(self, plan: Plan, notice: Notice, units: Units) -> Picture | None:
        """Return the spot."""
        assert notice in plan.notices
        self.drawn.append((notice.told, units))
        return Picture(b"spot", "A spot.", 1)


def test_a_picture_is_asked_for_once_for_all_readers_of_the_same_units(plan: Plan) -> None:
    """Ten thousand readers of a garden need two pictures at most."""
    keeper = plan.garden.subscribers[0]
    readers = tuple(
        keeper.model_copy(update={"email": f"{units}{number}@example.org", "units": units})
        for units in ("metric", "us")
        for number in range(3)
    )
    garden = plan.garden.model_copy(update={"subscribers": readers})
    pictures = CountingPictures()
    ways = replace(_exits(FakeDisk()), pictures=pictures)
    letters = publish(replace(plan, garden=garden), Published.nothing(), ways)
    assert len(letters) >= 2 * len(readers)
    assert len(pictures.drawn) == len(set(pictures.drawn))
    assert {units for _, units in pictures.drawn} == {"metric", "us"}


def test_a_round_cut_at_any_write_and_run_again_loses_and_doubles_nothing(plan: Plan) -> None:
    """Whatever write fails, the next run of the same round ends in the same whole."""
    whole = FakeDisk()
    publish(plan, Published.nothing(), _exits(whole))
    for cut in range(len(whole.writes)):
        disk = FakeDisk()
        disk.fails_at = cut
        with pytest.raises(FaultError):
            publish(plan, Published.nothing(), _exits(disk))
        disk.fails_at = None
        told = set(disk.published.notices)
        again = replace(plan, notices=tuple(each for each in plan.notices if each.key not in told))
        publish(again, disk.published, _exits(disk))
        assert disk.letters == whole.letters
        assert disk.published == whole.published
        assert disk.feed == whole.feed


def test_every_subscriber_gets_a_letter_of_their_own(plan: Plan) -> None:
    """One recipient a message."""
    disk = FakeDisk()
    letters = publish(plan, Published.nothing(), _exits(disk))
    people = {each.email for each in plan.garden.subscribers}
    assert {letter.recipient for letter in letters} == people
    meant = [n for n in plan.notices for each in plan.garden.subscribers if n.concerns(each)]
    assert len(letters) == len(meant) > len(people)


def test_the_nights_of_a_round_are_remembered_once(plan: Plan) -> None:
    """What the provider said of them; the same plan again adds nothing."""
    past = ForecastMemory()
    for _ in range(2):
        publish(plan, Published.nothing(), replace(_exits(FakeDisk()), past=past))
    assert past.recall(plan.garden.id, ON) == night_forecasts(plan.picture)
    assert past.recall(plan.garden.id, ON)[0].night == ON


def test_rounds_into_a_folder_remember_their_nights(tmp_path: Path) -> None:
    """Two days, and the second again: each night by each lead, once."""
    ways = exits(Settings.model_construct(), tmp_path, keep_state=True)
    for days in (0, 1, 1):
        at = AT + timedelta(days=days)
        run_round(demo_inputs(), at.date(), at, ways, tmp_path)
    assert ways.past is not None
    kept = ways.past.recall(demo_inputs().garden.id, ON)
    assert len(kept) == len({(each.night, each.lead_days) for each in kept})
    second = [each.lead_days for each in kept if each.night == ON + timedelta(days=1)]
    assert second == [0, 1]
