"""Readings of minimum thermometers, laid beside the records of the trees that stand there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from mebuki.domain.garden import Garden
from mebuki.domain.tree import Record, RecordKind, Tree
from mebuki.season.frost import NIGHT_BEGINS
from mebuki.season.site_learning import MEMORY_DAYS
from mebuki.storage.observations import Observation, ObservationBook

MINIMUM_AIR: Final = "minimum_air_temperature_c"
"""The lowest air temperature of a night [°C], at the moment it was so."""

_BEFORE_IT_CAME: Final[tuple[RecordKind, ...]] = ("acquired", "collected")


def read_garden_minima(book: ObservationBook, garden: Garden, until: datetime) -> Garden:
    """Return the garden with the readings of its minimum thermometers up to a moment.

    Only nights that can still teach something are looked at.
    """
    kept = book.read(garden.id, MINIMUM_AIR, until - timedelta(days=MEMORY_DAYS + 1), until)
    return with_minima(garden, [each.observation for each in kept])


def with_minima(garden: Garden, readings: Sequence[Observation]) -> Garden:
    """Return the garden with readings as records ``minimum-read`` of the trees at their places.

    Of several readings of one place and night the lowest counts. A reading
    belongs to the place it names, else to that of the tree it names; one that
    names neither counts where the garden has one place only, since nobody
    knows where it was taken. A night begins at 16 h, local time; its record is
    of the morning after, as the keeper's own are. The garden is for planning:
    what it gains here is kept as readings already.
    """
    lowest = _lowest(garden, readings)
    if not lowest:
        return garden
    trees = tuple(_beside(tree, lowest.get(tree.place, {})) for tree in garden.trees)
    return garden.model_copy(update={"trees": trees})


def _lowest(garden: Garden, readings: Sequence[Observation]) -> Mapping[str, dict[date, float]]:
    places = {tree.id: tree.place for tree in garden.trees}
    only = garden.places[0].id if len(garden.places) == 1 else ""
    found: dict[str, dict[date, float]] = {}
    for reading in readings:
        place = reading.place or places.get(reading.tree, "" if reading.tree else only)
        if reading.quantity != MINIMUM_AIR or not place:
            continue
        morning = _morning(reading.at, garden.site.zone)
        here = found.setdefault(place, {})
        here[morning] = min(reading.value, here.get(morning, reading.value))
    return found


def _morning(at: datetime, zone: ZoneInfo) -> date:
    local = at.astimezone(zone)
    return local.date() + timedelta(days=local.hour >= NIGHT_BEGINS)


def _beside(tree: Tree, lowest: Mapping[date, float]) -> Tree:
    """Return the tree with the readings of the days since it came."""
    came = [record.on for record in tree.records if record.kind in _BEFORE_IT_CAME]
    since = max((*came, date(tree.born or 1, 1, 1)))
    fresh = tuple(
        Record(on=morning, kind="minimum-read", amount=low, note="thermometer")
        for morning, low in sorted(lowest.items())
        if morning >= since
    )
    return tree.model_copy(update={"records": (*tree.records, *fresh)}) if fresh else tree
