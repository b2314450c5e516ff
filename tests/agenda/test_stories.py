"""Short stories: records and weather in, what a good grower would say out."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

from mebuki.agenda.build import build
from mebuki.agenda.changes import revise
from mebuki.agenda.conflicts import settle
from mebuki.agenda.done import done_keys, held_keys
from mebuki.agenda.entry import Entry, NoticeStep, Published
from mebuki.agenda.notices import notices
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.rules.evaluate import evaluate
from tests.builders import (
    a_case,
    a_garden,
    a_moment,
    a_night,
    a_record,
    a_situation,
    a_tree,
    by_tree,
    some_stages,
)


def test_a_maple_repotted_before_a_late_frost_is_brought_in() -> None:
    """Repotted on 20 March, −3 °C on 2 April: act notice, timed entry, care after repotting."""
    on = date(2013, 4, 2)
    tree = a_tree("Old Trident", records=[a_record("repotted", "2013-03-20")])
    nights = [a_night(on, -3, on), a_night(on + timedelta(days=1), 6, on)]
    case = a_case(tree, on=on, nights=nights, stages=some_stages("2013-04-25"))
    garden = a_garden([tree])
    advice = settle(evaluate(case), garden, case.rulebook.practice)
    situation = a_situation(
        garden, advice, on=on, at=a_moment(on, 11), outlooks=by_tree([case.outlook])
    )
    entries = build(situation)
    actions = [entry.key.split("/")[2] for entry in entries]
    assert actions == ["frost-night", "aftercare", "winter-shelter"]
    assert entries[0].title == "Frost −3 °C: bring in Old Trident"
    assert isinstance(entries[0].span, Moments)
    told = notices(situation, entries, Published.nothing()).notices
    assert [notice.step for notice in told] == [NoticeStep.ACT, NoticeStep.DIGEST]
    assert told[0].subject == "Frost −3 °C tonight: bring in Old Trident"


def test_wire_of_october_is_not_looked_at_before_growth() -> None:
    """From October to the end of March every round puts the first look into spring."""
    tree = a_tree(records=[a_record("wired", "2012-10-20")])
    taxon = a_case().taxon.model_copy(deep=True)
    wiring = taxon.wiring.model_copy(
        update={"months_max": taxon.wiring.months_max.model_copy(update={"value": 12.0})}
    )
    taxon = taxon.model_copy(update={"wiring": wiring})
    for day in range(0, 160, 10):
        on = date(2012, 10, 21) + timedelta(days=day)
        case = a_case(tree, taxon=taxon, on=on, autumn_frost=())
        (advice,) = [found for found in evaluate(case) if found.action == "wire-check"]
        assert isinstance(advice.span, Days)
        assert advice.span.first >= date(2013, 4, 12)


def test_a_repotting_keeps_its_identity_while_the_spring_is_late() -> None:
    """The window wanders for three weeks; UID stays, revisions are few, each a real move."""
    tree = a_tree("Old Trident")
    garden = a_garden([tree])
    shown: tuple[Entry, ...] = ()
    seen: list[tuple[int, date]] = []
    uids = set()
    for day in range(60):
        on = date(2013, 2, 1) + timedelta(days=day)
        break_day = date(2013, 4, 5) + timedelta(days=day // 6 + day % 3)
        case = a_case(tree, on=on, stages=some_stages(break_day))
        situation = a_situation(
            garden, evaluate(case), on=on, at=a_moment(on, 11), outlooks=by_tree([case.outlook])
        )
        shown = revise(
            shown, build(situation), situation.at, 3,
            done_keys(shown, garden), held_keys(shown, situation),
        )  # fmt: skip
        (entry,) = [each for each in shown if each.kind is CareKind.REPOT]
        uids.add(entry.uid)
        assert isinstance(entry.span, Days)
        seen.append((entry.revision, entry.span.first))
    assert len(uids) == 1
    revisions = [revision for revision, _ in seen]
    assert revisions == sorted(revisions)
    assert 1 <= revisions[-1] <= 5
    for (before, first), (after, later) in pairwise(seen):
        assert before != after or first == later


def test_a_repotting_that_was_done_vanishes_and_care_after_it_begins() -> None:
    """The evening after the work the window is gone, not cancelled."""
    due = a_tree("Old Trident")
    on = date(2013, 3, 27)
    first = a_situation(
        a_garden([due]), evaluate(a_case(due, on=on)),
        outlooks=by_tree([a_case(due).outlook]),
    )  # fmt: skip
    shown = revise((), build(first), first.at, 3)
    repotted = a_tree("Old Trident", records=[a_record("repotted", "2013-03-28")])
    garden = a_garden([repotted])
    case = a_case(repotted, on="2013-03-29")
    second = a_situation(
        garden, evaluate(case), on=date(2013, 3, 29), at=a_moment("2013-03-29", 11),
        outlooks=by_tree([case.outlook]),
    )  # fmt: skip
    shown = revise(
        shown, build(second), second.at, 3, done_keys(shown, garden), held_keys(shown, second)
    )
    assert [each.title for each in shown if each.kind is CareKind.REPOT and not each.gone] == [
        "After repotting, Old Trident: shade, no feed, no frost"
    ]
