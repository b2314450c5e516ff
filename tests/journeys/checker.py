"""A second opinion on a year of advice: trade rules R01 to R99, written without the rules' code.

It reads what a garden's keeper would see (advice, records, taxon files, measured nights)
and knows the numbers of the trade by themselves, at the mild end of their usual range, so
that it objects only to what no good grower would accept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import combinations

from mebuki.domain.advice import Advice, Days
from mebuki.domain.outlook import Milestone
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import RecordKind, Tree
from mebuki.rounds.planned import Plan

MONTH = 30.44
HEAVY = ("repot-window", "repot-autumn", "prune-structure", "decandle", "defoliate")
REPOT = ("repot-window", "repot-autumn")
REST_MONTHS: dict[RecordKind, float] = {
    "hard-pruned": 6, "major-bend": 6, "defoliated": 12, "decandled": 12, "repotted": 6,
}  # fmt: skip
"""R02 and R05: months of rest after a heavy operation, at least."""

SETTLING_MONTHS = 6
"""R04: months that a tree just acquired is left alone."""

GROWING = {False: (4, 5, 6), True: (10, 11, 12)}
"""Months of spring in which wire set on a tree soon bites, by ``southern``."""

FEED_PAUSE_WEEKS, FROST_FREE_WEEKS = 4, 6
"""R24 and R26, at the short end."""

START_MINIMUM, WARM_NIGHTS = -1.0, 15.0
"""R27 and R28 [°C]."""

MONTHS_WIRED = 4
"""R13 and common practice: wire set in growth is looked at well before so many months."""

NITROGEN_WEEKS = 3
"""R70: weeks before the usual first frost by which feeding ends."""

WARM_ROOM = 10.0
"""R50 and R51: a place held so warm is no winter quarters for a temperate tree [°C]."""


@dataclass
class Objection:
    """One rule that one advice, or its absence, breaks."""

    rule: str
    on: date
    tree: str
    why: str


Check = Callable[[Plan, Tree, Taxon, list[Advice]], Iterator[tuple[str, str]]]


def objections(plans: Sequence[Plan]) -> list[Objection]:
    """Return everything to which a grower would object in a year of advice."""
    found: list[Objection] = []
    for plan in plans:
        by_tree: dict[str, list[Advice]] = {tree.id: [] for tree in plan.garden.trees}
        for each in plan.advice:
            by_tree[each.tree].append(each)
        for tree in plan.garden.trees:
            told = (plan, tree, plan.taxa[tree.taxon], by_tree[tree.id])
            for check in CHECKS:
                found += [Objection(rule, plan.on, tree.name, why) for rule, why in check(*told)]
    return found


def _open(advice: list[Advice], *actions: str) -> list[tuple[Advice, Days]]:
    return [
        (each, each.span)
        for each in advice
        if each.action in actions and not each.blocked and isinstance(each.span, Days)
    ]


def _rest_on_record(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    for each, span in _open(advice, *HEAVY):
        if each.urgency == "Past":
            continue
        for kind, months in REST_MONTHS.items():
            last = tree.last(kind)
            if last is None or (kind == "repotted" and each.action in REPOT):
                continue
            if (span.first - last.on).days < MONTH * months - 2:
                yield "R02 R05", f"{each.action} from {span.first} after {kind} on {last.on}"
        bought = tree.last("acquired")
        repotted = tree.last("repotted")
        fit = bought and repotted and repotted.on > bought.on
        if bought and not fit and (span.first - bought.on).days < MONTH * SETTLING_MONTHS - 2:
            yield "R04", f"{each.action} from {span.first} after it came on {bought.on}"
        if tree.vigour == "weak":
            yield "R04", f"{each.action} on a weak tree"


def _one_heavy_operation(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    live = [(each, span) for each, span in _open(advice, *HEAVY) if each.urgency != "Past"]
    for (one, here), (other, there) in combinations(live, 2):
        if one.action in REPOT and other.action in REPOT:
            continue
        first, last = sorted((here, there), key=lambda span: span.first)
        if (last.last - first.first).days < MONTH * 6 - 2:
            yield "R01", f"{one.action} and {other.action} within half a year"


def _repotting(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    last = tree.last("repotted")
    years = taxon.repotting.years_young.value
    if tree.development == "refined":
        years = taxon.repotting.years_mature.value
    for each, span in _open(advice, *REPOT):
        if last is not None and (span.last - last.on).days < 365 * (0.75 * years - 0.5):
            yield "R23", f"repot {span.first} after {last.on}, interval {years:g} years"
        if "°C" not in each.deed or "above 0" not in each.deed:
            yield "R26", "no word of frost after repotting"
        opens = plan.outlooks[tree.id].stage(Milestone.UNFOLDED, int(each.cycle[:4]))
        spring = each.action == "repot-window" and "autumn" not in each.fact
        if taxon.deciduous and spring and opens and opens.likely and span.last >= opens.likely:
            yield "R20", f"until {span.last}, leaves out {opens.likely}"
        yield from _cold_start(plan, tree, taxon, (each, span))


def _cold_start(
    plan: Plan, tree: Tree, taxon: Taxon, found: tuple[Advice, Days]
) -> Iterator[tuple[str, str]]:
    each, span = found
    if not span.first <= plan.on <= span.last or each.urgency == "Past":
        return
    coldest = min((night.air_minimum for night in plan.outlooks[tree.id].nights), default=99.0)
    if taxon.repotting.cue == "warm-nights" and coldest < WARM_NIGHTS:
        yield "R28", f"nights of {coldest:.1f} °C"
    held = [place.minimum_held for place in plan.garden.places]
    cool = any(value is not None and 0 <= value < WARM_ROOM for value in held)
    closed = any(place.kind in ("shed", "cold-frame") for place in plan.garden.places)
    if taxon.group != "tropical" and coldest < START_MINIMUM and not (cool or closed):
        yield "R27", f"{coldest:.1f} °C ahead and no shelter but a warm room"


def _after_repotting(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    last = tree.last("repotted")
    if last is None or plan.on > last.on + timedelta(weeks=FROST_FREE_WEEKS):
        return
    if not any(each.action == "aftercare" for each in advice):
        yield "R24 R25 R26", "no care after repotting is told"
    for each, span in _open(advice, "feed-season"):
        if span.first < last.on + timedelta(weeks=FEED_PAUSE_WEEKS):
            yield "R24", f"{each.action} from {span.first}"
    place = plan.garden.place(tree.place)
    tonight = [night for night in plan.outlooks[tree.id].nights if night.lead_days == 0]
    if place.minimum_held is None and tonight and tonight[0].air_minimum < -1:
        nights = {each.cycle for each in advice if each.action in ("frost-night", "winter-night")}
        if plan.on.isoformat() not in nights:
            yield "R26", f"{tonight[0].air_minimum:.1f} °C tonight and no word"


def _water(plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]) -> Iterator[tuple[str, str]]:
    frozen = {each.cycle for each in advice if each.action == "do-not-water-frozen"}
    asked = {each.cycle for each in advice if each.action in ("water-today", "water-before-frost")}
    if plan.on.isoformat() in frozen & asked:
        yield "R42", "to be watered while frozen"


def _feeding(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    outlook = plan.outlooks[tree.id]
    frost = outlook.autumn_frost[9] if outlook.autumn_frost else None
    for _each, span in _open(advice, "feed-season"):
        if tree.vigour == "weak":
            yield "R72", "a weak tree is fed"
        if taxon.group == "tropical" or frost is None or not span.first < frost < span.last:
            continue
        if span.last > frost - timedelta(weeks=NITROGEN_WEEKS):
            yield "R70", f"feed until {span.last}, frost {frost}"
    for _each, span in _open(advice, "feed-season"):
        opens = [outlook.stage(Milestone.BREAK, span.first.year + add) for add in (0, -1)]
        likely = [stage.likely for stage in opens if stage and stage.likely]
        if taxon.deciduous and likely and all(span.first < day for day in likely):
            yield "R72", f"fed from {span.first}, in dormancy"


def _dormant_wire(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    outlook = plan.outlooks[tree.id]
    swell = outlook.stage(Milestone.SWELL, outlook.season)
    frost = outlook.autumn_frost[9] if outlook.autumn_frost else None
    if not taxon.deciduous or swell is None or swell.likely is None or frost is None:
        return
    for each, span in _open(advice, "wire-check"):
        reasoned = "longest time" in each.fact or "due since" in each.fact
        winter = frost < span.first < swell.likely if frost < swell.likely else False
        if winter and not reasoned and (swell.likely - span.first).days > 7:
            yield "R14", f"wire looked at on {span.first}, at rest: {each.fact}"


def _winter_quarters(
    plan: Plan, tree: Tree, taxon: Taxon, advice: list[Advice]
) -> Iterator[tuple[str, str]]:
    keep_above = taxon.hardiness.keep_above
    tender = taxon.group == "tropical" or (keep_above is not None and keep_above.value >= 5)
    if tender:
        return
    warm = [place.name for place in plan.garden.places if (place.minimum_held or 0) >= WARM_ROOM]
    for each in advice:
        if each.kind in ("winter", "frost", "repot") and any(name in each.deed for name in warm):
            yield "R50", f"{each.action}: {each.deed}"


CHECKS: tuple[Check, ...] = (
    _rest_on_record, _one_heavy_operation, _repotting, _after_repotting, _water, _feeding,
    _dormant_wire, _winter_quarters,
)  # fmt: skip


def unmet(plans: Sequence[Plan]) -> list[Objection]:
    """Return what the year of some tree needed and no advice of the year told."""
    told: dict[tuple[str, str], list[tuple[date, Advice]]] = {}
    for plan in plans:
        for each in plan.advice:
            told.setdefault((each.tree, each.action), []).append((plan.on, each))
    return [
        Objection(rule, plans[-1].on, tree.name, why)
        for tree in plans[-1].garden.trees
        for rule, why in _needs(plans, tree, told)
    ]


Told = Mapping[tuple[str, str], list[tuple[date, Advice]]]


def _needs(plans: Sequence[Plan], tree: Tree, told: Told) -> Iterator[tuple[str, str]]:
    taxon = plans[0].taxa[tree.taxon]
    last = tree.last("repotted")
    years = taxon.repotting.years_young.value
    if tree.development == "refined":
        years = taxon.repotting.years_mature.value
    due = last is None or (plans[-1].on - last.on).days > 365 * (years + 1)
    if due and not any((tree.id, action) in told for action in REPOT):
        yield "R23", f"no repotting window all year, last {last.on if last else 'never'}"
    yield from _wire_needs(tree, told, GROWING[plans[0].garden.site.southern])
    yield from _winter_needs(plans, tree, taxon, told)


def _wire_needs(tree: Tree, told: Told, spring: tuple[int, ...]) -> Iterator[tuple[str, str]]:
    wired = tree.last("wired")
    removed = tree.last("wire-removed")
    if wired is None or (removed is not None and removed.on >= wired.on):
        return
    looks = [
        each.span.first
        for on, each in told.get((tree.id, "wire-check"), [])
        if on >= wired.on and isinstance(each.span, Days)
    ]
    if not looks:
        yield "R13", f"wired on {wired.on} and never looked at"
    elif wired.on.month in spring and min(looks) > wired.on + timedelta(days=MONTH * MONTHS_WIRED):
        yield "R13", f"wired on {wired.on}, first looked at on {min(looks)}"


def _winter_needs(
    plans: Sequence[Plan], tree: Tree, taxon: Taxon, told: Told
) -> Iterator[tuple[str, str]]:
    place = plans[0].garden.place(tree.place)
    tender = taxon.hardiness.shelter.value.lower().startswith(("indoor", "frost"))
    held = place.minimum_held
    open_air = place.kind in ("bench", "shade-bench")
    if open_air and (tree.id, "winter-shelter") not in told:
        yield "R51 R53", "no word of winter quarters all year"
    if tender and held is None:
        nights = told.get((tree.id, "winter-night"), [])
        if not nights:
            yield "R53", "tender, unheated, and no cold night was told"
    if place.kind in ("shed", "cold-frame") and taxon.group != "tropical":
        weeks = {each.cycle for _, each in told.get((tree.id, "winter-water"), [])}
        winter = {plan.on.isocalendar()[:2] for plan in plans if _deep_winter(plan)}
        if len(weeks) < len(winter):
            yield "R43", f"felt in {len(weeks)} of {len(winter)} weeks of winter"


def _deep_winter(plan: Plan) -> bool:
    months = (6, 7) if plan.garden.site.southern else (12, 1)
    return plan.on.month in months
