"""Publishing to readers who chose, who sleep, and who never said yes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

import pytest

from mebuki.agenda.audience import for_reader
from mebuki.agenda.entry import NoticeStep, Published
from mebuki.bootstrap import demo_inputs, plan_day
from mebuki.domain.garden import Subscriber
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import Letter
from mebuki.rounds.publish import Exits, publish
from tests.builders import a_subscriber
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


@dataclass
class FakeDoors:
    """Lets named addresses through, but for what they left."""

    wanted: frozenset[str]
    left: frozenset[tuple[str, str]] = frozenset()
    asked: list[str] = field(default_factory=list)

    def of(self, garden: str) -> FakeDoors:
        """Return the door of a garden."""
        self.asked.append(garden)
        return self

    def may(self, reader: Subscriber, kind: str) -> bool:
        """Say whether somebody is let through."""
        return reader.email in self.wanted and (reader.email, kind) not in self.left


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Return the plan of the demo day: a call to act and a digest at least."""
    made = plan_day(demo_inputs(), ON, AT, Published.nothing())
    assert {NoticeStep.ACT, NoticeStep.DIGEST} <= {each.step for each in made.notices}
    return made


def _published(
    plan: Plan, readers: Sequence[Subscriber], doors: FakeDoors | None = None
) -> tuple[Letter, ...]:
    disk = FakeDisk()
    ways = Exits(
        FakeAgendaStore(disk), FakeCalendarWriter(), FakeLetterWriter(), FakeOutbox(disk),
        FakeFeedShelf(disk), doors=doors,
    )  # fmt: skip
    garden = plan.garden.model_copy(update={"subscribers": tuple(readers)})
    return publish(replace(plan, garden=garden), Published.nothing(), ways)


def test_letters_go_to_those_alone_who_want_them(plan: Plan) -> None:
    """The door is asked once a garden; who did not confirm, or left a kind, gets no such letter."""
    people = [a_subscriber(email=f"{name}@example.org") for name in ("ada", "ben", "cleo")]
    doors = FakeDoors(
        frozenset({"ada@example.org", "ben@example.org"}),
        frozenset({("ben@example.org", "digest")}),
    )
    letters = _published(plan, people, doors)
    everybody = _published(plan, people)
    assert doors.asked == [plan.garden.id]
    assert {each.recipient for each in everybody} == {each.email for each in people}
    digest = {each.key for each in plan.notices if each.step is NoticeStep.DIGEST}
    assert [each for each in everybody if each in letters] == list(letters)
    missing = {(each.recipient, each.key in digest) for each in everybody if each not in letters}
    assert missing == {("cleo@example.org", True), ("cleo@example.org", False),
                       ("ben@example.org", True)}  # fmt: skip


def test_a_narrowed_reader_hears_of_his_trees_alone(plan: Plan) -> None:
    """Of the call to act, one tree by its name; the memory of what was told is not changed."""
    act = next(each for each in plan.notices if each.step is NoticeStep.ACT)
    line = next(line for line in act.lines if line.ids)
    reader = a_subscriber(trees=(line.ids[0],))
    letters = {each.key: each for each in _published(plan, [reader])}
    assert letters[act.key].subject.endswith(line.trees[0])


def test_each_tree_of_a_call_is_spoken_of_alone(plan: Plan) -> None:
    """Whichever tree a reader chose: no other tree is named in any text."""
    act = next(each for each in plan.notices if each.step is NoticeStep.ACT)
    names = {tree.id: tree.name for tree in plan.garden.trees}
    trees = {tree for line in act.lines for tree in line.ids}
    assert {risk.tree for risk in act.risks} == trees
    assert len(trees) > 1
    at = act.facts.index(act.risks[0].facts[0])
    assert act.facts[at : at + len(act.risks[0].facts)] == act.risks[0].facts
    for tree in trees:
        mine = for_reader(act, a_subscriber(trees=(tree,)), plan.garden.site.zone)
        assert mine is not None
        told = " ".join((mine.subject, mine.lead, *(value for _, value in mine.facts)))
        assert f"{names[tree]}: " in told
        assert [other for other in names if other != tree and names[other] in told] == []


def test_every_line_of_a_plan_knows_its_trees(plan: Plan) -> None:
    """Ids stand beside names in the same order, so that narrowing never mixes them up."""
    names = {tree.id: tree.name for tree in plan.garden.trees}
    lines = [line for notice in plan.notices for line in notice.lines]
    assert any(line.ids for line in lines)
    for line in lines:
        if line.trees:
            assert tuple(names[tree] for tree in line.ids) == line.trees


def test_quiet_hours_hold_letters_back_and_no_longer_than_they_last(plan: Plan) -> None:
    """At seven in New York; quiet until nine. What is late is still sent within the hour after."""
    early = a_subscriber(quiet_from=22, quiet_until=9, quiet_broken=False)
    nine = AT + timedelta(hours=2)
    letters = _published(plan, [early])
    assert letters
    assert {each.not_before for each in letters} == {nine}
    assert all(each.useful_until is None or each.useful_until > nine for each in letters)
    assert {each.not_before for each in _published(plan, [a_subscriber()])} == {None}


def test_a_call_to_act_knows_when_it_is_too_late(plan: Plan) -> None:
    """Before its danger begins, and never after its use ends."""
    for notice in plan.notices:
        if notice.step is NoticeStep.ACT and notice.act_by is not None:
            assert notice.severity is not None
            assert notice.useful_until is None or notice.act_by < notice.useful_until
