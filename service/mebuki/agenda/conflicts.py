"""What must not be combined: rest between heavy operations, nothing heavy too soon.

A heavy operation costs stored reserves or roots. Two in one recovery period, or
one on a tree that has not settled, exceed what the tree can rebuild; such advice
is put off with the reason and the day on which the rest ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from mebuki.domain.advice import Advice, Days
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Practice
from mebuki.domain.tree import RecordKind, Tree
from mebuki.domain.wording import dated
from mebuki.rules.risk import months_after

HEAVY = frozenset({"repot-window"})
"""Actions that are heavy operations; later rules add theirs."""

RESTS: Mapping[RecordKind, str] = {
    "hard-pruned": "recovery.gap_months",
    "major-bend": "recovery.gap_months",
    "defoliated": "recovery.second_flush_months",
    "decandled": "recovery.second_flush_months",
    "acquired": "recovery.weak_months",
}
"""Records after which a tree rests, and the practice figure of how long [months]."""


def settle(advice: Iterable[Advice], garden: Garden, practice: Practice) -> tuple[Advice, ...]:
    """Return the advice with heavy operations put off, or begun later, where a tree must rest."""
    trees = {tree.id: tree for tree in garden.trees}
    return tuple(
        _settled(each, trees[each.tree], practice)
        if each.action in HEAVY and not each.blocked and each.tree in trees
        else each
        for each in advice
    )


def _settled(advice: Advice, tree: Tree, practice: Practice) -> Advice:
    if not isinstance(advice.span, Days):
        return advice
    if tree.vigour == "weak":
        return replace(advice, blocked="the tree is weak: let it grow well first")
    kind, until = _rest(tree, practice)
    if until <= advice.span.first:
        return advice
    if until > advice.span.last:
        record = tree.last(kind)
        since = f" on {dated(record.on)}" if record else ""
        why = f"{kind.replace('-', ' ')}{since}: the tree rests until {dated(until)}"
        return replace(advice, blocked=why)
    likely = max(advice.span.likely, until) if advice.span.likely else None
    return replace(advice, span=Days(until, advice.span.last, likely))


def _rest(tree: Tree, practice: Practice) -> tuple[RecordKind, date]:
    """Return the record whose rest ends last, and that day."""
    ends: list[tuple[date, RecordKind]] = []
    for kind, key in RESTS.items():
        record = tree.last(kind)
        if record is not None and not (kind == "acquired" and _settled_in(tree, record.on)):
            months = practice.value(key)
            ends.append((months_after(record.on, months), kind))
    until, kind = max(ends, default=(date.min, "acquired"))
    return kind, until


def _settled_in(tree: Tree, acquired: date) -> bool:
    """Whether a tree was repotted since it was acquired: its keeper judged it fit."""
    repotted = tree.last("repotted")
    return repotted is not None and repotted.on > acquired
