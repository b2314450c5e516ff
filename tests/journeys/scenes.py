"""Scenes for the second opinion: one tree on one day, told what is lawful or what is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from mebuki.domain.advice import Advice, CareKind, Days
from mebuki.domain.site import Place
from mebuki.rounds.planned import Plan
from tests.builders import (
    AT,
    ON,
    a_frost_free_place,
    a_garden,
    a_night,
    a_place,
    a_record,
    a_rulebook,
    a_taxon,
    a_tree,
    a_tropical_taxon,
    an_advice,
    an_outlook,
)
from tests.journeys.checker import objections
from tests.plans import a_picture

BENCH = a_place()
SHED = a_frost_free_place()
WINDOW = a_place("window", name="South window", kind="indoors", minimum_held=16)
DEED = "Repot when buds swell. Keep the root ball above 0 °C. Let a frozen root ball thaw first."
MAY, AUTUMN = date(2013, 5, 20), date(2013, 10, 20)


@dataclass
class Scene:
    """One tree on one day, what is foreseen for it, and what it is told."""

    advice: Sequence[Advice] = ()
    records: Sequence[tuple[str, str]] = ()
    on: date = ON
    vigour: str = "normal"
    tropical: bool = False
    places: tuple[Place, ...] = (BENCH, SHED)
    outlook: dict[str, Any] = field(default_factory=dict)

    def plan(self) -> Plan:
        """Return the plan of the scene."""
        taxon = a_tropical_taxon() if self.tropical else a_taxon()
        records = [a_record(kind, day) for kind, day in self.records]
        tree = a_tree(taxon=taxon.id, vigour=self.vigour, records=records)
        outlook = an_outlook(on=self.on, **self.outlook)
        return Plan(
            garden=a_garden([tree], self.places), on=self.on, at=AT, picture=a_picture(),
            taxa={taxon.id: taxon}, outlooks={tree.id: outlook}, advice=tuple(self.advice),
            entries=(), notices=(), rulebook=a_rulebook(),
        )  # fmt: skip

    def found(self) -> set[str]:
        """Return the rules to which the second opinion objects."""
        return {rule for each in objections([self.plan()]) for rule in each.rule.split()}


def repot(first: date = date(2013, 3, 22), days: int = 13, **changes: Any) -> Advice:
    """Return a repotting window that names frost."""
    given: dict[str, Any] = {"span": Days(first, first + timedelta(days=days)), "deed": DEED}
    return an_advice(**(given | changes))


def care(kind: CareKind, action: str, first: date, last: date, **changes: Any) -> Advice:
    """Return an advice of another kind."""
    given: dict[str, Any] = {
        "kind": kind,
        "action": action,
        "span": Days(first, last),
        "deed": "Do it.",
    }
    return an_advice(**(given | {"deed": "Do it."} | changes))


def feed(first: date, last: date, action: str = "feed-season") -> Advice:
    """Return an advice to feed."""
    return care(CareKind.FEED, action, first, last)


def prune(first: date, last: date, action: str = "prune-structure") -> Advice:
    """Return an advice to cut."""
    return care(CareKind.PRUNE, action, first, last)


def told_night(evening: date) -> Advice:
    """Return the word on a cold night."""
    return an_advice(kind=CareKind.FROST, action="frost-night", cycle=evening.isoformat())


def look(first: date, fact: str = "check the wire") -> Advice:
    """Return an advice to look at wire."""
    return care(CareKind.WIRE, "wire-check", first, first + timedelta(days=6), fact=fact)


def nights(*lows: float, on: date = ON) -> dict[str, Any]:
    """Return an outlook of some coming nights, from tonight on."""
    return {
        "nights": tuple(
            a_night(on + timedelta(days=lead), low, on) for lead, low in enumerate(lows)
        )
    }
