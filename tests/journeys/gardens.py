"""Simulated gardens of every taxon in three pots, each pot with another history."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from mebuki.agenda.entry import Published
from mebuki.bootstrap import Inputs, plan_day
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Rulebook
from mebuki.domain.site import Place
from mebuki.domain.taxon import Taxon
from mebuki.rounds.planned import Plan
from mebuki.rulebook import read_rulebook, read_taxa
from tests.builders import a_garden, a_place, a_record, a_tree
from tests.journeys.years import HALF_A_YEAR, Measured, site, source

POTS: tuple[dict[str, Any], ...] = (
    {"shape": "round", "length_cm": 11, "height_cm": 5},
    {"shape": "oval", "length_cm": 30, "width_cm": 22, "height_cm": 7},
    {"shape": "rectangle", "length_cm": 45, "width_cm": 33, "height_cm": 12, "wall": "glazed-dark"},
)
"""A small, a flat and a large pot."""

CROWNS = (18, 42, 70)

HISTORIES: tuple[tuple[tuple[str, str, dict[str, Any]], ...], ...] = (
    (("repotted", "2008-03-20", {}),),
    (("repotted", "2011-03-20", {}), ("wired", "2013-05-10", {"amount": 9})),
    (("acquired", "2009-05-01", {}), ("major-bend", "2012-11-20", {}),
     ("wired", "2012-11-20", {"amount": 15}), ("repotted", "2013-03-28", {})),
)  # fmt: skip
"""What was done to the small, the flat and the large tree, by the northern calendar of 2013."""


@dataclass(frozen=True)
class Grounds:
    """Where and when a garden is looked at; every ``nth`` taxon is grown."""

    weather: Measured
    southern: bool = False
    shelter: bool = True
    nth: int = 1

    def __str__(self) -> str:
        bare = "" if self.shelter else " without shelter"
        return f"{self.weather} {'south' if self.southern else 'north'}{bare}"


@cache
def taxa() -> Mapping[str, Taxon]:
    """Return the shipped taxa."""
    return read_taxa()


@cache
def rulebook() -> Rulebook:
    """Return the shipped rules."""
    return read_rulebook()


def garden(grounds: Grounds) -> Garden:
    """Return a garden of every taxon in three pots, each with another history.

    The small one is strong and due, the flat one refined and wired, the large one in
    training, repotted this year; every fifth tree is weak.
    """
    trees = [
        _tree(number, index, taxon, grounds)
        for number, taxon in enumerate(taxa().values())
        if number % grounds.nth == 0
        for index in range(len(POTS))
    ]
    return a_garden(trees, _places(grounds), site=site(grounds.weather, grounds.southern))


def _places(grounds: Grounds) -> tuple[Place, ...]:
    window = a_place("window", name="South window", kind="indoors", minimum_held=16, sky_share=0,
                     rain_share=0, sun_share=0.4, wind_share=0)  # fmt: skip
    if not grounds.shelter:
        return a_place(), window
    return (
        a_place(), window,
        a_place("frame", name="Cold frame", kind="cold-frame", lag_hours=4, sky_share=0.1,
                rain_share=0, pot_on_ground=True),
        a_place("shed", name="Stone shed", kind="shed", lag_hours=24, minimum_held=1, sky_share=0,
                rain_share=0, sun_share=0.2),
    )  # fmt: skip


def _tree(number: int, index: int, taxon: Taxon, grounds: Grounds) -> Any:
    tender = taxon.hardiness.shelter.value.lower().startswith("indoor")
    shift = HALF_A_YEAR if grounds.southern else timedelta()
    weak = (number + index) % 5 == 0
    return a_tree(
        f"{taxon.common_name} {taxon.id} {index}",
        taxon=taxon.id,
        pot=POTS[index],
        canopy_cm=CROWNS[index],
        place="window" if tender and index == 1 else _home(number, index, grounds),
        vigour="weak" if weak else ("strong", "normal", "normal")[index],
        development=("training", "refined", "training")[index],
        records=[
            a_record(kind, _in_year(day, grounds.weather.first_year - 2013) + shift, **more)
            for kind, day, more in HISTORIES[index]
        ],
    )


def _in_year(text: str, later: int) -> date:
    day = date.fromisoformat(text)
    return day.replace(year=day.year + later)


def _home(number: int, index: int, grounds: Grounds) -> str:
    if not grounds.shelter or index != 1:
        return "bench"
    return ("bench", "frame", "shed")[number % 3]


def inputs(grounds: Grounds, folder: Path) -> Inputs:
    """Return garden, rules and weather; weather that must be made is written into a folder."""
    weather = source(grounds.weather, grounds.southern, folder)
    return Inputs(garden(grounds), taxa(), rulebook(), weather)


def plans_on(grounds: Grounds, folder: Path, days: Iterator[date]) -> list[Plan]:
    """Return the plans of some days of a garden whose keeper does nothing."""
    given = inputs(grounds, folder)
    return [plan(given, day, Published.nothing()) for day in days]


def plan(given: Inputs, day: date, before: Published) -> Plan:
    """Return the plan of a day, made at seven in the morning."""
    at = datetime.combine(day, time(7), given.garden.site.zone).astimezone(UTC)
    return plan_day(given, day, at, before)
