"""The second opinion itself: for each rule that it holds, what breaks the rule is seen.

Each story is told twice, once as the practice file allows it and once broken.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from mebuki.domain.advice import Advice, CareKind, Days, Urgency
from mebuki.domain.outlook import Milestone
from mebuki.rounds.planned import Plan
from tests.builders import (
    ON,
    a_distribution,
    a_place,
    a_stage,
    a_water_day,
    an_advice,
    some_stages,
)
from tests.journeys.checker import CHECKS, Check
from tests.journeys.look import Look
from tests.journeys.needs import Told, unmet
from tests.journeys.scenes import (
    AUTUMN,
    BENCH,
    MAY,
    SHED,
    WINDOW,
    Scene,
    care,
    feed,
    look,
    nights,
    prune,
    repot,
    told_night,
)

AFTERCARE = care(CareKind.REPOT, "aftercare", ON, ON + timedelta(weeks=8))
FRESH = [("repotted", "2013-03-20")]
BENT = [("major-bend", "2013-02-20")]
WIRED = [("wired", "2012-11-01")]
FROZEN = {"water": (a_water_day(ON, 0.8, frozen=True),)}
LEAVES_FALL = {"stages": (*some_stages(), a_stage(Milestone.LEAF_FALL, "2013-10-25"))}
NEXT_SPRING = {
    "season": 2014,
    "stages": some_stages("2014-04-12", 2014),
    "autumn_frost": a_distribution("2013-11-08"),
}
STORE = care(CareKind.WINTER, "out-of-shelter", date(2013, 4, 1), date(2013, 4, 20))

STORIES: tuple[tuple[str, str, Scene, Scene], ...] = (
    ("R01", "two heavy operations in one spring",
     Scene([repot(), prune(date(2013, 6, 1), date(2013, 6, 30))]),
     Scene([repot(), prune(date(2013, 10, 1), date(2013, 10, 30))])),
    ("R02", "repotted after a bend, without half a year of rest",
     Scene([repot()], [("major-bend", "2012-11-20")]),
     Scene([repot()], [("major-bend", "2012-09-01")])),
    ("R03", "cut in the year after it was dug",
     Scene([prune(MAY, MAY + timedelta(days=20))], [("collected", "2012-06-20")]),
     Scene([prune(MAY, MAY + timedelta(days=20))], [("collected", "2012-04-20")])),
    ("R05", "cut within the year after its leaves were taken off",
     Scene([prune(MAY, MAY + timedelta(days=20))], [("defoliated", "2012-06-20")]),
     Scene([prune(MAY, MAY + timedelta(days=20))], [("defoliated", "2012-05-01")])),
    ("R04", "heavy work on a weak tree",
     Scene([repot()], vigour="weak"),
     Scene([repot(blocked="the tree is weak")], vigour="weak")),
    ("R04", "heavy work on a tree just bought",
     Scene([repot()], [("acquired", "2013-01-10")]),
     Scene([repot()], [("acquired", "2012-08-10")])),
    ("R13", "wire on, and no look at it",
     Scene([], WIRED), Scene([look(MAY)], WIRED)),
    ("R14", "wire looked at in deep rest",
     Scene([look(date(2014, 1, 10))], WIRED, AUTUMN, outlook=NEXT_SPRING),
     Scene([look(date(2014, 5, 10))], WIRED, AUTUMN, outlook=NEXT_SPRING)),
    ("R17", "work on the trunk soon after repotting",
     Scene([care(CareKind.DEADWOOD, "deadwood-season", ON, AUTUMN), AFTERCARE], FRESH),
     Scene([care(CareKind.DEADWOOD, "deadwood-season", MAY, AUTUMN), AFTERCARE], FRESH)),
    ("R19", "bent in winter, frost, and no word",
     Scene([], BENT, date(2013, 3, 1), outlook=nights(-0.5, on=date(2013, 3, 1))),
     Scene([told_night(date(2013, 3, 1))], BENT, date(2013, 3, 1),
           outlook=nights(-0.5, on=date(2013, 3, 1)))),
    ("R20", "a window that runs into leaf",
     Scene([repot(days=40)]), Scene([repot()])),
    ("R23", "repotted again before its years are over",
     Scene([repot()], [("repotted", "2012-03-25")]),
     Scene([repot()], [("repotted", "2011-03-25")])),
    ("R24", "fed five weeks after repotting",
     Scene([feed(date(2013, 4, 26), date(2013, 9, 1)), AFTERCARE], FRESH),
     Scene([feed(date(2013, 5, 2), date(2013, 9, 1)), AFTERCARE], FRESH)),
    ("R25", "repotted, and no care is told", Scene([], FRESH), Scene([AFTERCARE], FRESH)),
    ("R26", "a window without a word of frost",
     Scene([repot(deed="Repot.")]), Scene([repot()])),
    ("R26", "frost tomorrow night on fresh roots, and no word",
     Scene([AFTERCARE], FRESH, outlook=nights(2, -0.1)),
     Scene([AFTERCARE, told_night(ON + timedelta(days=1))], FRESH, outlook=nights(2, -0.1))),
    ("R26", "fresh roots brought out before the last frost",
     Scene([AFTERCARE, STORE], FRESH),
     Scene([AFTERCARE, replace(STORE, span=Days(date(2013, 4, 20), MAY))], FRESH)),
    ("R27", "begun before a frost in a garden without shelter",
     Scene([repot()], places=(BENCH, WINDOW), outlook=nights(4, 3, -1.5)),
     Scene([repot()], places=(BENCH, SHED), outlook=nights(4, 3, -1.5))),
    ("R28", "a fig repotted on a cold night",
     Scene([repot()], tropical=True, outlook=nights(16, 14.5)),
     Scene([repot()], tropical=True, outlook=nights(16, 15.5))),
    ("R31", "repotted in autumn too near the frost",
     Scene([repot(date(2013, 9, 20), action="repot-autumn")], on=date(2013, 9, 1)),
     Scene([repot(date(2013, 9, 10), action="repot-autumn")], on=date(2013, 9, 1))),
    ("R42", "a frozen root ball repotted",
     Scene([repot(deed="Repot. Keep it above 0 °C.")], outlook=FROZEN),
     Scene([repot()], outlook=FROZEN)),
    ("R42", "a frozen root ball watered",
     Scene([an_advice(kind=CareKind.WATER, action="water-today", cycle=ON.isoformat())],
           outlook=FROZEN),
     Scene([an_advice(kind=CareKind.WATER, action="do-not-water-frozen", cycle=ON.isoformat())],
           outlook=FROZEN)),
    ("R50", "a maple sent to a warm window",
     Scene([care(CareKind.WINTER, "winter-shelter", MAY, AUTUMN, deed="Into South window.")],
           places=(BENCH, WINDOW)),
     Scene([care(CareKind.WINTER, "winter-shelter", MAY, AUTUMN, deed="Into the shed.")],
           places=(BENCH, WINDOW))),
    ("R53", "a fig below what it wants, and no word",
     Scene(tropical=True, outlook=nights(11)),
     Scene([told_night(ON)], tropical=True, outlook=nights(11))),
    ("R70", "fed until three weeks before the first frost",
     Scene([feed(MAY, date(2013, 10, 18))], on=MAY),
     Scene([feed(MAY, date(2013, 10, 10))], on=MAY)),
    ("R72", "a weak tree fed",
     Scene([feed(MAY, date(2013, 10, 1), "feed-stop")], on=MAY, vigour="weak"),
     Scene([feed(MAY, date(2013, 10, 1), "feed-stop")], on=MAY)),
    ("R72", "fed while frozen",
     Scene([feed(ON - timedelta(days=1), date(2013, 10, 1))], outlook=FROZEN),
     Scene([feed(MAY, date(2013, 10, 1))], outlook=FROZEN)),
    ("R72", "fed before the buds open",
     Scene([feed(date(2013, 4, 1), date(2013, 9, 1))]),
     Scene([feed(date(2013, 4, 20), date(2013, 9, 1))])),
    ("R72", "fed after the leaves have fallen",
     Scene([feed(MAY, date(2013, 11, 5))], on=MAY,
           outlook=LEAVES_FALL | {"autumn_frost": a_distribution("2013-12-20")}),
     Scene([feed(MAY, date(2013, 10, 20))], on=MAY,
           outlook=LEAVES_FALL | {"autumn_frost": a_distribution("2013-12-20")})),
)  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "broken", "kept"),
    [pytest.param(rule, *scenes, id=f"{rule} {name}") for rule, name, *scenes in STORIES],
)
def test_what_breaks_a_rule_is_seen_and_what_keeps_it_is_not(
    rule: str, broken: Scene, kept: Scene
) -> None:
    """The doctored scene is objected to by its rule; the lawful one by none."""
    assert rule in broken.found()
    assert kept.found() == set()


def test_what_is_blocked_or_past_is_not_objected_to() -> None:
    """Only what a keeper may still follow is judged."""
    scene = Scene([repot(days=40, blocked="frost afterwards")])
    assert scene.found() == set()
    assert Scene([repot(days=40, urgency=Urgency.PAST)]).found() == set()


def test_every_check_has_a_story() -> None:
    """No check of the second opinion goes without a scene that it objects to."""
    plans = [scene.plan() for _, _, scene, _ in STORIES]
    silent = [check.__name__ for check in CHECKS if not any(_heard(check, plan) for plan in plans)]
    assert silent == []


def _heard(check: Check, plan: Plan) -> bool:
    tree = plan.garden.trees[0]
    return any(check(Look(plan, tree, plan.taxa[tree.taxon], list(plan.advice))))


def _year(scene: Scene, *advice: Advice) -> Told:
    """Return a year in which a tree was told some advice, and nothing else."""
    told = Told(southern=False)
    for day in (date(2013, 1, 5), date(2013, 1, 16), date(2013, 8, 10), date(2013, 12, 28)):
        told.add(replace(scene.plan(), on=day, advice=advice))
    return told


def _wanting(scene: Scene, *advice: Advice) -> set[str]:
    return {rule for each in unmet(_year(scene, *advice)) for rule in each.rule.split()}


SHELTER = care(CareKind.WINTER, "winter-shelter", AUTUMN, AUTUMN + timedelta(days=14))


def test_a_due_tree_without_a_window_all_year_is_missed() -> None:
    """R23: never repotted; a window that may be used is enough, a blocked one is not."""
    assert "R23" in _wanting(Scene(), SHELTER)
    assert "R23" in _wanting(Scene(), SHELTER, repot(blocked="no reason of the trade"))
    assert _wanting(Scene(), SHELTER, repot()) == set()
    assert "R23" not in _wanting(Scene(records=[("repotted", "2012-03-20")]), SHELTER)
    assert "R23" in _wanting(Scene(records=[("repotted", "2010-03-20")]), SHELTER)


def test_wire_of_spring_that_is_looked_at_too_late_is_missed() -> None:
    """R13: set on 10 May, first looked at in July is well, in October is not; never is not."""
    scene = Scene(records=[("repotted", "2012-03-20"), ("wired", "2013-05-10")])
    assert "R13" in _wanting(scene, SHELTER)
    assert "R13" in _wanting(scene, SHELTER, look(date(2013, 10, 10)))
    assert _wanting(scene, SHELTER, look(date(2013, 7, 1))) == set()


def test_a_winter_without_a_word_is_missed() -> None:
    """R51 and R53: quarters for what stands in the open, cold nights for what is tender."""
    scene = Scene(records=[("repotted", "2012-03-20")])
    assert _wanting(scene) == {"R51", "R53"}
    fig = Scene(records=[("repotted", "2012-06-20")], tropical=True, outlook=nights(5))
    assert _wanting(fig, SHELTER) == {"R53"}
    cold = care(CareKind.WINTER, "winter-night", AUTUMN, AUTUMN)
    assert _wanting(fig, SHELTER, cold) == set()


def test_a_pot_in_the_shed_that_is_not_felt_is_missed() -> None:
    """R43: a week of deep winter under cover needs its feel of the pot."""
    shed = a_place("bench", kind="shed", minimum_held=2)
    scene = Scene(records=[("repotted", "2012-03-20")], places=(shed,))
    assert _wanting(scene) == {"R43"}
    weeks = ("2013-W01", "2013-W03", "2013-W52")
    felt = [care(CareKind.WATER, "winter-water", ON, ON, cycle=week) for week in weeks]
    assert "R43" not in _wanting(scene, *felt)
    assert "R43" in _wanting(scene, *felt[:2])
