"""Makers of whole plans for the stations that show them: a spring garden of several taxa."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.domain.advice import CareKind, Days, Moments, Reason, Urgency
from mebuki.domain.tree import Tree
from mebuki.domain.weather import (
    CALENDAR_DAYS,
    Climate,
    DailySeries,
    HourlySeries,
    Origin,
    Provenance,
    Rejected,
    WeatherPicture,
    hour_number,
)
from mebuki.rounds.planned import Plan
from tests.builders import (
    AT,
    ON,
    a_frost_advice,
    a_frost_free_place,
    a_garden,
    a_moment,
    a_night,
    a_place,
    a_root_night,
    a_rulebook,
    a_site,
    a_taxon,
    a_tree,
    a_water_day,
    an_advice,
    an_entry,
    an_outlook,
    some_stages,
)

TAXA = {
    "acer-palmatum": ("Japanese maple", date(2013, 4, 12)),
    "larix-decidua": ("European larch", date(2013, 4, 6)),
    "fagus-crenata": ("Japanese beech", date(2013, 4, 26)),
    "ulmus-parvifolia": ("Chinese elm", date(2013, 4, 9)),
    "malus-halliana": ("Hall crab apple", date(2013, 4, 10)),
}
"""The taxa of the plan and the likely day on which their buds break."""

LOWS = (-2.1, 0.4, 3.2, 1.1, -0.3, 4.0, 5.2)
"""Lowest air temperature [°C] of the coming nights."""


def a_picture(hours: int = 16 * 24, **changes: Any) -> WeatherPicture:
    """Return a picture with a daily swing of 5 °C either way about 4 °C, measured until `AT`."""
    start = hour_number(AT) - 48
    count = hours + 48
    swing = 4 - 5 * np.cos((np.arange(count) + start % 24 - 9) / 24 * 2 * np.pi)
    nothing = np.zeros(count)
    days = np.zeros(20)
    none = np.zeros((0, CALENDAR_DAYS))
    given: dict[str, Any] = {
        "site": a_site(),
        "at": AT,
        "hourly": HourlySeries(
            start, swing, nothing, nothing, nothing, nothing, nothing, nothing,
            np.full(count, Origin.FORECAST, np.int8),
        ),
        "daily": DailySeries(
            ON.toordinal(), days, days, days, days, np.full(20, Origin.FORECAST, np.int8)
        ),
        "climate": Climate((2012, 2014, 2015), none, none, none, none),
        "measured_until": AT,
        "forecast_until": AT + timedelta(hours=hours),
        "provenance": (
            Provenance(
                "replay", "hourly air", AT - timedelta(days=90), AT,
                credit="NOAA Integrated Surface Database, public domain",
            ),
        ),
        "rejected": (
            Rejected(a_moment("2013-03-20", 2), "air_temperature", -10.5, "step between hours"),
        ),
        "remarks": ("Only 3 climate years are known for this site; 20 or more are usual.",),
    }  # fmt: skip
    return WeatherPicture(**{**given, **changes})


def some_trees(each: int = 3) -> tuple[Tree, ...]:
    """Return a few trees of each of `TAXA`, the last of each in the shed."""
    return tuple(
        a_tree(
            f"{name} {number}", taxon=taxon,
            place="shed" if each > 1 and number == each else "bench", vigour="normal",
        )
        for taxon, (name, _) in TAXA.items()
        for number in range(1, each + 1)
    )  # fmt: skip


def a_plan(each: int = 3, **changes: Any) -> Plan:
    """Return the plan of a spring morning with a frost night ahead."""
    trees = some_trees(each)
    outlooks = {
        tree.id: an_outlook(
            tree.id, stages=some_stages(TAXA[tree.taxon][1]),
            nights=tuple(
                a_night(ON + timedelta(days=lead), low, spread=1.6 + 0.25 * lead)
                for lead, low in enumerate(LOWS)
            ),
            roots=(a_root_night(ON, -1.0),),
            water=(a_water_day(ON, 0.5), a_water_day(ON + timedelta(days=1), 0.2)),
        )
        for tree in trees
    }  # fmt: skip
    given: dict[str, Any] = {
        "garden": a_garden(
            trees, [a_place(name="Lower bench"), a_frost_free_place(name="Garden shed")],
            name="Hillside", invented=True,
        ),
        "on": ON,
        "at": AT,
        "picture": a_picture(),
        "taxa": {key: a_taxon(key, common_name=name) for key, (name, _) in TAXA.items()},
        "outlooks": outlooks,
        "advice": _advice(trees),
        "entries": _entries(trees),
        "notices": (a_notice(),),
        "rulebook": a_rulebook(),
    }  # fmt: skip
    return Plan(**{**given, **changes})


def _advice(trees: tuple[Tree, ...]) -> tuple[Any, ...]:
    windows = tuple(
        an_advice(
            tree.id,
            span=Days(TAXA[tree.taxon][1] - timedelta(days=21), TAXA[tree.taxon][1]),
            reasons=(
                Reason("last repotted", "20 Mar 2011", "your records"),
                Reason("bud break, likely", f"{TAXA[tree.taxon][1]:%d %b}", "Fu et al. 2012"),
            ),
            cautions=("sharp-tools",),
        )
        for tree in trees
    )
    put_off = an_advice(
        trees[1].id, kind=CareKind.WIRE, action="wire-check", fact="check the wire",
        deed="Look where the wire crosses the branch.",
        blocked="wait until 20 Sep: the roots were cut six days ago",
    )  # fmt: skip
    return (a_frost_advice(trees[0].id), put_off, *windows)


def _entries(trees: tuple[Tree, ...]) -> tuple[Any, ...]:
    frost = an_entry(
        "home/frost/frost-night/bench/2013-03-27", kind=CareKind.FROST,
        title="Frost −2 °C tonight: bring in 2 trees with fresh roots",
        body="Bring them into a frost-free place before dark.\n\nWhy: −2.1 °C expected at 05:00, "
        "give or take 1.6 °C.\nHow sure: 91 in 100.",
        span=Moments(a_moment(ON, 20), a_moment(ON + timedelta(days=1), 12)),
        trees=(trees[0].id, trees[1].id), urgency=Urgency.IMMEDIATE, alarm=True,
    )  # fmt: skip
    repot = an_entry(
        "home/repot/repot-window/larch/2013", title="Repot 3 larches (likely 27 Mar)",
        trees=tuple(tree.id for tree in trees if tree.taxon == "larix-decidua"),
        span=Days(date(2013, 3, 16), date(2013, 4, 5), date(2013, 3, 27)),
        body="Repot while the buds swell.\nOnce begun, keep the roots from frost for 8 weeks.",
    )  # fmt: skip
    wire = an_entry(
        "home/wire/wire-check/bench/2013-1", kind=CareKind.WIRE,
        title="Check the wire on 2 trees", body="Look where the wire crosses the branch.",
        span=Days(date(2013, 4, 8), date(2013, 4, 12)), urgency=Urgency.FUTURE,
        trees=(trees[3].id, trees[4].id),
    )  # fmt: skip
    return (frost, repot, wire)


def a_notice(**changes: Any) -> Notice:
    """Return a notice that asks for a deed before dark."""
    given: dict[str, Any] = {
        "key": "frost:2013-03-27:act",
        "thread": "frost:2013-03-27",
        "step": NoticeStep.ACT,
        "kind": CareKind.FROST,
        "subject": "Frost −2 °C before dawn: bring in 2 trees",
        "lead": "−2.1 °C expected at 05:00 on the lower bench; 2 trees with fresh roots.",
        "lines": (
            NoticeLine(
                "Lower bench", "Bring in before dark, by 19:00.",
                ("Japanese maple 1", "Japanese maple 2"),
            ),
        ),
        "facts": (
            ("Lowest air temperature", "−2.1 °C, give or take 1.6 °C"),
            ("At about", "05:00"),
            ("How sure", "91 in 100"),
        ),
        "cautions": ("Never heat a shed with an open flame.",),
        "at": AT,
    }  # fmt: skip
    return Notice(**{**given, **changes})
