"""What must not be combined: rest between heavy operations, nothing heavy too soon.

A heavy operation costs stored reserves or roots. Two in one recovery period, or
one on a tree that has not settled, exceed what the tree can rebuild. Advice is put
off for what is on record, and for what other advice asks of the same tree first:
a repotting that is due goes before styling. Each says why, until when, and what may
be done all the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from mebuki.domain.advice import Advice, Days, Reason, Urgency
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Practice
from mebuki.domain.tree import RecordKind, Tree
from mebuki.domain.wording import dated, days_text, percent_text
from mebuki.rules.risk import months_after, share_reason, span_reason

HEAVY: Mapping[str, str] = {
    "repot-window": "repotting",
    "repot-autumn": "repotting",
    "prune-structure": "heavy pruning",
    "decandle": "cutting the candles",
    "defoliate": "taking off the leaves",
}
"""Actions that are heavy operations, each in words."""

REPOTTINGS = frozenset({"repot-window", "repot-autumn"})

FIRST = ("repot-window", "repot-autumn")
"""Actions that go before other heavy operations of the same tree, in this order."""

SECOND_FLUSH = frozenset({"decandle", "defoliate"})
"""Actions whose second flush is paid from reserves: the tree rests longer."""

RESTS: Mapping[RecordKind, str] = {
    "repotted": "recovery.gap_months",
    "hard-pruned": "recovery.gap_months",
    "major-bend": "recovery.gap_months",
    "defoliated": "recovery.second_flush_months",
    "decandled": "recovery.second_flush_months",
    "acquired": "recovery.weak_months",
    "collected": "recovery.collected_months",
}
"""Records after which a tree rests, and the practice figure of how long [months]."""

NO_BAR: Mapping[RecordKind, frozenset[str]] = {
    "repotted": REPOTTINGS,  # the interval of the taxon decides
    "collected": REPOTTINGS,  # styling waits, its roots may be seen to
}
"""Actions that a record does not put off."""


def settle(advice: Iterable[Advice], garden: Garden, practice: Practice) -> tuple[Advice, ...]:
    """Return the advice with heavy operations put off, or begun later, where a tree must rest.

    The order of the advice is kept.
    """
    trees = {tree.id: tree for tree in garden.trees}
    rested = [
        _settled(each, trees[each.tree], practice)
        if each.action in HEAVY and not each.blocked and each.tree in trees
        else each
        for each in advice
    ]
    for members in _heavy_by_tree(rested).values():
        for index, blocked in _apart([rested[each] for each in members], practice):
            put_off = rested[members[index]]
            reasons = (*put_off.reasons, *blocked.reasons)
            rested[members[index]] = replace(put_off, blocked=blocked.why, reasons=reasons)
    return tuple(rested)


def _settled(advice: Advice, tree: Tree, practice: Practice) -> Advice:
    if not isinstance(advice.span, Days):
        return advice
    if tree.vigour == "weak":
        return replace(advice, blocked="the tree is weak: let it grow well first")
    kind, until = _rest(advice, tree, practice)
    if until <= advice.span.first:
        return advice
    rest = span_reason(f"rest after {_done(kind)}", practice.figure(RESTS[kind]), "months")
    reasons = (*advice.reasons, rest)
    if until > advice.span.last:
        record = tree.last(kind)
        since = f" on {dated(record.on)}" if record else ""
        why = f"{_done(kind)}{since}: the tree rests until {dated(until)}"
        return replace(advice, blocked=why, reasons=reasons)
    likely = max(advice.span.likely, until) if advice.span.likely else None
    return replace(advice, span=Days(until, advice.span.last, likely), reasons=reasons)


def _done(kind: RecordKind) -> str:
    return kind.replace("-", " ")


def _rest(advice: Advice, tree: Tree, practice: Practice) -> tuple[RecordKind, date]:
    """Return the record whose rest ends last, and that day."""
    ends: list[tuple[date, RecordKind]] = []
    for kind, key in RESTS.items():
        record = tree.last(kind)
        if record is None or advice.action in NO_BAR.get(kind, ()):
            continue
        if kind != "acquired" or not _settled_in(tree, record.on):
            ends.append((months_after(record.on, practice.value(key)), kind))
    until, kind = max(ends, default=(date.min, "acquired"))
    return kind, until


def _settled_in(tree: Tree, acquired: date) -> bool:
    """Whether a tree was repotted since it was acquired: its keeper judged it fit."""
    repotted = tree.last("repotted")
    return repotted is not None and repotted.on > acquired


def _heavy_by_tree(advice: Sequence[Advice]) -> Mapping[str, list[int]]:
    """Return where the heavy operations of each tree stand that could be done as advised."""
    found: dict[str, list[int]] = {}
    for index, each in enumerate(advice):
        live = not each.blocked and each.urgency is not Urgency.PAST
        if each.action in HEAVY and live and isinstance(each.span, Days):
            found.setdefault(each.tree, []).append(index)
    return found


@dataclass(frozen=True, slots=True)
class _Wait:
    """Why an operation waits for another, and the figures behind it."""

    why: str
    reasons: tuple[Reason, ...]


def _apart(advice: Sequence[Advice], practice: Practice) -> Iterator[tuple[int, _Wait]]:
    """Yield which of one tree's heavy operations wait for another, each with why and until when."""
    order = sorted(range(len(advice)), key=lambda index: _rank(advice[index]))
    kept: list[int] = []
    for index in order:
        rival = next((each for each in kept if _clash(advice[index], advice[each], practice)), None)
        if rival is None:
            kept.append(index)
        else:
            yield index, _put_off(advice[index], advice[rival], practice)


def _rank(advice: Advice) -> tuple[int, date, str]:
    place = FIRST.index(advice.action) if advice.action in FIRST else len(FIRST)
    return place, _span(advice).first, advice.action


def _span(advice: Advice) -> Days:
    if not isinstance(advice.span, Days):
        msg = f"{advice.action} of {advice.tree} has no span of days"
        raise TypeError(msg)
    return advice.span


def _rest_key(advice: Advice) -> str:
    longer = advice.action in SECOND_FLUSH
    return "recovery.second_flush_months" if longer else "recovery.gap_months"


def _months(advice: Advice, practice: Practice) -> float:
    return practice.value(_rest_key(advice))


def _clash(one: Advice, other: Advice, practice: Practice) -> bool:
    """Whether two operations cannot both be done with the rest between them."""
    if {one.action, other.action} <= REPOTTINGS:
        return False
    earlier, later = sorted((one, other), key=lambda each: (_span(each).first, each.action))
    rested = months_after(_span(earlier).first, _months(earlier, practice))
    return rested > _span(later).last


def _put_off(advice: Advice, rival: Advice, practice: Practice) -> _Wait:
    span = _span(rival)
    until = months_after(span.likely or span.last, _months(rival, practice))
    share = practice.figure("recovery.light_foliage_share")
    light = percent_text(share.value)
    why = (
        f"{HEAVY[rival.action]} comes first ({days_text(span.first, span.last)}): "
        f"{HEAVY[advice.action]} waits until {dated(until)}; cleaning, clipping tips and light "
        f"wiring may go with it, up to {light} of the foliage"
    )
    rest = span_reason(
        f"rest after {HEAVY[rival.action]}", practice.figure(_rest_key(rival)), "months"
    )
    return _Wait(why, (rest, share_reason("light work takes at most", share)))
