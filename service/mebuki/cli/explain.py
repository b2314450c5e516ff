"""``mebuki explain``: the year of one tree in plain words, and the numbers behind it."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.agenda.year import year_of
from mebuki.domain.advice import Advice, CareKind, Days
from mebuki.domain.garden import Garden
from mebuki.domain.history import contradictions
from mebuki.domain.outlook import Milestone, StageOutlook, TreeOutlook
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.errors import InputError
from mebuki.season.autumn import WARNING as AUTUMN_WARNING

if TYPE_CHECKING:
    from mebuki.rounds.planned import Plan


def explain(
    tree: Annotated[str, typer.Argument(help="The tree's name or id.")],
    kind: Annotated[CareKind | None, typer.Option(help="One kind of care only.")] = None,
    on: Annotated[
        str | None, typer.Option(help="The local day, YYYY-MM-DD; now if left out.")
    ] = None,
    garden: Annotated[
        Path | None, typer.Option(help="A garden file; the example garden if none is set.")
    ] = None,
    weather: Annotated[
        Path | None, typer.Option(help="A measured hourly series (CSV); the demo year if unset.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Tell the year of a tree: what is coming in order, why, how sure, what must wait.

    The numbers, rules and sources behind each advice follow.
    """
    from mebuki.agenda.entry import Published
    from mebuki.bootstrap import plan_day, read_inputs
    from mebuki.cli.days import nominal
    from mebuki.settings import read_settings

    inputs = read_inputs(read_settings(), garden, weather)
    wanted = find_tree(inputs.garden, tree)
    day, at = nominal(inputs.garden.site, on)
    plan = plan_day(inputs, day, at, Published.nothing())
    advice = [each for each in plan.advice if each.tree == wanted.id and kind in (None, each.kind)]
    if as_json:
        typer.echo(json.dumps([_data(each) for each in advice], indent=2, ensure_ascii=False))
    else:
        typer.echo("\n".join(_text(plan, wanted, advice)))


def find_tree(garden: Garden, name: str) -> Tree:
    """Return a tree by name or id; `InputError` with near matches if there is none."""
    for tree in garden.trees:
        if name.casefold() in (tree.id.casefold(), tree.name.casefold()):
            return tree
    near = difflib.get_close_matches(name, [tree.name for tree in garden.trees], n=3, cutoff=0.4)
    hint = f"; near: {', '.join(near)}" if near else ""
    msg = f"{name}: no such tree in {garden.name}{hint}"
    raise InputError(msg)


def _text(plan: Plan, tree: Tree, advice: list[Advice]) -> Iterator[str]:
    taxon = plan.taxa[tree.taxon]
    outlook = plan.outlooks[tree.id]
    yield f"{tree.name}: {taxon.common_name} ({taxon.scientific_name})"
    yield f"on {plan.garden.place(tree.place).name}, {tree.pot}, {tree.vigour}, {tree.development}"
    yield f"as known on {plan.on}, weather {outlook.freshness}"
    yield ""
    yield from year_of(plan.situation, tree.id, advice)
    yield from _mend(tree)
    yield ""
    yield "The numbers"
    yield ""
    yield "The season (earliest of ten, likely, latest of ten)"
    for stage in outlook.stages:
        yield "  " + _stage_line(stage)
    yield from _models(taxon, outlook)
    yield ""
    yield "Advice" if advice else "Advice: none today"
    for each in advice:
        yield from _advice_lines(each)
    for remark in (*outlook.remarks, *plan.picture.remarks):
        yield f"Note: {remark}"


def _mend(tree: Tree) -> Iterator[str]:
    """Yield the records that contradict others and are not used."""
    doubts = contradictions(tree)
    if doubts:
        yield ""
        yield "Records to mend; they are not used until then"
        yield from (f"  {doubt}" for doubt in doubts)


def _models(taxon: Taxon, outlook: TreeOutlook) -> Iterator[str]:
    """Yield how far the clocks can be trusted, and what other published models say."""
    if taxon.group == "tropical":
        yield "  no clock of leaf-out is published for tropical trees: warm nights stand for it"
        return
    clock = taxon.phenology.bud_break
    yield f"  requirement {clock.cwtt.value:g} °C d ({clock.quality or 'quality unknown'})"
    yield f"    [{clock.cwtt.source}]; spread of its logarithm {clock.sd_ln.value:g}"
    for model, day in outlook.other_clocks:
        yield f"  bud break by another published model, {model}: {day or 'not reached'}"
    if any(stage.milestone in (Milestone.COLOUR, Milestone.LEAF_FALL) for stage in outlook.stages):
        yield f"  {AUTUMN_WARNING}"


def _stage_line(stage: StageOutlook) -> str:
    code = f"BBCH {stage.milestone.bbch:02d}" if stage.milestone.bbch is not None else "-"
    days = ", ".join(
        str(day) if day else "not reached" for day in (stage.earliest, stage.likely, stage.latest)
    )
    return f"{stage.season}  {stage.milestone:<16} {code:<8} {days}"


def _advice_lines(each: Advice) -> Iterator[str]:
    yield f"  {each.kind}: {each.fact}"
    yield f"    when      {_span(each)}"
    yield f"    do        {each.deed}"
    if each.blocked:
        yield f"    put off   {each.blocked}"
    sure = "" if each.probability is None else f", probability {each.probability:.0%}"
    yield f"    how sure  {each.certainty.lower()}{sure}"
    for reason in each.reasons:
        yield f"    because   {reason.what}: {reason.value}  [{reason.source}]"
    yield f"    rule      {each.rule}"


def _span(each: Advice) -> str:
    if isinstance(each.span, Days):
        return f"{each.span.first} to {each.span.last}"
    return f"{each.span.begins:%Y-%m-%d %H:%M} to {each.span.ends:%Y-%m-%d %H:%M} UTC"


def _data(each: Advice) -> dict[str, object]:
    return {
        "kind": each.kind,
        "action": each.action,
        "cycle": each.cycle,
        "when": _span(each),
        "fact": each.fact,
        "deed": each.deed,
        "urgency": each.urgency,
        "severity": each.severity,
        "certainty": each.certainty,
        "probability": each.probability,
        "blocked": each.blocked,
        "rule": each.rule,
        "reasons": [
            {"what": reason.what, "value": reason.value, "source": reason.source}
            for reason in each.reasons
        ],
        "cautions": list(each.cautions),
    }
