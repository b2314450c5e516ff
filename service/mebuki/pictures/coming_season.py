"""Which trees move when in the season ahead, in numbers and words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from mebuki.domain.advice import Days
from mebuki.domain.outlook import Milestone, StageOutlook
from mebuki.domain.tree import Tree
from mebuki.domain.wording import count_text, day_text
from mebuki.pictures.wording import Table, short_name, some_day, span_words
from mebuki.rounds.planned import Plan

PAST_DAYS: Final = 30
"""A season whose last leaves opened longer ago gives way to the next one."""

REPOT_WINDOW: Final = "repot-window"
"""The action of advice whose span is drawn as a window."""

MOVING: Final = 0.5


@dataclass(frozen=True, slots=True)
class SeasonRow:
    """Trees that share their season: one strip of the picture."""

    label: str
    trees: tuple[str, ...]
    swell: StageOutlook
    opens: StageOutlook
    unfolded: StageOutlook
    windows: tuple[Days, ...]

    def density(self, day: date) -> float:
        """Return the probability [0..1] that a day lies between bud swell and leaf-out."""
        return max(0.0, self.swell.probability_by(day) - self.unfolded.probability_by(day))

    @property
    def bounds(self) -> tuple[date, date]:
        """The first day on which buds may swell and the last on which leaves may open."""
        first = [day for day in self.swell.quantiles if day is not None]
        last = [day for day in self.unfolded.quantiles if day is not None]
        return min(first), max(last or first) + timedelta(days=1)


def season_rows(plan: Plan) -> tuple[SeasonRow, ...]:
    """Return the strips of the season ahead, the earliest first."""
    season = _season_shown(plan)
    alike: dict[tuple[str, StageOutlook, StageOutlook], list[Tree]] = defaultdict(list)
    for tree in plan.garden.trees:
        stages = _stages(plan, tree, season)
        if stages is not None and _rests(plan, tree):
            alike[tree.taxon, stages[0], stages[2]].append(tree)
    strips = Counter(taxon for taxon, _, _ in alike)
    rows = []
    for (taxon, _, _), trees in alike.items():
        stages = _stages(plan, trees[0], season)
        if stages is not None:
            label = _label(plan, trees, alone=strips[taxon] == 1)
            names = tuple(tree.name for tree in trees)
            rows.append(SeasonRow(label, names, *stages, _windows(plan, trees)))
    rows = [_in_season(row, rows) for row in rows]
    return tuple(sorted(rows, key=lambda row: (row.swell.likely or row.bounds[1], row.label)))


def _in_season(row: SeasonRow, rows: Sequence[SeasonRow]) -> SeasonRow:
    """Return a strip with those of its windows alone that begin and end with the season."""
    first = min(other.bounds[0] for other in rows)
    last = max(other.bounds[1] for other in rows)
    kept = tuple(span for span in row.windows if first <= span.first and span.last <= last)
    return replace(row, windows=kept)


def _rests(plan: Plan, tree: Tree) -> bool:
    """Say whether a tree has a winter rest that its buds end; a tropical one has none."""
    taxon = plan.taxa.get(tree.taxon)
    return taxon is None or taxon.group != "tropical"


def _season_shown(plan: Plan) -> int:
    running = {outlook.season for outlook in plan.outlooks.values()}
    season = max(running, default=plan.on.year)
    last = [
        stage.likely
        for outlook in plan.outlooks.values()
        if (stage := outlook.stage(Milestone.UNFOLDED, season)) and stage.likely
    ]
    over = bool(last) and max(last) + timedelta(days=PAST_DAYS) < plan.on
    return season + 1 if over else season


def _stages(
    plan: Plan, tree: Tree, season: int
) -> tuple[StageOutlook, StageOutlook, StageOutlook] | None:
    outlook = plan.outlooks.get(tree.id)
    if outlook is None:
        return None
    swell = outlook.stage(Milestone.SWELL, season)
    opens = outlook.stage(Milestone.BREAK, season)
    unfolded = outlook.stage(Milestone.UNFOLDED, season)
    if swell is None or opens is None or unfolded is None or not any(swell.quantiles):
        return None
    return swell, opens, unfolded


def _label(plan: Plan, trees: Sequence[Tree], alone: bool) -> str:
    taxon = plan.taxa.get(trees[0].taxon)
    name = short_name(taxon.common_name if taxon else trees[0].taxon)
    places = sorted({plan.garden.place(tree.place).name for tree in trees})
    where = "" if alone or len(places) > 1 else f", {places[0]}"
    who = trees[0].name if len(trees) == 1 else count_text(len(trees), "tree")
    return f"{name[:1].upper()}{name[1:]}{where}: {who}"


def _windows(plan: Plan, trees: Sequence[Tree]) -> tuple[Days, ...]:
    ids = {tree.id for tree in trees}
    spans = {
        (advice.span.first, advice.span.last)
        for advice in plan.advice
        if advice.action == REPOT_WINDOW and isinstance(advice.span, Days)
        if advice.tree in ids and not advice.blocked
    }
    merged: list[Days] = []
    for first, last in sorted(spans):
        if merged and first <= merged[-1].last:
            merged[-1] = Days(merged[-1].first, max(merged[-1].last, last))
        else:
            merged.append(Days(first, last))
    return tuple(merged)


def season_table(plan: Plan) -> Table:
    """Return the numbers of the picture."""
    return Table(
        caption=f"When buds move in {_season_shown(plan)}: the likely day, and the span that "
        "holds it in eight cases of ten",
        columns=("Trees", "Buds swell", "Buds open", "Leaves unfolded", "Repotting window"),
        rows=tuple(
            (
                row.label,
                *(_spread(stage) for stage in (row.swell, row.opens, row.unfolded)),
                ", ".join(span_words(span.first, span.last) for span in row.windows) or "none",
            )
            for row in season_rows(plan)
        ),
    )


def _spread(stage: StageOutlook) -> str:
    if stage.earliest is None or stage.likely is None or stage.latest is None:
        return some_day(stage.likely)
    return f"{day_text(stage.likely)} ({span_words(stage.earliest, stage.latest)})"


def describe_season(plan: Plan) -> str:
    """Return in words what the picture shows."""
    rows = season_rows(plan)
    if not rows:
        return "No bud swell can be foreseen for any tree."
    now = [row.label for row in rows if row.density(plan.on) >= MOVING]
    ends = rows[0], rows[-1]
    likely = [some_day(row.swell.likely) for row in ends]
    text = (
        f"Days run from left to right. Each strip is darkest where buds are most likely between "
        f"swelling and the first leaf. First: {ends[0].label}, likely {likely[0]}. "
        f"Last: {ends[1].label}, likely {likely[1]}. "
    )
    moving = "; ".join(now) if now else "none"
    return f"{text}Moving today, {day_text(plan.on)}: {moving}."
