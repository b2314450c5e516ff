"""A garden: its site, its places, its trees, and who is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date
from typing import Literal, Self

from pydantic import Field, model_validator

from mebuki.domain.figure import Frozen
from mebuki.domain.site import Place, Site
from mebuki.domain.tree import Tree

Caution = Literal["cautious", "balanced", "few"]


class Subscriber(Frozen):
    """A person who is told, and how.

    Parameters
    ----------
    notice_level
        How early to be told: ``cautious`` at 5 %, ``balanced`` at 15 %,
        ``few`` at 30 % probability of harm.
    digest_hour
        The local hour of the daily digest.
    """

    name: str = Field(min_length=1, max_length=80, pattern=r"^[^\r\n\x00-\x1f]+$")
    email: str = Field(pattern=r"^[^@\s<>,;\"\r\n]+@[^@\s<>,;\"\r\n]+$")
    notice_level: Caution = "balanced"
    digest_hour: int = Field(default=7, ge=0, le=23)
    units: Literal["metric", "us"] = "metric"
    language: str = "en"


class Garden(Frozen):
    """Everything the keeper told us."""

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    name: str = Field(min_length=1, max_length=80)
    invented: bool = False
    site: Site
    places: tuple[Place, ...] = Field(min_length=1)
    trees: tuple[Tree, ...] = ()
    subscribers: tuple[Subscriber, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _trees_have_ids(cls, data: object) -> object:
        if isinstance(data, dict) and isinstance(data.get("trees"), list | tuple):
            trees = tuple(_with_id(tree) for tree in data["trees"])
            return {**data, "trees": trees}
        return data

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        for label, names in (
            ("place id", [place.id for place in self.places]),
            ("tree name", [tree.name for tree in self.trees]),
            ("tree id", [tree.id for tree in self.trees]),
        ):
            for name in _doubles(names):
                msg = f"{label} {name!r} is used twice; each must be unique"
                raise ValueError(msg)
        return self

    def place(self, place_id: str) -> Place:
        """Return a place by its id; `KeyError` if there is none."""
        return {place.id: place for place in self.places}[place_id]

    def known_on(self, day: date) -> Self:
        """Return the garden as it was known at the end of a day, each tree where it stood."""
        places = {place.id for place in self.places}
        known = [(tree, tree.known_on(day)) for tree in self.trees]
        trees = tuple(
            then if then.place in places else then.model_copy(update={"place": now.place})
            for now, then in known
        )
        return self.model_copy(update={"trees": trees})


def _with_id(tree: object) -> object:
    if not isinstance(tree, dict) or tree.get("id") or not isinstance(tree.get("name"), str):
        return tree
    return {**tree, "id": slug(tree["name"])}


def _doubles(names: Iterable[str]) -> list[str]:
    return [name for name, count in Counter(names).items() if count > 1]


def slug(name: str) -> str:
    """Return a name in lower case, letters and digits joined by hyphens.

    >>> slug("Old Trident, No. 2")
    'old-trident-no-2'
    """
    kept = "".join(sign if sign.isascii() and sign.isalnum() else " " for sign in name.lower())
    return "-".join(kept.split()) or "tree-" + name.encode().hex()[:12]
