"""Records that contradict others: found, named, and left out of what the rules see.

Nothing is thrown away: the keeper's record stays as it was written and is shown
with what is wrong, for the keeper to mend.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.domain.tree import Record, RecordKind, Tree
from mebuki.domain.wording import dated, number_text

TWICE_DAYS = 7
"""Two repottings within so many days are one that was written down twice."""

BEFORE_IT_CAME: frozenset[RecordKind] = frozenset({"collected", "repotted", "wired", "note"})
"""What is known of a tree from the keeper before: it may precede the day it was acquired."""

BEFORE_IT_WAS_DUG: frozenset[RecordKind] = frozenset({"note"})
"""What may precede the day on which a tree was collected from the ground."""

ORDER_OF_SPRING: Mapping[RecordKind, int] = {
    "buds-closed-seen": 0, "bud-swell-seen": 0, "bud-break-seen": 1, "leaves-open-seen": 2,
}  # fmt: skip
"""Observations of one spring by rank: a lower one cannot follow a higher one."""

SPRING_DAYS = 150
"""Observations so many days apart belong to different springs."""

LIGHTEST, HEAVIEST = 0.15, 4.0
"""Mass over the pot's volume [kg L-1] beyond which pot size or mass is wrong (default).

From dry peat in a plastic pot to wet grit in heavy stoneware with its tree.
"""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A record that cannot be so beside the others, and why."""

    record: Record
    why: str

    def __str__(self) -> str:
        return f"{self.record.kind.replace('-', ' ')} on {dated(self.record.on)}: {self.why}"


def contradictions(tree: Tree) -> tuple[Contradiction, ...]:
    """Return the records of a tree that contradict others, by day; each at most once."""
    found: dict[int, Contradiction] = {}
    for index, why in _faults(tree):
        found.setdefault(index, Contradiction(tree.records[index], why))
    return tuple(sorted(found.values(), key=lambda each: (each.record.on, each.record.kind)))


def sound(tree: Tree) -> Tree:
    """Return the tree without the records that contradict others."""
    doubted = {index for index, _ in _faults(tree)}
    if not doubted:
        return tree
    kept = tuple(each for index, each in enumerate(tree.records) if index not in doubted)
    return tree.model_copy(update={"records": kept})


def _faults(tree: Tree) -> Iterator[tuple[int, str]]:
    yield from _unknown(tree)
    yield from _too_early(tree)
    yield from _repotted_twice(tree)
    yield from _wire(tree)
    yield from _spring(tree)
    yield from _masses(tree)


def _unknown(tree: Tree) -> Iterator[tuple[int, str]]:
    for index, record in enumerate(tree.records):
        if record.unknown_kind:
            yield index, f"unknown kind of record: {record.unknown_kind}; it is kept and not used"


def _too_early(tree: Tree) -> Iterator[tuple[int, str]]:
    collected = _first(tree, "collected")
    acquired = _first(tree, "acquired")
    for index, record in enumerate(tree.records):
        if tree.born is not None and record.on.year < tree.born:
            yield index, f"the tree was born in {tree.born}"
        elif collected and record.on < collected and record.kind not in BEFORE_IT_WAS_DUG:
            yield index, f"the tree was collected from the ground on {dated(collected)}"
        elif acquired and record.on < acquired and record.kind not in BEFORE_IT_CAME:
            yield index, f"the tree came to you on {dated(acquired)}"


def _first(tree: Tree, kind: RecordKind) -> date | None:
    return min((record.on for record in tree.records if record.kind == kind), default=None)


def _repotted_twice(tree: Tree) -> Iterator[tuple[int, str]]:
    earlier: date | None = None
    for index, record in _in_order(tree, "repotted"):
        if earlier is not None and record.on - earlier <= timedelta(days=TWICE_DAYS):
            yield index, f"it was repotted on {dated(earlier)}, days before"
        else:
            earlier = record.on


def _wire(tree: Tree) -> Iterator[tuple[int, str]]:
    """Wire taken off or looked at before any was set, where it is on record that it was set later.

    Wire that came with the tree has no record of being set, and is no fault.
    """
    wired = [record.on for record in tree.records if record.kind == "wired"]
    if not wired:
        return
    for index, record in enumerate(tree.records):
        if record.kind in ("wire-removed", "wire-checked") and record.on < min(wired):
            yield index, f"the wire was set later, on {dated(min(wired))}"


def _spring(tree: Tree) -> Iterator[tuple[int, str]]:
    seen = list(_in_order(tree, *ORDER_OF_SPRING))
    for place, (index, record) in enumerate(seen):
        rank = ORDER_OF_SPRING[record.kind]
        for _, before in seen[:place]:
            same = (record.on - before.on).days <= SPRING_DAYS
            if same and before.on < record.on and ORDER_OF_SPRING[before.kind] > rank:
                told = before.kind.replace("-", " ")
                yield index, f"{told} stands on record for {dated(before.on)}, before it"


def _masses(tree: Tree) -> Iterator[tuple[int, str]]:
    volume = tree.pot.volume
    for index, record in enumerate(tree.records):
        if record.kind != "pot-weighed" or record.amount is None:
            continue
        told = f"{number_text(record.amount)} kg"
        if record.amount > HEAVIEST * volume:
            yield index, f"{told} is more than a pot of {volume:.1f} L can weigh: check its size"
        elif record.amount < LIGHTEST * volume:
            yield index, f"{told} is less than a pot of {volume:.1f} L can weigh: check its size"


def _in_order(tree: Tree, *kinds: RecordKind) -> Iterator[tuple[int, Record]]:
    chosen = [(index, each) for index, each in enumerate(tree.records) if each.kind in kinds]
    yield from sorted(chosen, key=lambda pair: (pair[1].on, pair[0]))
