"""Pruning: branches, new shoots, candles and leaves, each in its part of the year.

Branches are cut on trees in training, in the part of the year that the taxon bears.
New shoots are pinched or clipped on refined trees, for a tree in training thickens by
the shoots it keeps; shoots let run, and azaleas after bloom, are cut on both. Candles
are cut off whole only on strong pines that flush twice, so many weeks before the first
frost of autumn that the second flush can harden; other pines have theirs shortened.
Leaves are taken off only on strong, refined trees whose taxon bears it. A weak tree is
left alone. How far heavy cuts lie from other heavy work is the agenda's to settle.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity
from mebuki.domain.figure import Phrase
from mebuki.domain.taxon import MaintenanceCode
from mebuki.domain.tree import RecordKind
from mebuki.domain.wording import dated, percent_text
from mebuki.rules import prune_windows as windows
from mebuki.rules.hazards import toxicity
from mebuki.rules.prune_windows import Slot
from mebuki.rules.risk import certainty_of, span_reason, urgency_of_days, weak_reason
from mebuki.rules.spans import span_reasons
from mebuki.season.growth import growth_share

GRACE = timedelta(days=7)
"""How long a window that has just closed is still told, so that it does not come and go."""

BEFORE = timedelta(days=14)
"""Work on record so long before a window opens counts for it (default)."""


@dataclass(frozen=True, slots=True)
class Work:
    """One kind of cutting: its name, what is done, which rule, which records finish it."""

    action: str
    deed: str
    rule: str
    done: tuple[RecordKind, ...]
    heavy: bool = False


STRUCTURE = Work(
    "prune-structure",
    "Cut branches that the design does not need, on a day without frost; leave the tree enough "
    "foliage to close its wounds. Where nothing need go, leave it.",
    "prune R01 R02",
    ("hard-pruned", "pruned"),
    heavy=True,
)
PINCH = Work(
    "pinch",
    "Pinch the new shoots of refined trees while they are soft, the strong ones first; leave weak "
    "branches alone.",
    "prune R06",
    ("pinched", "pruned"),
)
CLIP = Work(
    "clip",
    "Clip long new shoots back to the outline and let the weak ones grow.",
    "prune R06",
    ("pruned", "pinched"),
)
RUN = Work(
    "cut-back",
    "Cut the shoots that were let run back to a few buds.",
    "prune R06",
    ("pruned", "hard-pruned"),
)
BLOOM = Work(
    "clip-after-flowering",
    "Take off spent flowers and shorten the shoots at once: next year's buds form in summer.",
    "prune R06",
    ("pruned", "pinched", "hard-pruned"),
)
CANDLES = Work(
    "shorten-candles",
    "Shorten the longest candles by a third to a half while their needles are closed; leave the "
    "weak ones whole.",
    "prune R06",
    ("pinched", "pruned"),
)
DECANDLE = Work(
    "decandle",
    "Cut the candles of this spring off at their base, the weak ones some days before the strong "
    "ones; only on strong trees that were well fed.",
    "prune R01 R05",
    ("decandled",),
    heavy=True,
)
BUDS = Work(
    "select-buds",
    "Leave two buds at each tip, and thin old needles where they shade the inner branches.",
    "prune R06",
    ("pruned", "pinched"),
)
DEFOLIATE = Work(
    "defoliate",
    "Take off leaves where the crown is dense or the leaves are large; keep some on weak branches.",
    "prune R01 R05",
    ("defoliated",),
    heavy=True,
)
LEAF_CUT = Work(
    "cut-leaves",
    "Cut large outer leaves in half so that light reaches the inside; take none off whole.",
    "prune R06",
    ("defoliated", "pruned"),
)


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the coming cuts of one tree, each at most once."""
    found = [_structure(case)]
    if case.tree.vigour != "weak":
        found += _maintenance(case)
        found.append(_leaves(case))
    return tuple(advice for advice in found if advice is not None)


def _structure(case: Case) -> Advice | None:
    if case.tree.development != "training":
        return None
    slots = [
        slot for season in windows.seasons_told(case) for slot in windows.structural(case, season)
    ]
    slot = _next(case, STRUCTURE, slots)
    phrase = case.taxon.upkeep.structural_pruning
    return None if slot is None or phrase is None else _advice(case, STRUCTURE, slot, phrase)


def _maintenance(case: Case) -> Iterable[Advice | None]:
    code = case.taxon.upkeep.maintenance_code
    if code is None:
        return
    strong, refined = case.tree.vigour == "strong", case.tree.development == "refined"
    yield from (_seasonal(case, work, window) for work, window in _ALWAYS.get(code, ()))
    if code == "decandle":
        yield _seasonal(case, *((DECANDLE, windows.decandling) if strong else _SHORTEN))
    if not refined:
        return
    yield from (_seasonal(case, work, window) for work, window in _REFINED.get(code, ()))
    if code == "clip" and strong:
        yield _seasonal(case, CLIP, windows.second_flush)


