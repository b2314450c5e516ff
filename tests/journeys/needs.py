"""What the year of each tree needs, and whether any advice of the year told it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from mebuki.domain.advice import Advice, Days
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.rounds.planned import Plan
from tests.journeys.look import MONTH, REPOT, REST_MONTHS, Objection, interval, number

WANTED = (*REPOT, "wire-check", "winter-shelter", "winter-night", "winter-water")

GROWING = {False: (4, 5, 6), True: (10, 11, 12)}
"""Months of spring in which wire set on a tree soon bites, by ``southern``."""

DEEP_WINTER = {False: (12, 1), True: (6, 7)}
LATE_SUMMER = {False: 8, True: 2}
"""Month in which winter quarters are still ahead for every tree."""

MONTHS_WIRED = 4
"""R13 and common practice: wire set in growth is looked at well before so many months."""

LONG_YEAR = 330
"""Days that a stretch must have for its year's needs to be asked for."""


@dataclass
class Told:
    """What the advice of a year told, gathered plan by plan."""

    southern: bool
    first: Plan | None = None
    last: Plan | None = None
    advice: dict[tuple[str, str], list[tuple[date, Advice]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    outdoors: set[str] = field(default_factory=set)
    under_cover: dict[str, set[tuple[int, int]]] = field(default_factory=lambda: defaultdict(set))
    too_cold: set[str] = field(default_factory=set)
    warm_enough: set[str] = field(default_factory=set)

    def add(self, plan: Plan) -> None:
        """Take note of a plan."""
        self.first, self.last = self.first or plan, plan
        for each in plan.advice:
            if each.action in WANTED:
                slim = replace(each, reasons=())
                self.advice[each.tree, each.action].append((plan.on, slim))
        for tree in plan.garden.trees:
            self._stands(plan, tree)

    def _stands(self, plan: Plan, tree: Tree) -> None:
        place, month = plan.garden.place(tree.place), plan.on.month
        taxon, nights = plan.taxa[tree.taxon], plan.outlooks[tree.id].nights
        if place.kind in ("bench", "shade-bench") and month == LATE_SUMMER[self.southern]:
            self.outdoors.add(tree.id)
        if place.kind in ("shed", "cold-frame") and month in DEEP_WINTER[self.southern]:
            self.under_cover[tree.id].add(plan.on.isocalendar()[:2])
        keep = taxon.hardiness.keep_above
        tonight = [night.air_minimum for night in nights if night.lead_days == 0]
        if keep is not None and any(low < keep.value for low in tonight):
            self.too_cold.add(tree.id)
        ahead = [night.air_minimum for night in nights if night.lead_days < 10]
        if ahead and min(ahead) >= number("repot.warm_night_minimum"):
            self.warm_enough.add(tree.id)


def unmet(told: Told) -> list[Objection]:
    """Return what the year of some tree needed and no advice of the year told."""
    if told.first is None or told.last is None:
        return []
    return [
        Objection(rule, told.last.on, tree.name, why)
        for tree in told.last.garden.trees
        for rule, why in _needs(told, told.first, told.last, tree)
    ]


def _needs(told: Told, first: Plan, last: Plan, tree: Tree) -> Iterator[tuple[str, str]]:
    taxon = last.taxa[tree.taxon]
    if (last.on - first.on).days >= LONG_YEAR:
        yield from _repotting_needs(told, first, tree, taxon)
        yield from _winter_needs(told, tree, taxon)
    yield from _wire_needs(told, first, last, tree)


def _repotting_needs(
    told: Told, first: Plan, tree: Tree, taxon: Taxon
) -> Iterator[tuple[str, str]]:
    """Ask for a window that a tree may use in its due year, or the reason why it must wait."""
    before = next(each for each in first.garden.trees if each.id == tree.id)
    last = before.last("repotted")
    if last is not None and (first.on - last.on).days < 365 * interval(tree, taxon):
        return
    since = last.on if last else "never"
    windows = [each for action in REPOT for _, each in told.advice[tree.id, action]]
    if not windows:
        yield "R23", f"no repotting window all year, last {since}"
    elif all(each.blocked for each in windows) and not _excused(told, first, tree, taxon):
        yield "R23", f"no window that may be used, last {since}: {windows[-1].blocked}"


def _excused(told: Told, first: Plan, tree: Tree, taxon: Taxon) -> bool:
    """Whether a due tree has to wait all the same: weak, resting, without shelter or warmth."""
    closed = any(place.kind in ("shed", "cold-frame") for place in first.garden.places)
    cold = taxon.repotting.cue == "warm-nights" and tree.id not in told.warm_enough
    recent = [
        record
        for record in tree.records
        if record.kind in (*REST_MONTHS, "acquired")
        and timedelta() <= record.on - first.on + timedelta(days=MONTH * 12) < timedelta(days=540)
    ]
    return tree.vigour == "weak" or cold or not closed or bool(recent)


def _wire_needs(told: Told, first: Plan, last: Plan, tree: Tree) -> Iterator[tuple[str, str]]:
    wired, removed = tree.last("wired"), tree.last("wire-removed")
    if wired is None or (removed is not None and removed.on >= wired.on) or wired.on >= last.on:
        return
    looks = [
        each.span.first
        for on, each in told.advice[tree.id, "wire-check"]
        if on >= wired.on and isinstance(each.span, Days)
    ]
    # wire of an earlier year had its first look in that year
    spring = wired.on >= first.on and wired.on.month in GROWING[told.southern]
    if not looks:
        yield "R13", f"wired on {wired.on} and never looked at"
    elif spring and min(looks) > wired.on + timedelta(days=MONTH * MONTHS_WIRED):
        yield "R13", f"wired on {wired.on}, first looked at on {min(looks)}"


def _winter_needs(told: Told, tree: Tree, taxon: Taxon) -> Iterator[tuple[str, str]]:
    if tree.id in told.outdoors and not told.advice[tree.id, "winter-shelter"]:
        yield "R51 R53", "no word of winter quarters all year"
    if tree.id in told.too_cold and not told.advice[tree.id, "winter-night"]:
        yield "R53", "tender, unheated, and no cold night was told"
    if taxon.group != "tropical":
        felt = {each.cycle for _, each in told.advice[tree.id, "winter-water"]}
        winter = {f"{year}-W{week:02d}" for year, week in told.under_cover[tree.id]}
        if winter - felt:
            yield "R43", f"under cover in winter and not felt in {sorted(winter - felt)}"
