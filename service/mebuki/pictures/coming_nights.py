"""Which nights are coming at a place, in numbers and words."""

from __future__ import annotations

from collections import Counter
from typing import Final

from mebuki.agenda.grouping import NIGHTS
from mebuki.domain.advice import Moments
from mebuki.domain.outlook import Night
from mebuki.domain.site import Place
from mebuki.domain.wording import listing, weekday_text
from mebuki.pictures.wording import Table, clock_time, degrees, number
from mebuki.rounds.planned import Plan

DRAWN_NIGHTS: Final = 5


def in_the_open(place: Place) -> bool:
    """Say whether the air of a place follows the air outside hour by hour."""
    return place.minimum_held is None and place.lag_hours == 0


def place_shown(plan: Plan) -> Place | None:
    """Return the place under the open sky that has most trees, or none without trees."""
    counts = Counter(tree.place for tree in plan.garden.trees if tree.id in plan.outlooks)
    found = [place for place in plan.garden.places if counts[place.id]]
    outside = [place for place in found if in_the_open(place)] or found
    return max(outside, key=lambda place: counts[place.id], default=None)


def place_nights(plan: Plan, place: Place) -> tuple[Night, ...]:
    """Return the coming nights of a place; trees at one place share them."""
    for tree in plan.garden.trees:
        outlook = plan.outlooks.get(tree.id)
        if tree.place == place.id and outlook is not None and outlook.nights:
            return outlook.nights
    return ()


def threatened(plan: Plan, place: Place, night: Night) -> bool:
    """Say whether a tree at a place needs a hand for this night, however far ahead it is."""
    here = {tree.id for tree in plan.garden.trees if tree.place == place.id}
    return any(
        advice.tree in here
        and advice.action in NIGHTS
        and isinstance(advice.span, Moments)
        and advice.span.begins < night.ends
        and night.begins < advice.span.ends
        for advice in plan.advice
    )


def nights_table(plan: Plan, place: Place) -> Table:
    """Return the numbers of the picture, all nights that are foreseen."""
    zone = plan.garden.site.zone
    return Table(
        caption=f"{place.name}: lowest temperatures of the night",
        tight=True,
        columns=("Night from", "Air, °C", "Leaf, °C", "About", "Sky"),
        rows=tuple(
            (
                weekday_text(night.evening),
                f"{number(night.air_minimum, 1)} ± {number(night.spread, 1)}",
                number(night.leaf_minimum, 1),
                clock_time(night.minimum_at.astimezone(zone)),
                _kind(night),
            )
            for night in place_nights(plan, place)
        ),
    )


def _kind(night: Night) -> str:
    if min(night.air_minimum, night.leaf_minimum) - 2 * night.spread > 0:
        return "mild"
    return {"radiation": "clear, calm", "advective": "windy"}.get(
        night.frost_type, night.frost_type
    )


def describe_nights(plan: Plan, place: Place) -> str:
    """Return in words what the picture shows."""
    nights = place_nights(plan, place)[:DRAWN_NIGHTS]
    if not nights:
        return f"The coming nights at {place.name} cannot be seen: there is no forecast."
    coldest = min(nights, key=lambda night: night.air_minimum)
    told = ", ".join(
        f"{night.evening:%A} {degrees(night.air_minimum, 1)} give or take {number(night.spread, 1)}"
        for night in nights
    )
    marked = [f"{night.evening:%A}" for night in nights if threatened(plan, place, night)]
    danger = f" Trees need a hand in the nights from {listing(marked)}." if marked else ""
    return (
        f"Lowest air temperature at {place.name} in the nights from {told}. The coldest is the "
        f"night from {weekday_text(coldest.evening)}: {degrees(coldest.air_minimum, 1)}, leaves "
        f"{degrees(coldest.leaf_minimum, 1)}.{danger}"
    )
