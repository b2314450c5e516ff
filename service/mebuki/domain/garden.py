"""A garden: its site, its places, its trees, and who is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import Field, field_validator, model_validator

from mebuki.domain.advice import CareKind
from mebuki.domain.figure import Frozen
from mebuki.domain.site import Place, Site
from mebuki.domain.tree import Tree

Caution = Literal["cautious", "balanced", "few"]
Hour = Annotated[int, Field(ge=0, le=23)]

LONGEST_QUIET = 16
"""Hours a day that quiet hours may last: a third of the day is left to be told in (default)."""


class Subscriber(Frozen):
    """A person who is told, and how.

    Parameters
    ----------
    notice_level
        How early to be told: ``cautious`` at 5 %, ``balanced`` at 15 %,
        ``few`` at 30 % probability of harm.
    digest_hour
        The hour of the daily digest, on the garden's clock even where the reader has
        another time zone: its day is the garden's day.
    kinds
        The kinds of care to be told of; none for all. What is about no kind, such as
        weather that cannot be seen, is told to everybody.
    trees
        Ids of the trees to be told of, in a garden's data also names; none for all.
    prepare_days
        How many days ahead of a cold night a word to prepare may come; 0 for no such word.
    quiet_from, quiet_until
        Local hours between which mails wait, such as 22 and 7; none for no quiet hours.
    quiet_broken
        Whether a call to act that cannot wait comes in quiet hours too.
    time_zone
        Of the reader, for the quiet hours; none where it is the garden's.
    """

    name: str = Field(min_length=1, max_length=80, pattern=r"^[^\r\n\x00-\x1f]+$")
    email: str = Field(pattern=r"^[^@\s<>,;\"\r\n]+@[^@\s<>,;\"\r\n]+$")
    notice_level: Caution = "balanced"
    digest_hour: int = Field(default=7, ge=0, le=23)
    units: Literal["metric", "us"] = "metric"
    language: str = "en"
    kinds: tuple[CareKind, ...] = ()
    trees: tuple[str, ...] = ()
    prepare_days: int = Field(default=3, ge=0, le=3)
    quiet_from: Hour | None = None
    quiet_until: Hour | None = None
    quiet_broken: bool = True
    time_zone: str | None = None

    @field_validator("kinds")
    @classmethod
    def _each_kind_once(cls, value: tuple[CareKind, ...]) -> tuple[CareKind, ...]:
        return tuple(kind for kind in CareKind if kind in value)

    @field_validator("trees")
    @classmethod
    def _each_tree_once(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(value))

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str | None) -> str | None:
        try:
            return None if value is None else ZoneInfo(value).key
        except (KeyError, ValueError, OSError) as error:
            msg = "must be an IANA time zone such as Europe/Berlin, or left out for the garden's"
            raise ValueError(msg) from error

    @model_validator(mode="after")
    def _quiet_hours(self) -> Self:
        begins, ends = self.quiet_from, self.quiet_until
        if (begins is None) != (ends is None):
            msg = "quiet_from and quiet_until go together: set both, or neither"
            raise ValueError(msg)
        if begins is not None and ends is not None:
            hours = (ends - begins) % 24
            if not 0 < hours <= LONGEST_QUIET:
                msg = f"quiet hours last 1 to {LONGEST_QUIET} hours, from quiet_from to quiet_until"
                raise ValueError(msg)
        return self


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
            people = _with_tree_ids(data.get("subscribers"), trees)
            return {**data, "trees": trees, **people}
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
        self._chosen_trees_are_here()
        return self

    def _chosen_trees_are_here(self) -> None:
        """Refuse a choice that would leave a reader untold without anybody noticing."""
        here = {tree.id for tree in self.trees}
        for reader in self.subscribers:
            missing = [tree for tree in reader.trees if tree not in here]
            if missing:
                msg = (
                    f"subscriber {reader.name!r} is to be told of {missing[0]!r}, which is no "
                    "tree of this garden; take it out of trees, or leave trees out for all"
                )
                raise ValueError(msg)

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


def _with_tree_ids(people: object, trees: Iterable[object]) -> dict[str, object]:
    """Return the subscribers with the ids of trees that they chose by name."""
    if not isinstance(people, list | tuple):
        return {}
    ids = {tree["name"]: tree["id"] for tree in trees if isinstance(tree, dict) and "id" in tree}
    return {"subscribers": type(people)(_by_id(person, ids) for person in people)}


def _by_id(person: object, ids: dict[object, object]) -> object:
    chosen = person.get("trees") if isinstance(person, dict) else None
    if not isinstance(person, dict) or not isinstance(chosen, list | tuple):
        return person
    named = (ids.get(tree, tree) if isinstance(tree, str) else tree for tree in chosen)
    return {**person, "trees": type(chosen)(named)}


def _doubles(names: Iterable[str]) -> list[str]:
    return [name for name, count in Counter(names).items() if count > 1]


def slug(name: str) -> str:
    """Return a name in lower case, letters and digits joined by hyphens.

    >>> slug("Old Trident, No. 2")
    'old-trident-no-2'
    """
    kept = "".join(sign if sign.isascii() and sign.isalnum() else " " for sign in name.lower())
    return "-".join(kept.split()) or "tree-" + name.encode().hex()[:12]
