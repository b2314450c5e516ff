"""Trees, their pots, and what was done to them."""

from __future__ import annotations

import math
from datetime import date
from typing import Annotated, Literal

from pydantic import Field, model_validator

from mebuki.domain.figure import Frozen

PotShape = Literal["rectangle", "oval", "round"]
PotWall = Literal["unglazed", "glazed-dark", "glazed-pale", "plastic-black", "plastic-pale", "wood"]
Vigour = Literal["weak", "normal", "strong"]
ValueClass = Literal["prized", "good", "ordinary"]
Development = Literal["training", "refined"]
RecordKind = Literal[
    "acquired", "collected", "repotted", "hard-pruned", "pruned", "pinched", "decandled",
    "defoliated", "wired", "wire-checked", "wire-removed", "major-bend", "deadwood-carved", "fed",
    "watered", "moved",
    "buds-closed-seen", "bud-swell-seen", "bud-break-seen", "leaves-open-seen", "flowering-seen",
    "leaf-fall-seen",
    "pot-weighed", "dry-seen", "wet-seen", "minimum-read", "note",
]  # fmt: skip

Centimetres = Annotated[float, Field(gt=0, le=200)]

FILL_SHARE = 0.9
"""Share of a pot's inner volume that substrate fills (design default, 0.85-0.95)."""


class Pot(Frozen):
    """A container by its inner dimensions.

    Parameters
    ----------
    shape
        ``rectangle`` and ``oval`` use length and width; ``round`` uses length as
        its diameter.
    length_cm, width_cm, height_cm
        Inner dimensions [cm].
    wall
        Material and colour, which set how much sun warms it.
    time_constant_hours
        How long [h] the root ball lags behind the air, as found with a probe for the pot
        bare, on a bench, in a wind of 3 m/s; none where it is reckoned from the sizes.
    """

    shape: PotShape
    length_cm: Centimetres
    width_cm: Centimetres
    height_cm: Annotated[float, Field(gt=0, le=100)]
    wall: PotWall = "unglazed"
    time_constant_hours: Annotated[float, Field(ge=0.1, le=72)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _round_has_one_width(cls, data: object) -> object:
        if isinstance(data, dict) and data.get("shape") == "round" and "width_cm" not in data:
            return {**data, "width_cm": data.get("length_cm")}
        return data

    @model_validator(mode="after")
    def _possible(self) -> Pot:
        if self.width_cm > self.length_cm:
            msg = "width_cm must not exceed length_cm"
            raise ValueError(msg)
        if self.shape == "round" and self.width_cm != self.length_cm:
            msg = "a round pot has one diameter: leave width_cm out"
            raise ValueError(msg)
        if self.height_cm > 3 * self.length_cm:
            msg = "height_cm is more than three times length_cm: check the dimensions"
            raise ValueError(msg)
        return self

    @property
    def top_area(self) -> float:
        """Inner area of the pot's mouth [m2]."""
        factor = 1.0 if self.shape == "rectangle" else math.pi / 4
        return factor * self.length_cm * self.width_cm / 1e4

    @property
    def volume(self) -> float:
        """Volume of substrate the pot holds [L]."""
        return FILL_SHARE * self.top_area * self.height_cm * 10

    @property
    def side_area(self) -> float:
        """Area of the side wall [m2]; the ellipse's girth after Ramanujan (1914)."""
        a, b = self.length_cm / 200, self.width_cm / 200
        if self.shape == "rectangle":
            girth = 4 * (a + b)
        else:
            girth = math.pi * (3 * (a + b) - math.sqrt((3 * a + b) * (a + 3 * b)))
        return girth * self.height_cm / 100

    def __str__(self) -> str:
        if self.shape == "round":
            return f"round {self.length_cm:g}x{self.height_cm:g} cm"
        return f"{self.shape} {self.length_cm:g}x{self.width_cm:g}x{self.height_cm:g} cm"


class Record(Frozen):
    """Something that was done to a tree or seen on it.

    Parameters
    ----------
    on
        The local day.
    amount
        A number where the kind has one: branch thickness [mm] for ``wired``,
        mass [kg] for ``pot-weighed``, lowest temperature of the night before [°C] for
        ``minimum-read``.
    place
        For ``moved``: the place the tree went to.
    unknown_kind
        For a ``note``: the kind that was written and that nobody knows. Such a
        record is kept and shown, and not used.
    """

    on: date
    kind: RecordKind
    note: str = ""
    amount: float | None = None
    place: str | None = None
    unknown_kind: str = ""


class Tree(Frozen):
    """One tree in one pot.

    Parameters
    ----------
    id
        Its identity in the garden; the name in lower case with hyphens unless
        given. It never changes when the tree is renamed.
    name
        What the keeper calls it, unique in the garden.
    taxon
        A taxon id such as ``acer-palmatum``.
    canopy_cm
        Mean width of the crown [cm].
    """

    id: str = Field(default="", pattern=r"^([a-z0-9][a-z0-9-]*)?$")
    name: str = Field(min_length=1, max_length=80)
    taxon: str
    cultivar: str = ""
    place: str
    pot: Pot
    substrate: str = "mixed-mineral"
    canopy_cm: float = Field(gt=0, le=500)
    vigour: Vigour = "normal"
    value: ValueClass = "good"
    development: Development = "training"
    born: int | None = Field(default=None, ge=1000, le=2100)
    records: tuple[Record, ...] = ()
    note: str = ""

    @property
    def canopy_area(self) -> float:
        """Area of the crown seen from above [m2], taken as a disc."""
        return math.pi / 4 * (self.canopy_cm / 100) ** 2

    def last(self, *kinds: RecordKind) -> Record | None:
        """Return the newest record of one of these kinds, or none."""
        found = [record for record in self.records if record.kind in kinds]
        return max(found, key=lambda record: record.on, default=None)

    def known_on(self, day: date) -> Tree:
        """Return the tree as it was known at the end of a day, at the place where it stood.

        Where it was moved later and its place before that is not on record, it is taken
        to have stood where it stands now.
        """
        kept = tuple(record for record in self.records if record.on <= day)
        moves = [each for each in self.records if each.kind == "moved" and each.place]
        before = [each for each in moves if each.on <= day]
        place = self.place
        if before and len(before) < len(moves):
            place = max(before, key=lambda each: each.on).place or place
        return self.model_copy(update={"records": kept, "place": place})
