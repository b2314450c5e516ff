"""One tree in one plan, as the second opinion sees it, and the practice file as it reads it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Any

from mebuki.domain.advice import Advice, Days
from mebuki.domain.outlook import Milestone, Night
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import RecordKind, Tree
from mebuki.rounds.planned import Plan
from mebuki.rulebook import shipped_config

MONTH = 30.44
ROUNDED = 1
"""Days by which a span of months may be rounded."""

REPOT = ("repot-window", "repot-autumn")
MEDIAN = 9
"""Where the median stands in a distribution of days."""

REST_MONTHS: dict[RecordKind, str] = {
    "hard-pruned": "gap", "major-bend": "gap", "repotted": "gap", "collected": "collected",
    "defoliated": "second_flush", "decandled": "second_flush",
}  # fmt: skip
"""R02, R03 and R05: the figure of months of rest after a heavy operation."""


@dataclass
class Objection:
    """One rule that one advice, or its absence, breaks."""

    rule: str
    on: date
    tree: str
    why: str


@dataclass
class Look:
    """One tree in one plan, with its advice."""

    plan: Plan
    tree: Tree
    taxon: Taxon
    advice: list[Advice]

    @property
    def on(self) -> date:
        """The day of the plan."""
        return self.plan.on

    @property
    def open_air(self) -> bool:
        """Whether frost may reach the tree where it stands."""
        held = self.plan.garden.place(self.tree.place).minimum_held
        return held is None or held < 0

    @property
    def frost(self) -> date | None:
        """The usual first frost of autumn at its place."""
        points = self.plan.outlooks[self.tree.id].autumn_frost
        return points[MEDIAN] if points else None

    def nights(self, within: int) -> list[Night]:
        """Return the nights from tonight on, so many."""
        return [
            each for each in self.plan.outlooks[self.tree.id].nights if 0 <= each.lead_days < within
        ]

    def likely(self, stage: Milestone, season: int) -> date | None:
        """Return the median day of a stage."""
        found = self.plan.outlooks[self.tree.id].stage(stage, season)
        return found.likely if found else None

    def offered(self, *actions: str) -> list[tuple[Advice, Days]]:
        """Return the advice of some actions that may be followed: not blocked, not past."""
        return [
            (each, each.span)
            for each in self.advice
            if each.action in actions and not each.blocked and isinstance(each.span, Days)
            and each.urgency != "Past"
        ]  # fmt: skip

    @property
    def frozen(self) -> bool:
        """Whether the root ball is frozen today."""
        water = self.plan.outlooks[self.tree.id].water
        return any(each.frozen for each in water if each.day == self.on)


@cache
def _practice() -> dict[str, Any]:
    return tomllib.loads((shipped_config() / "practice.toml").read_text("utf-8"))


def number(key: str) -> float:
    """Return the value of a figure of the practice file, such as ``recovery.gap_months``."""
    section, name = key.split(".")
    return float(_practice()[section][name]["value"])


def months_later(day: date, key: str) -> date:
    """Return the day so many months later as a figure of recovery says, rounded in favour."""
    return day + timedelta(days=MONTH * number(f"recovery.{key}_months") - ROUNDED)


def weeks_later(day: date, key: str) -> date:
    """Return the day so many weeks later as a figure says."""
    return day + timedelta(weeks=number(key))


def interval(tree: Tree, taxon: Taxon) -> float:
    """R23: years between repottings of a tree."""
    grown = tree.development == "refined"
    figure = taxon.repotting.years_mature if grown else taxon.repotting.years_young
    strong = number("repot.strong_factor") if tree.vigour == "strong" else 1
    return max(figure.value * strong, 1.0) if tree.vigour == "strong" else figure.value
