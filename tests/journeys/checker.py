"""A second opinion on years of advice: trade rules R01 to R99, written without the rules' code.

It reads what a garden's keeper would see (advice, records, taxon files, forecast nights
and dates) and the figures of `practice.toml` by itself, and objects to every advice,
and every silence, that these forbid. It imports nothing of the rules or the agenda.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, timedelta
from itertools import combinations

from mebuki.domain.advice import Advice
from mebuki.domain.outlook import Milestone
from mebuki.rounds.planned import Plan
from tests.journeys.look import (
    MEDIAN,
    REPOT,
    REST_MONTHS,
    Look,
    Objection,
    interval,
    months_later,
    number,
    weeks_later,
)

HEAVY = ("repot-window", "repot-autumn", "prune-structure", "decandle", "defoliate")

FEEDING = ("feed-season", "feed-stop")

COLD_MONTHS = {False: (9, 10, 11, 12, 1, 2), True: (3, 4, 5, 6, 7, 8)}
"""R19: months in which bent wood is to be kept from frost, by ``southern``."""

SECOND_FLUSH = ("decandle", "defoliate")

Check = Callable[[Look], Iterator[tuple[str, str]]]


def objections(plans: Sequence[Plan]) -> list[Objection]:
    """Return everything to which a grower would object in some plans."""
    found: list[Objection] = []
    for plan in plans:
        by_tree: dict[str, list[Advice]] = {tree.id: [] for tree in plan.garden.trees}
        for each in plan.advice:
            by_tree[each.tree].append(each)
        for tree in plan.garden.trees:
            look = Look(plan, tree, plan.taxa[tree.taxon], by_tree[tree.id])
            for check in CHECKS:
                found += [Objection(rule, plan.on, tree.name, why) for rule, why in check(look)]
    return found


def _rest_on_record(look: Look) -> Iterator[tuple[str, str]]:
    tree = look.tree
    for each, span in look.offered(*HEAVY):
        for kind, key in REST_MONTHS.items():
            last = tree.last(kind)
            if last is None or (kind in ("repotted", "collected") and each.action in REPOT):
                continue
            if span.first < months_later(last.on, key):
                yield "R02 R03 R05", f"{each.action} from {span.first} after {kind} on {last.on}"
        bought, repotted = tree.last("acquired"), tree.last("repotted")
        fit = bought and repotted and repotted.on > bought.on
        if bought and not fit and span.first < months_later(bought.on, "weak"):
            yield "R04", f"{each.action} from {span.first} after it came on {bought.on}"
        if tree.vigour == "weak":
            yield "R04", f"{each.action} on a weak tree"


def _one_heavy_operation(look: Look) -> Iterator[tuple[str, str]]:
    for (one, here), (other, there) in combinations(look.offered(*HEAVY), 2):
        if one.action in REPOT and other.action in REPOT:
            continue
        first, last, earlier = (
            (here, there, one) if here.first <= there.first else (there, here, other)
        )
        key = "second_flush" if earlier.action in SECOND_FLUSH else "gap"
        if last.last < months_later(first.first, key):
            yield "R01", f"{one.action} and {other.action} within one rest"


def _repotting(look: Look) -> Iterator[tuple[str, str]]:
    last, taxon = look.tree.last("repotted"), look.taxon
    years = interval(look.tree, taxon)
    for each, span in look.offered(*REPOT):
        if last is not None and (span.last - last.on).days < 365 * (years - 0.5):
            yield "R23", f"repot {span.first} after {last.on}, interval {years:g} years"
        if "°C" not in each.deed or "above 0" not in each.deed:
            yield "R26", "no word of frost after repotting"
        opens = look.likely(Milestone.UNFOLDED, int(each.cycle[:4]))
        spring = each.action == "repot-window" and "autumn" not in each.fact
        if taxon.deciduous and spring and opens and span.last >= opens:
            yield "R20", f"until {span.last}, leaves out {opens}"
        frost = look.frost
        if each.action == "repot-autumn" and frost and span.first < frost:
            latest = frost - timedelta(weeks=number("repot.autumn_weeks_before_frost"))
            if span.last > latest:
                yield "R31", f"until {span.last}, usual first frost {frost}"


def _start(look: Look) -> Iterator[tuple[str, str]]:
    """R27, R28 and R42: what forbids a start today."""
    coldest = min(
        (night.air_minimum for night in look.nights(int(number("repot.start_days")))), default=99.0
    )
    warm = number("winter.warm_place")
    places = look.plan.garden.places
    cool = any(each.minimum_held is not None and 0 <= each.minimum_held < warm for each in places)
    closed = any(each.kind in ("shed", "cold-frame") for each in places)
    for each, span in look.offered(*REPOT):
        if not span.first <= look.on <= span.last:
            continue
        warm_nights = number("repot.warm_night_minimum")
        if look.taxon.repotting.cue == "warm-nights" and coldest < warm_nights:
            yield "R28", f"nights of {coldest:.1f} °C"
        hardy = look.taxon.group != "tropical"
        if hardy and coldest < number("repot.start_minimum") and not (cool or closed):
            yield "R27", f"{coldest:.1f} °C ahead and no shelter but a warm room"
        if look.frozen and "frozen root ball" not in each.deed:
            yield "R42", f"{each.action} while the root ball is frozen"


def _told_nights(look: Look) -> set[str]:
    return {each.cycle for each in look.advice if each.action in ("frost-night", "winter-night")}


def _after_repotting(look: Look) -> Iterator[tuple[str, str]]:
    last = look.tree.last("repotted")
    if last is None:
        return
    frost_free = weeks_later(last.on, "repot.frost_free_weeks")
    for each, span in look.offered(*FEEDING):
        if span.first < weeks_later(last.on, "repot.feed_pause_weeks"):
            yield "R24", f"{each.action} from {span.first}, repotted {last.on}"
    for _, span in look.offered("deadwood-season"):
        # its season may have begun before; what counts is the first day that is still ahead
        begins = max(span.first, look.on)
        if begins < weeks_later(last.on, "deadwood.after_repotting_weeks"):
            yield "R17", f"work on the trunk from {begins}, repotted {last.on}"
    if look.on <= frost_free:
        yield from _kept_from_frost(look, frost_free)


def _kept_from_frost(look: Look, frost_free: date) -> Iterator[tuple[str, str]]:
    """R24 to R26: while the roots are fresh, care is told, and every frost."""
    if not any(each.action == "aftercare" for each in look.advice):
        yield "R24 R25 R26", "no care after repotting is told"
    spring = look.plan.outlooks[look.tree.id].spring_frost
    late = spring[MEDIAN] if spring else None
    for _, span in look.offered("out-of-shelter"):
        if late is not None and span.first <= late and span.first < frost_free:
            yield "R26", f"out of shelter from {span.first}, last frost {late}"
    limit, told = number("repot.root_frost_limit"), _told_nights(look)
    for night in look.nights(2 if look.open_air else 0):
        cold = night.evening <= frost_free and night.air_minimum < limit
        if cold and night.evening.isoformat() not in told:
            yield "R26", f"{night.air_minimum:.1f} °C on {night.evening} and no word"


def _after_bending(look: Look) -> Iterator[tuple[str, str]]:
    bend = look.tree.last("major-bend")
    southern = look.plan.garden.site.southern
    if bend is None or bend.on.month not in COLD_MONTHS[southern] or not look.open_air:
        return
    until, told = weeks_later(bend.on, "wire.frost_guard_weeks"), _told_nights(look)
    for night in look.nights(2):
        cold = night.air_minimum < number("wire.bend_frost_limit") and night.evening <= until
        if cold and night.evening.isoformat() not in told:
            yield "R19", f"bent {bend.on}, {night.air_minimum:.1f} °C on {night.evening}, no word"


def _tender(look: Look) -> Iterator[tuple[str, str]]:
    keep = look.taxon.hardiness.keep_above
    told = _told_nights(look)
    for night in look.nights(2 if keep is not None else 0):
        cold = keep is not None and night.air_minimum < keep.value
        if keep is not None and cold and night.evening.isoformat() not in told:
            yield "R53", f"{night.air_minimum:.1f} °C on {night.evening}, above {keep.value:g}"


def _water(look: Look) -> Iterator[tuple[str, str]]:
    asked = {
        each.cycle for each in look.advice if each.action in ("water-today", "water-before-frost")
    }
    told = {each.cycle for each in look.advice if each.action == "do-not-water-frozen"}
    today = look.on.isoformat()
    if today in asked and (today in told or look.frozen):
        yield "R42", "to be watered while frozen"


def _feeding(look: Look) -> Iterator[tuple[str, str]]:
    stop = look.taxon.upkeep.feed_stop_weeks
    weeks = stop.value if stop else number("feed.stop_weeks_before_frost")
    for each, span in look.offered(*FEEDING):
        if look.tree.vigour == "weak":
            yield "R72", f"a weak tree is fed: {each.action}"
        if look.frozen and span.first <= look.on <= span.last and each.action == "feed-season":
            yield "R72", "fed while the root ball is frozen"
        frost = look.frost
        if look.taxon.group == "tropical" or frost is None or not span.first < frost:
            continue
        if span.last > frost - timedelta(weeks=weeks):
            yield "R70", f"{each.action} until {span.last}, frost {frost}"


def _dormant_feed(look: Look) -> Iterator[tuple[str, str]]:
    if not look.taxon.deciduous:
        return
    for each, span in look.offered(*FEEDING):
        years = (span.first.year, span.first.year - 1)
        opens = [day for year in years if (day := look.likely(Milestone.BREAK, year))]
        if opens and all(span.first < day for day in opens):
            yield "R72", f"{each.action} from {span.first}, in dormancy"
        falls = [
            day
            for year in years
            if (day := look.likely(Milestone.LEAF_FALL, year)) and day > span.first
        ]
        if falls and span.last > min(falls):
            yield "R72", f"{each.action} until {span.last}, leaves fall {min(falls)}"


def _dormant_wire(look: Look) -> Iterator[tuple[str, str]]:
    season = look.plan.outlooks[look.tree.id].season
    swell, frost = look.likely(Milestone.SWELL, season), look.frost
    if not look.taxon.deciduous or swell is None or frost is None or frost >= swell:
        return
    for each, span in look.offered("wire-check"):
        reasoned = any(word in each.fact for word in ("longest time", "due since", "is usual"))
        if frost < span.first < swell - timedelta(days=7) and not reasoned:
            yield "R14", f"wire looked at on {span.first}, at rest: {each.fact}"


def _wire_watched(look: Look) -> Iterator[tuple[str, str]]:
    """R13: while wire is on, each plan names the next look at it."""
    wired, removed = look.tree.last("wired"), look.tree.last("wire-removed")
    if wired is None or (removed is not None and removed.on >= wired.on):
        return
    if not any(each.action == "wire-check" for each in look.advice):
        yield "R13", f"wired on {wired.on}, and no look at it is told"


def _winter_quarters(look: Look) -> Iterator[tuple[str, str]]:
    keep = look.taxon.hardiness.keep_above
    if look.taxon.group == "tropical" or (keep is not None and keep.value >= 5):
        return
    warm = number("winter.warm_place")
    rooms = [each.name for each in look.plan.garden.places if (each.minimum_held or 0) >= warm]
    for each in look.advice:
        if each.kind in ("winter", "frost", "repot") and any(name in each.deed for name in rooms):
            yield "R50", f"{each.action}: {each.deed}"


CHECKS: tuple[Check, ...] = (
    _rest_on_record, _one_heavy_operation, _repotting, _start, _after_repotting, _after_bending,
    _tender, _water, _feeding, _dormant_feed, _dormant_wire, _wire_watched, _winter_quarters,
)  # fmt: skip
