"""Which entries of a garden belong into one feed.

An entry is shown whole or not at all. It belongs into a feed of some trees or
places if it is about at least one of them, and keeps its words, which may name
others beside them: it is one deed under one identity and one revision, and two
feeds of one reader that gave it two texts would contradict each other.
"""

from __future__ import annotations

from collections.abc import Sequence

from mebuki.agenda.entry import Entry
from mebuki.domain.advice import CareKind
from mebuki.domain.feed import FeedChoice
from mebuki.domain.garden import Garden


def chosen(entries: Sequence[Entry], choice: FeedChoice, garden: Garden) -> tuple[Entry, ...]:
    """Return the entries of a choice, in the order given.

    What names no tree concerns the whole garden (the coming nights cannot be
    seen): it belongs into every feed that would tell of frost.
    """
    places = {tree.id: tree.place for tree in garden.trees}
    names = {place.name: place.id for place in garden.places}

    def belongs(entry: Entry) -> bool:
        if not entry.trees:
            return True
        return _of_trees(entry, choice) and _of_places(entry, choice, places, names)

    return tuple(entry for entry in entries if _of_kind(entry, choice) and belongs(entry))


def _of_kind(entry: Entry, choice: FeedChoice) -> bool:
    if choice.kinds is None or entry.kind in choice.kinds:
        return True
    return not entry.trees and CareKind.FROST in choice.kinds


def _of_trees(entry: Entry, choice: FeedChoice) -> bool:
    return choice.trees is None or not choice.trees.isdisjoint(entry.trees)


def _of_places(
    entry: Entry, choice: FeedChoice, places: dict[str, str], names: dict[str, str]
) -> bool:
    """Whether a tree stands there now, or the entry was written for that place."""
    if choice.places is None:
        return True
    here = {places[tree] for tree in entry.trees if tree in places}
    here.add(names.get(entry.place, entry.place))
    return not choice.places.isdisjoint(here)
