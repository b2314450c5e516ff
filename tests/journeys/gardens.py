"""Simulated gardens of every taxon in several pots, and measured weather for both hemispheres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from mebuki.agenda.entry import Published
from mebuki.bootstrap import Inputs, plan_day
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.rounds.planned import Plan
from mebuki.rulebook import read_rulebook, read_taxa, shipped_config
from mebuki.weather.replay import ReplaySource
from tests.builders import a_garden, a_place, a_record, a_site, a_tree

PUBLISHED = Path(__file__).parents[1] / "data/published"
DEMO = shipped_config() / "demo"
SERIES: Mapping[str, Path] = {
    "JFK": DEMO / "nyc_jfk_hourly_2013.csv",
    "EWR": PUBLISHED / "nyc_ewr_hourly_2013.csv",
    "LGA": PUBLISHED / "nyc_lga_hourly_2013.csv",
}
"""Three measured years: airports of New York, 2013."""

DAILY = DEMO / "noaa_seattle_newyork_daily_2012_2015.csv"

HALF_A_YEAR = timedelta(days=182)
"""Days by which a northern year is shifted to serve the south."""

TO_SOUTHERN_CLOCKS = timedelta(hours=-15)
"""From the sun of New York to that of Melbourne, in UTC."""

POTS: tuple[dict[str, Any], ...] = (
    {"shape": "round", "length_cm": 11, "height_cm": 5},
    {"shape": "oval", "length_cm": 30, "width_cm": 22, "height_cm": 7},
    {"shape": "rectangle", "length_cm": 45, "width_cm": 33, "height_cm": 12, "wall": "glazed-dark"},
)
"""A small, a flat and a large pot."""

CROWNS = (18, 42, 70)


@dataclass(frozen=True)
class Grounds:
    """Where and when a garden is looked at."""

    series: str
    southern: bool
    shelter: bool = True

    def __str__(self) -> str:
        return f"{self.series}-{'south' if self.southern else 'north'}"


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
    shift = HALF_A_YEAR if grounds.southern else timedelta()
    closed = (
        a_place("frame", name="Cold frame", kind="cold-frame", lag_hours=4, sky_share=0.1,
                rain_share=0, pot_on_ground=True),
        a_place("shed", name="Stone shed", kind="shed", lag_hours=24, minimum_held=1, sky_share=0,
                rain_share=0, sun_share=0.2),
    )  # fmt: skip
    window = a_place("window", name="South window", kind="indoors", minimum_held=16, sky_share=0,
                     rain_share=0, sun_share=0.4, wind_share=0)  # fmt: skip
    places = (a_place(), window, *(closed if grounds.shelter else ()))
    trees = []
    for number, taxon in enumerate(taxa().values()):
        for index, pot in enumerate(POTS):
            weak = (number + index) % 5 == 0
            tender = taxon.hardiness.shelter.value.lower().startswith("indoor")
            home = "window" if tender and index == 1 else _home(number, index, grounds)
            trees.append(
                a_tree(
                    f"{taxon.common_name} {taxon.id} {index}", taxon=taxon.id, pot=pot,
                    canopy_cm=CROWNS[index], place=home,
                    vigour="weak" if weak else ("strong", "normal", "normal")[index],
                    development=("training", "refined", "training")[index],
                    records=[
                        a_record(kind, _day(day) + shift, **more)
                        for kind, day, more in HISTORIES[index]
                    ],
                )
            )  # fmt: skip
    site = a_site() if not grounds.southern else a_site(
        latitude=-40.6, longitude=145.0, time_zone="Australia/Melbourne"
    )  # fmt: skip
    return a_garden(trees, places, site=site)


HISTORIES: tuple[tuple[tuple[str, str, dict[str, Any]], ...], ...] = (
    (("repotted", "2008-03-20", {}),),
    (("repotted", "2011-03-20", {}), ("wired", "2013-05-10", {"amount": 9})),
    (("acquired", "2009-05-01", {}), ("major-bend", "2012-11-20", {}),
     ("wired", "2012-11-20", {"amount": 15}), ("repotted", "2013-03-28", {})),
)  # fmt: skip
"""What was done to the small, the flat and the large tree, by the northern calendar."""


def _day(text: str) -> date:
    return date.fromisoformat(text)


def _home(number: int, index: int, grounds: Grounds) -> str:
    if not grounds.shelter or index != 1:
        return "bench"
    return ("bench", "frame", "shed")[number % 3]


def inputs(grounds: Grounds, folder: Path) -> Inputs:
    """Return garden, rules and weather; the southern series is written into a folder."""
    hourly, daily = SERIES[grounds.series], DAILY
    if grounds.southern:
        hourly = _shifted(hourly, folder / f"{grounds.series}_south.csv", hours=True)
        daily = _shifted(daily, folder / "daily_south.csv", hours=False)
    weather = ReplaySource(hourly, daily, location="New York")
    return Inputs(garden(grounds), taxa(), rulebook(), weather)


def _shifted(source: Path, target: Path, *, hours: bool) -> Path:
    """Write a northern series as it would be half a year later under the southern sun."""
    lines = source.read_text("utf-8").splitlines()
    top = next(index for index, line in enumerate(lines) if not line.startswith("#"))
    column = lines[top].split(",").index("time_utc" if hours else "date")
    out = [*lines[: top + 1]]
    for line in lines[top + 1 :]:
        cells = line.split(",")
        if hours:
            moment = datetime.fromisoformat(cells[column].replace("Z", "+00:00"))
            moved = moment + HALF_A_YEAR + TO_SOUTHERN_CLOCKS
            cells[column] = f"{moved:%Y-%m-%dT%H:%M:%SZ}"
        else:
            cells[column] = (_day(cells[column]) + HALF_A_YEAR).isoformat()
        out.append(",".join(cells))
    target.write_text("\n".join(out) + "\n", "utf-8")
    return target


def year(grounds: Grounds, folder: Path, every: int) -> list[Plan]:
    """Return the plans of every so many days of the measured year."""
    given = inputs(grounds, folder)
    first = date(2013, 1, 2) + (HALF_A_YEAR if grounds.southern else timedelta())
    zone = given.garden.site.zone
    plans = []
    for ahead in range(0, 362, every):
        day = first + timedelta(days=ahead)
        at = datetime.combine(day, time(7), zone).astimezone(UTC)
        plans.append(plan_day(given, day, at, Published.nothing()))
    return plans
