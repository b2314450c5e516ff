"""Going away: how long each tree of a garden lasts without water, the thirstiest first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from mebuki.agenda.situation import Situation
from mebuki.domain.outlook import TreeOutlook
from mebuki.domain.practice import Rulebook
from mebuki.domain.wording import count_text, day_text, listing
from mebuki.rules.endurance import Endurance, endurance, last_day

NAMED = 5
"""Trees that one line names before it counts the rest (default)."""


@dataclass(frozen=True, slots=True)
class Stay:
    """How long one tree can be left, with its name and the name of its place."""

    tree: str
    place: str
    lasts: Endurance


def lasts(outlook: TreeOutlook, rulebook: Rulebook) -> str | None:
    """Return in words how long a full pot lasts, the shorter end beside; none where unseen."""
    found = endurance(outlook, rulebook.practice.value("water.absence_days"))
    if found is None:
        return None
    short = int(found.shortest)
    if found.open_end or short == int(found.days):
        return str(found)
    return f"{found}, {count_text(short, 'day')} if the tree uses more than reckoned"


def stays(situation: Situation) -> tuple[Stay, ...]:
    """Return how long each tree can be left, the shortest time first; unseen ones are left out."""
    longest = situation.rulebook.practice.value("water.absence_days")
    found = []
    for tree in situation.garden.trees:
        kept = endurance(situation.outlooks[tree.id], longest)
        if kept is not None:
            found.append(Stay(tree.name, situation.place_name(tree.id), kept))
    return tuple(sorted(found, key=lambda each: (each.lasts.shortest, each.tree)))


def absence_lines(situation: Situation) -> tuple[str, ...]:
    """Return the vacation outlook of a garden: until when nobody need come, and for which trees."""
    left = stays(situation)
    by_day: dict[date, list[str]] = {}
    for each in left:
        if not each.lasts.open_end:
            by_day.setdefault(last_day(each.lasts, situation.on), []).append(each.tree)
    lines = [f"{_when(day, situation.on)}: {_names(names)}" for day, names in by_day.items()]
    free = sum(1 for each in left if each.lasts.open_end)
    if free:
        days = round(situation.rulebook.practice.value("water.absence_days"))
        lines.append(f"More than {count_text(days, 'day')}: {count_text(free, 'tree')}")
    return tuple(lines)


def _when(day: date, on: date) -> str:
    if day <= on:
        return "Needs water every day"
    return f"Watered this morning, lasts until {day_text(day)}"


def _names(names: list[str]) -> str:
    if len(names) <= NAMED:
        return listing(names)
    return f"{', '.join(names[:NAMED])} and {len(names) - NAMED} more"
