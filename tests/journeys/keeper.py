"""A simulated keeper who does what is advised, writes it down, and lives through the years."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

from mebuki.agenda.entry import Published
from mebuki.agenda.memory import remembered
from mebuki.bootstrap import Inputs
from mebuki.domain.advice import Advice, Days
from mebuki.domain.garden import Garden
from mebuki.domain.tree import Record, Tree
from mebuki.rounds.planned import Plan
from tests.builders import a_record
from tests.journeys.checker import objections
from tests.journeys.gardens import Grounds, inputs, plan
from tests.journeys.look import Objection
from tests.journeys.needs import Told, unmet
from tests.journeys.years import HALF_A_YEAR, steps

HEAVY = {
    "repot-window": "repotted", "repot-autumn": "repotted", "prune-structure": "hard-pruned",
    "decandle": "decandled", "defoliate": "defoliated",
}  # fmt: skip
"""What the keeper writes down after heavy work."""

WIRING_MONTH = {False: 11, True: 5}
"""When a tree that has been without wire is wired again, by ``southern``."""

SOON = timedelta(days=60)
"""Work that the story of the tree tells for the coming weeks is not done before."""

WINTER_HOME = {"indoor": "window", "frost": "shed", "cold": "frame"}
"""Where a tree goes in winter, by how the shelter of its taxon begins."""


@dataclass
class Trial:
    """What a stretch of years left for those who judge it."""

    grounds: Grounds
    days: int = 0
    advice: int = 0
    objections: list[Objection] = field(default_factory=list)
    unmet: list[Objection] = field(default_factory=list)
    actions: Counter[str] = field(default_factory=Counter)
    deeds: Counter[str] = field(default_factory=Counter)
    repotted: Counter[str] = field(default_factory=Counter)
    broken_at_new_year: list[str] = field(default_factory=list)
    carried_over_new_year: int = 0


def live(grounds: Grounds, folder: Path, every: int, days: Iterable[date] | None = None) -> Trial:
    """Run a garden through its weather, the keeper doing what is advised.

    Parameters
    ----------
    every
        In times without frost every so many days are taken, else each day.
    days
        Days to take instead.
    """
    given = inputs(grounds, folder)
    trial = Trial(grounds)
    told = Told(grounds.southern)
    before, last = Published.nothing(), None
    for day in days or steps(grounds.weather, grounds.southern, every):
        now = plan(given, day, before)
        trial.days += 1
        trial.advice += len(now.advice)
        trial.objections += objections([now])
        trial.actions.update(each.action for each in now.advice)
        if last is not None and _of_year(last.on, grounds) != _of_year(day, grounds):
            trial.unmet += unmet(told)
            told = Told(grounds.southern)
        if last is not None and last.on.year != day.year and day - last.on == timedelta(days=1):
            _new_year(trial, last, now)
        told.add(now)
        given = replace(given, garden=_worked(given, now, trial))
        notices = remembered(before.notices, now.notices, now.marks, day)
        before = Published(at=now.at, entries=now.entries, notices=notices)
        last = now
    trial.unmet += unmet(told)
    return trial


def _of_year(day: date, grounds: Grounds) -> int:
    """Return the measured year in which a day lies."""
    return (day - HALF_A_YEAR).year if grounds.southern else day.year


def _new_year(trial: Trial, old: Plan, new: Plan) -> None:
    """Look whether what was open on the last day of December is still known on the first."""
    now = {entry.key: entry for entry in new.entries}
    for entry in old.shown:
        if not isinstance(entry.span, Days) or entry.span.last <= new.on:
            continue
        trial.carried_over_new_year += 1
        found = now.get(entry.key)
        if found is None or found.uid != entry.uid or found.revision < entry.revision:
            trial.broken_at_new_year.append(f"{new.on}: {entry.key}")


def _worked(given: Inputs, now: Plan, trial: Trial) -> Garden:
    """Return the garden after the keeper's day."""
    by_tree: dict[str, list[Advice]] = {}
    for each in now.advice:
        by_tree.setdefault(each.tree, []).append(each)
    trees = []
    for tree in given.garden.trees:
        done, place = _day_of(tree, by_tree.get(tree.id, []), now, trial.grounds)
        trial.deeds.update(record.kind for record in done)
        trial.repotted.update(tree.id for record in done if record.kind == "repotted")
        more = {"records": (*tree.records, *done), "place": place}
        trees.append(tree.model_copy(update=more) if done else tree)
    return given.garden.model_copy(update={"trees": tuple(trees)})


def _day_of(
    tree: Tree, advice: list[Advice], now: Plan, grounds: Grounds
) -> tuple[list[Record], str]:
    """Return what the keeper does to one tree today, and where it then stands."""
    done: list[Record] = []
    place = tree.place
    patient = tree.development == "refined"
    for each in advice:
        span = each.span
        if each.blocked or not isinstance(span, Days) or not span.first <= now.on <= span.last:
            continue
        in_time = not patient or span.likely is None or now.on >= span.likely
        if each.action in HEAVY and in_time and not done and _free(tree, HEAVY[each.action], now):
            done.append(a_record(HEAVY[each.action], now.on))
        elif each.action == "wire-check":
            kind = "wire-removed" if "long" in each.fact else "wire-checked"
            done.append(a_record(kind, now.on))
        elif each.action == "winter-shelter" and patient and grounds.shelter:
            place = _winter_home(tree, now)
        elif each.action == "out-of-shelter" and patient:
            place = "bench"
    if _to_wire(tree, now, grounds):
        done.append(a_record("wired", now.on, amount=9))
    if place != tree.place:
        done.append(a_record("moved", now.on, place=place))
    return done, place


def _free(tree: Tree, kind: str, now: Plan) -> bool:
    """Whether nothing of the kind stands in the tree's story for today or the coming weeks."""
    return not any(
        record.kind == kind and now.on <= record.on <= now.on + SOON for record in tree.records
    )


def _winter_home(tree: Tree, now: Plan) -> str:
    word = now.taxa[tree.taxon].hardiness.shelter.value.lower()
    return next((home for key, home in WINTER_HOME.items() if word.startswith(key)), tree.place)


def _to_wire(tree: Tree, now: Plan, grounds: Grounds) -> bool:
    """Whether a tree without wire is wired today: in late autumn, unless weak or small."""
    wired, removed = tree.last("wired"), tree.last("wire-removed")
    bare = wired is not None and removed is not None and removed.on > wired.on
    month = now.on.month == WIRING_MONTH[grounds.southern]
    return bare and month and tree.vigour != "weak"
