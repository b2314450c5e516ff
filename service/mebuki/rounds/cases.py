"""One case for each tree: the tree as its sound records tell it, its place, and its shelters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from mebuki.domain.advice import Case
from mebuki.domain.exposure import Refuge
from mebuki.domain.garden import Garden
from mebuki.domain.history import contradictions, sound
from mebuki.domain.outlook import TreeOutlook
from mebuki.domain.practice import Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import WeatherPicture
from mebuki.rules.shelter import frost_free, suiting
from mebuki.season.refuges import refuges


@dataclass(frozen=True, slots=True)
class Rules:
    """The taxa by id and everything else that was read from the rule folders."""

    taxa: Mapping[str, Taxon]
    rulebook: Rulebook


def sound_garden(garden: Garden) -> Garden:
    """Return the garden with only those records of each tree that do not contradict others."""
    trees = tuple(sound(tree) for tree in garden.trees)
    return garden.model_copy(update={"trees": trees})


def cases(
    garden: Garden,
    rules: Rules,
    outlooks: Mapping[str, TreeOutlook],
    picture: WeatherPicture,
    on: date,
) -> list[Case]:
    """Return what the care rules look at, one case for each tree in the garden's order.

    ``garden`` is the garden as it was known on the day, with all its records.
    """
    closed = refuges(garden.places, picture.hourly, picture, on)
    found: dict[str, tuple[Refuge, ...]] = {}
    made = []
    for tree in garden.trees:
        taxon = rules.taxa[tree.taxon]
        if taxon.id not in found:
            found[taxon.id] = suiting(taxon, closed.values(), rules.rulebook.practice)
        harm = rules.rulebook.practice.value(f"frost.threshold_{tree.value}")
        made.append(
            Case(
                tree=sound(tree),
                taxon=taxon,
                place=garden.place(tree.place),
                site=garden.site,
                outlook=outlooks[tree.id],
                rulebook=rules.rulebook,
                on=on,
                at=picture.at,
                shelter_available=bool(frost_free(found[taxon.id], harm)),
                shelters=found[taxon.id],
                doubts=tuple(str(each) for each in contradictions(tree)),
            )
        )
    return made