def _pinch_slot(case: Case, season: int) -> Slot | None:
    """Return when soft shoots are pinched: larches and their like only as their shoots extend."""
    if case.taxon.group == "deciduous-conifer":
        return windows.leaves_hard(case, season)
    return windows.opening_buds(case, season)


def _clip_slot(case: Case, season: int) -> Slot | None:
    return windows.leaves_hard(case, season) or windows.growing_weeks(case, season)


Window = Callable[[Case, int], Slot | None]

_SHORTEN: tuple[Work, Window] = (CANDLES, windows.opening_buds)

_ALWAYS: Mapping[MaintenanceCode, tuple[tuple[Work, Window], ...]] = {
    "let-run-then-cut": ((RUN, windows.shoots_run),),
    "after-flowering": ((BLOOM, windows.after_flowering),),
    "single-flush": (_SHORTEN,),
}
"""What is done on trees in training too."""

_REFINED: Mapping[MaintenanceCode, tuple[tuple[Work, Window], ...]] = {
    "pinch": ((PINCH, _pinch_slot),),
    "clip": ((CLIP, _clip_slot),),
    "decandle": ((BUDS, windows.autumn_buds),),
    "single-flush": ((BUDS, windows.autumn_buds),),
}
"""What is done on refined trees only."""


def _leaves(case: Case) -> Advice | None:
    """Return the taking off of leaves, on strong and refined trees whose taxon bears it."""
    phrase = case.taxon.upkeep.defoliation
    if phrase is None or phrase.value.startswith("no"):
        return None
    if case.tree.vigour != "strong" or case.tree.development != "refined":
        return None
    work = LEAF_CUT if phrase.value.startswith("half-leaf") else DEFOLIATE
    return _seasonal(case, work, _clip_slot, phrase)


def _seasonal(
    case: Case, work: Work, window: Window, phrase: Phrase | None = None
) -> Advice | None:
    slots = [window(case, season) for season in windows.seasons_told(case)]
    slot = _next(case, work, [each for each in slots if each is not None])
    told = phrase or case.taxon.upkeep.maintenance
    return None if slot is None or told is None else _advice(case, work, slot, told)


def _next(case: Case, work: Work, slots: Iterable[Slot]) -> Slot | None:
    """Return the first window that is not over and whose work is not on record."""
    last = case.tree.last(*work.done)
    for slot in sorted(slots, key=lambda each: each.first):
        done = last is not None and slot.first - BEFORE <= last.on <= slot.last + GRACE
        if case.on <= slot.last + GRACE and not done:
            return slot
    return None


def _advice(case: Case, work: Work, slot: Slot, phrase: Phrase) -> Advice:
    chance = slot.chance_on(max(case.on, slot.first))
    return Advice(
        kind=CareKind.PRUNE,
        action=work.action,
        tree=case.tree.id,
        cycle=f"{slot.season}/{slot.code}",
        span=Days(slot.first, slot.last),
        fact=phrase.value,
        deed=work.deed,
        urgency=urgency_of_days(case.on, slot.first, slot.last),
        severity=Severity.MODERATE if work.heavy else Severity.MINOR,
        certainty=Certainty.POSSIBLE if chance is None else certainty_of(chance),
        rule=work.rule,
        reasons=_reasons(case, work, slot, phrase),
        probability=chance,
        cautions=("sharp-tools", *toxicity(case)),
        blocked=_blocked(case) if work.heavy else "",
    )


def _reasons(case: Case, work: Work, slot: Slot, phrase: Phrase) -> tuple[Reason, ...]:
    practice = case.rulebook.practice
    told = [
        Reason("usual for this taxon", phrase.value, phrase.source),
        Reason("window", slot.basis, "season model and practice file"),
        *span_reasons(case, slot.keys),
    ]
    before = case.taxon.upkeep.decandle_weeks
    if work is DECANDLE and before is not None:
        told.append(span_reason("before the usual first frost", before, "weeks"))
    last = case.tree.last(*work.done)
    told.append(Reason("last time", dated(last.on) if last else "not on record", "your records"))
    if work.heavy:
        told.append(span_reason("rest after it", practice.figure("recovery.gap_months"), "months"))
        if case.tree.vigour == "weak":
            told.append(weak_reason(case))
    else:
        share = practice.figure("recovery.light_foliage_share")
        told.append(Reason("foliage taken at most", percent_text(share.value), share.source))
    clock = case.outlook.growth_clock(slot.season)
    if clock is not None and clock.ten_percent <= case.on:
        share_now = percent_text(growth_share(clock, case.on))
        told.append(Reason("this season's growth so far", share_now, "growth clock"))
    return tuple(told)


def _blocked(case: Case) -> str:
    if case.tree.vigour != "weak":
        return ""
    months = case.rulebook.practice.value("recovery.weak_months")
    return f"the tree is weak, it has to grow well for {months:g} months first"
