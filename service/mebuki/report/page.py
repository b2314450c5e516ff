"""The report of one round: one HTML file that needs nothing from anywhere else."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from mebuki.domain.advice import CareKind
from mebuki.domain.site import Place
from mebuki.domain.text import one_line
from mebuki.pictures.coming_nights import (
    describe_nights,
    nights_table,
    place_nights,
    place_shown,
)
from mebuki.pictures.coming_season import describe_season, season_rows, season_table
from mebuki.pictures.nights import nights_chart
from mebuki.pictures.render import to_svg
from mebuki.pictures.season import season_chart
from mebuki.pictures.style import PAGE_WIDTH, PHONE_WIDTH, Spec
from mebuki.pictures.wording import Table, clock_time, long_day
from mebuki.report import sources, trees, work
from mebuki.rounds.planned import Plan

CHAPTERS: Final = (
    ("today", "What needs a hand today"),
    ("official", "Official warnings"),
    ("soon", "The next two weeks"),
    ("nights", "The coming nights"),
    ("season", "The season ahead"),
    ("repot", "Repotting windows"),
    ("wire", "Wire"),
    ("water", "Watering"),
    ("winter", "Frost, winter, heat and wind"),
    ("growth", "Pruning, deadwood, feeding, scouting"),
    ("waiting", "What was put off, and why"),
    ("trees", "Each tree"),
    ("weather", "The weather behind this"),
    ("cautions", "Take care"),
    ("words", "How sure, and what the words mean"),
)
"""Anchor and heading of each part of the report, in order."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing for phones and one for pages, what it shows in words, and its numbers."""

    narrow: Markup
    wide: Markup
    words: str
    table: Table


def write_report(plan: Plan) -> str:
    """Return the whole report; the same plan gives the same text."""
    place = place_shown(plan)
    rows = season_rows(plan)
    official = sources.official(plan)
    chapters = {anchor: name for anchor, name in CHAPTERS if anchor != "official" or official}
    return _environment().get_template("report.html.j2").render(
        chapters=chapters,
        garden=one_line(plan.garden.name),
        invented=plan.garden.invented,
        site=one_line(plan.garden.site.name),
        day=long_day(plan.on),
        hour=clock_time(plan.at.astimezone(plan.garden.site.zone)),
        tree_count=len(plan.garden.trees),
        today=work.today(plan),
        running=work.running(plan),
        soon=work.soon(plan),
        official=official,
        nights=_nights(plan, place) if place and place_nights(plan, place) else None,
        other_nights=_other_nights(plan, place),
        season=_season(plan) if rows else None,
        repot=trees.repot_table(plan),
        wire=work.of_kinds(plan, CareKind.WIRE),
        water=work.of_kinds(plan, CareKind.WATER),
        water_table=trees.water_table(plan),
        winter=work.of_kinds(
            plan, CareKind.FROST, CareKind.WINTER, CareKind.HEAT, CareKind.WIND
        ),
        growth=work.of_kinds(
            plan, CareKind.PRUNE, CareKind.DEADWOOD, CareKind.FEED, CareKind.SCOUT,
            CareKind.OBSERVE,
        ),
        waiting=work.waiting(plan),
        trees=trees.tree_views(plan),
        age=sources.age(plan),
        remarks=[one_line(remark) for remark in plan.picture.remarks],
        provenance=sources.provenance(plan),
        rejected=sources.rejected(plan),
        credits=sources.credits_(plan),
        cautions=_cautions(plan),
    )  # fmt: skip


def _nights(plan: Plan, place: Place) -> Figure:
    return Figure(
        narrow=_drawn(nights_chart(plan, place, PHONE_WIDTH)),
        wide=_drawn(nights_chart(plan, place, PAGE_WIDTH)),
        words=describe_nights(plan, place),
        table=nights_table(plan, place),
    )


def _other_nights(plan: Plan, shown: Place | None) -> list[Table]:
    """Return the nights of the further places, as numbers alone."""
    return [
        nights_table(plan, place)
        for place in plan.garden.places
        if place != shown and place_nights(plan, place)
    ]


def _season(plan: Plan) -> Figure:
    return Figure(
        narrow=_drawn(season_chart(plan, PHONE_WIDTH)),
        wide=_drawn(season_chart(plan, PAGE_WIDTH)),
        words=describe_season(plan),
        table=season_table(plan),
    )


def _drawn(spec: Spec) -> Markup:
    """Return a drawing as markup: the renderer escapes every text it writes."""
    return Markup(to_svg(spec))  # noqa: S704 - made by our own renderer, not by a reader


def _cautions(plan: Plan) -> list[tuple[str, str]]:
    """Return the safety texts that the advice of this round calls for."""
    named = {key for advice in plan.advice for key in advice.cautions}
    texts = plan.rulebook.cautions
    return [(texts[key].text, texts[key].authority) for key in sorted(named) if key in texts]


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("mebuki.report"),
        autoescape=select_autoescape(("html.j2",), default=False),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
