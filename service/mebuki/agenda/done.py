"""What the records say is done, and which dangers are not clearly over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

from mebuki.agenda.entry import Entry
from mebuki.agenda.grouping import STANDING, WHOLE, action_in
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import CareKind
from mebuki.domain.garden import Garden
from mebuki.domain.tree import RecordKind, Tree

DEEDS: Mapping[str, tuple[RecordKind, ...]] = {
    "repot-window": ("repotted",),
    "repot-autumn": ("repotted",),
    "winter-water": ("watered", "wet-seen", "dry-seen"),
    "water-before-frost": ("watered", "wet-seen"),
    "too-warm": ("moved",),
    "wire-check": ("wire-checked", "wire-removed"),
    "water-today": ("watered",),
    "winter-shelter": ("moved",),
    "out-of-shelter": ("moved",),
    "prune-structure": ("hard-pruned", "pruned"),
    "pinch": ("pinched", "pruned"),
    "clip": ("pruned", "pinched"),
    "cut-back": ("pruned", "hard-pruned"),
    "clip-after-flowering": ("pruned", "pinched", "hard-pruned"),
    "shoot-work": ("pruned", "pinched", "hard-pruned", "defoliated"),
    "shorten-candles": ("pinched", "pruned"),
    "decandle": ("decandled",),
    "select-buds": ("pruned", "pinched"),
    "defoliate": ("defoliated",),
    "cut-leaves": ("defoliated", "pruned"),
    "deadwood-season": ("deadwood-carved",),
    "observe-buds": ("buds-closed-seen", "bud-swell-seen", "bud-break-seen", "leaves-open-seen"),
    "observe-minimum": ("minimum-read",),
    "observe-weigh": ("pot-weighed",),
}
"""The records that finish an action."""

ONE_DAY = timedelta(days=1)
"""Records carry local days, entries UTC moments: they may differ by one day."""


def done_keys(previous: Sequence[Entry], garden: Garden) -> frozenset[str]:
    """Return the keys of published entries whose work is on record for every tree they name."""
    trees = {tree.id: tree for tree in garden.trees}
    return frozenset(
        entry.key
        for entry in previous
        if entry.trees and all(_done(entry, trees.get(tree)) for tree in entry.trees)
    )


def _done(entry: Entry, tree: Tree | None) -> bool:
    kinds = DEEDS.get(action_of(entry), ())
    record = tree.last(*kinds) if tree is not None and kinds else None
    return record is not None and record.on >= entry.created.date() - ONE_DAY


def action_of(entry: Entry) -> str:
    """Return the action that an entry asks for, from its key."""
    return action_in(entry.key)


def parted_trees(previous: Sequence[Entry], garden: Garden) -> Mapping[str, frozenset[str]]:
    """Return the trees that published entries name in vain, by key.

    Their work is on record since, or they left the garden.
    """
    trees = {tree.id: tree for tree in garden.trees}
    found = {
        entry.key: frozenset(
            tree for tree in entry.trees if tree not in trees or _done(entry, trees[tree])
        )
        for entry in previous
    }
    return {key: parted for key, parted in found.items() if parted}


def held_keys(previous: Sequence[Entry], situation: Situation) -> frozenset[str]:
    """Return the keys of published entries that stay although nothing asks for them now.

    These are nights whose danger is smaller but not clearly over; what runs out by
    itself and may be asked for again meanwhile: requests for an observation, cautions
    for a week and looks at pests; and, while the weather cannot be seen, everything
    that lies ahead: without weather no rule can speak, and nothing is taken back.
    """
    watched = {
        f"{situation.garden.id}/{each.kind}/{each.kind}-night/{WHOLE}/{each.cycle}"
        for each in situation.advice
        if each.action.endswith("-watch")
    }
    unseen = {entry.key for entry in previous if situation.sight.blind}
    asked = {entry.key for entry in previous if entry.trees and _runs_out(entry)}
    return frozenset(watched | unseen | asked)


def _runs_out(entry: Entry) -> bool:
    return entry.kind in (CareKind.OBSERVE, CareKind.SCOUT) or action_of(entry) in STANDING
