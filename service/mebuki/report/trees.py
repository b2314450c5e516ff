"""Each tree of a plan: what it is, what comes, and the numbers behind the advice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from mebuki.domain.advice import Advice, Days, Reason
from mebuki.domain.outlook import Milestone, TreeOutlook, WaterDay
from mebuki.domain.text import one_line, plain
from mebuki.domain.tree import Tree
from mebuki.domain.wording import count_text, day_text, weekday_text
from mebuki.pictures.coming_season import REPOT_WINDOW
from mebuki.pictures.wording import Table, clock_time, number, short_name, some_day, span_words
from mebuki.report.work import KIND_ORDER, when
from mebuki.rounds.planned import Plan

STAGE_WORDS: Final = {
    Milestone.SWELL: "Buds swell (BBCH 01)",
    Milestone.BREAK: "Buds open (BBCH 07)",
    Milestone.UNFOLDED: "First leaves unfolded (BBCH 11)",
    Milestone.GROWN: "Leaves grown (BBCH 19)",
    Milestone.FLOWERING: "In flower (BBCH 61)",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One advice with everything that led to it."""

    fact: str
    deed: str
    when: str
    sure: str
    rule: str
    reasons: tuple[Reason, ...]
    blocked: str


@dataclass(frozen=True, slots=True)
class TreeView:
    """One tree, ready to be read."""

    name: str
    what: str
    facts: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]


def tree_views(plan: Plan) -> list[TreeView]:
    """Return every tree in the order of its name."""
    trees = sorted(plan.garden.trees, key=lambda tree: tree.name.casefold())
    return [_view(tree, plan) for tree in trees]


def _view(tree: Tree, plan: Plan) -> TreeView:
    taxon = plan.taxa.get(tree.taxon)
    outlook = plan.outlooks.get(tree.id)
    place = plan.garden.place(tree.place)
    cultivar = f" ‘{one_line(tree.cultivar)}’" if tree.cultivar else ""
    found = sorted(
        (advice for advice in plan.advice if advice.tree == tree.id),
        key=lambda advice: (KIND_ORDER.index(advice.kind), advice.action, advice.cycle),
    )
    return TreeView(
        name=one_line(tree.name),
        what=f"{_common(tree, plan)}{cultivar}, {one_line(place.name)}",
        facts=(*_keeping(tree, taxon.scientific_name if taxon else ""), *_season(outlook)),
        findings=tuple(_finding(advice, plan) for advice in found),
    )


def _keeping(tree: Tree, scientific: str) -> tuple[tuple[str, str], ...]:
    newest = sorted(tree.records, key=lambda record: record.on, reverse=True)[:3]
    done = "; ".join(
        f"{record.kind.replace('-', ' ')} {day_text(record.on)} {record.on.year}"
        for record in newest
    )
    return (
        ("Species", scientific or tree.taxon),
        ("Pot", f"{tree.pot}, {number(tree.pot.volume, 1)} L"),
        ("State", f"{tree.vigour} vigour, {tree.development}, {tree.value}"),
        ("Last records", done or "none"),
    )


def _season(outlook: TreeOutlook | None) -> tuple[tuple[str, str], ...]:
    if outlook is None:
        return (("Season", "nothing could be said of this tree"),)
    facts = []
    for milestone, words in STAGE_WORDS.items():
        stage = outlook.stage(milestone, outlook.season)
        if stage is not None:
            spread = (
                f", in eight cases of ten {span_words(stage.earliest, stage.latest)}"
                if stage.earliest and stage.latest
                else ""
            )
            facts.append((words, f"{some_day(stage.likely)}{spread}"))
    return (*facts, *(("Mind", plain(remark)) for remark in outlook.remarks))


def _finding(advice: Advice, plan: Plan) -> Finding:
    return Finding(
        fact=one_line(advice.fact),
        deed=plain(advice.deed),
        when=when(advice.span, plan),
        sure=sure(advice),
        rule=advice.rule,
        reasons=advice.reasons,
        blocked=plain(advice.blocked),
    )


def sure(advice: Advice) -> str:
    """Return how sure an advice is, in words and where known in cases of a hundred."""
    words = advice.certainty.value.lower()
    if advice.probability is None:
        return words
    return f"{words}, about {number(100 * advice.probability)} in 100"


def repot_table(plan: Plan) -> Table:
    """Return the repotting window of every tree that has one, the earliest first."""
    named = {tree.id: tree for tree in plan.garden.trees}
    found = [
        (named[advice.tree], advice, advice.span)
        for advice in plan.advice
        if advice.action == REPOT_WINDOW and isinstance(advice.span, Days) and advice.tree in named
    ]
    found.sort(key=lambda each: (each[2].first, each[0].name))
    return Table(
        caption="Repotting windows, the earliest first",
        columns=("Tree", "Window", "Likely best", "How sure", "Today"),
        rows=tuple(
            (
                f"{one_line(tree.name)}, {_common(tree, plan)}",
                span_words(span.first, span.last)
                + (f" {span.last.year}" if span.last.year != plan.on.year else ""),
                day_text(span.likely) if span.likely else "",
                sure(advice),
                _standing(advice, span, plan),
            )
            for tree, advice, span in found
        ),
    )


def _standing(advice: Advice, span: Days, plan: Plan) -> str:
    if advice.blocked:
        return f"wait: {plain(advice.blocked)}"
    if span.first <= plan.on <= span.last:
        return f"open, {count_text((span.last - plan.on).days, 'day')} left"
    if plan.on < span.first:
        return f"opens in {count_text((span.first - plan.on).days, 'day')}"
    return "over"


def _common(tree: Tree, plan: Plan) -> str:
    taxon = plan.taxa.get(tree.taxon)
    return short_name(taxon.common_name) if taxon else tree.taxon


def water_table(plan: Plan) -> Table:
    """Return today's water of every pot, the driest first."""
    zone = plan.garden.site.zone
    days = [
        (tree, day) for tree in plan.garden.trees if (day := _water_today(plan, tree)) is not None
    ]
    days.sort(key=lambda pair: (pair[1].share_evening, pair[0].name))
    return Table(
        caption=f"Water in the pots, {weekday_text(plan.on)}: share of the easily available water",
        columns=("Tree", "Left at 06:00", "Left at 21:00", "Use today", "Used up at about"),
        rows=tuple(
            (
                one_line(tree.name),
                _share(day.share_morning),
                _share(day.share_evening),
                f"{number(day.use, 2)} L, give or take {number(day.spread, 2)}",
                "frozen"
                if day.frozen
                else clock_time(day.dry_at.astimezone(zone))
                if day.dry_at
                else "not today",
            )
            for tree, day in days
        ),
    )


def _water_today(plan: Plan, tree: Tree) -> WaterDay | None:
    outlook = plan.outlooks.get(tree.id)
    days = outlook.water if outlook is not None else ()
    return next((day for day in days if day.day == plan.on), None)


def _share(share: float) -> str:
    return f"{number(100 * max(share, 0))} %"
