"""A garden from a file laid over the garden as it was kept before."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from mebuki.domain.garden import Garden
from mebuki.domain.tree import Tree
from mebuki.errors import Fault, InputError


@dataclass(frozen=True, slots=True)
class Joined:
    """The garden to keep, what became of its trees, and what had to be refused.

    Parameters
    ----------
    new, changed, same, left
        Ids of trees, by what the file does to them.
    """

    garden: Garden
    new: tuple[str, ...]
    changed: tuple[str, ...]
    same: tuple[str, ...]
    left: tuple[str, ...]
    faults: tuple[Fault, ...]


def join(file: Path, fresh: Garden, before: Garden | None, *, only: bool) -> Joined:
    """Lay a file's garden over the one that was there.

    Trees the file does not name stay, after those it names, unless ``only`` is set.

    Raises
    ------
    InputError
        If a tree that stays would stand at a place that is no more.
    """
    old = {tree.id: tree for tree in before.trees} if before else {}
    named = {tree.id for tree in fresh.trees}
    staying = [] if only else [tree for tree in old.values() if tree.id not in named]
    _have_places(fresh, staying)
    taken = {tree.name: tree.id for tree in staying}
    kept = [tree for tree in fresh.trees if tree.name not in taken]
    faults = [
        Fault(str(file), "name", tree.name, f"another tree, {taken[tree.name]}, has this name")
        for tree in fresh.trees
        if tree.name in taken
    ]
    trees = (*kept, *staying)
    here = {tree.id for tree in trees}
    return Joined(
        garden=fresh.model_copy(update={"trees": trees}),
        new=tuple(tree.id for tree in kept if tree.id not in old),
        changed=tuple(tree.id for tree in kept if tree.id in old and old[tree.id] != tree),
        same=tuple(tree.id for tree in trees if old.get(tree.id) == tree),
        left=tuple(id_ for id_ in old if id_ not in here),
        faults=tuple(faults),
    )


def _have_places(fresh: Garden, staying: list[Tree]) -> None:
    places = {place.id for place in fresh.places}
    for tree in staying:
        if tree.place not in places:
            msg = (
                f"{tree.name} stands at {tree.place}, a place that the file does not have; "
                "name the tree or the place in the file, or use --only to let the tree leave"
            )
            raise InputError(msg)
