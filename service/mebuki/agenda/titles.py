"""Titles of entries: the fact and the deed in a few words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from mebuki.agenda.grouping import Group
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, Days
from mebuki.domain.wording import count_text, day_text, listing, temperature_text

PUT_OFF = "Put off: "
"""How the title of an entry begins whose whole work must wait."""

PESTS_NAMED = 2
"""Pests that a title names before it counts the rest."""

WORK: Mapping[str, str] = {
    "prune-structure": "Cut branches where due",
    "pinch": "Pinch new shoots",
    "clip": "Clip long shoots",
    "cut-back": "Cut back the shoots that ran",
    "clip-after-flowering": "Clip after bloom",
    "shorten-candles": "Shorten candles",
    "decandle": "Cut candles",
    "select-buds": "Choose buds, thin needles",
    "defoliate": "Take off leaves",
    "cut-leaves": "Cut large leaves in half",
    "deadwood-season": "Deadwood season begins, on dry warm days",
    "shoot-work": "Work on new shoots",
    "feed-season": "Feeding begins",
    "feed-stop": "Last feed of the season",
    "observe-buds": "Look whether buds are open",
    "observe-minimum": "Read a minimum thermometer on a clear night",
    "observe-weigh": "Weigh a pot after watering and a day later",
}
"""What a title says of seasonal work and of requests, by action."""

_PUT_OFF: Mapping[str, str] = {
    "repot-window": "repot",
    "repot-autumn": "repot",
    "prune-structure": "cutting branches,",
    "decandle": "cutting candles,",
    "defoliate": "taking off leaves,",
    "deadwood-season": "deadwood,",
    "feed-season": "feeding,",
    "shoot-work": "work on new shoots,",
}
"""What is put off, before the name of a tree, by action."""

HARD_FROST, FROST = -4.0, -2.0
"""Air temperatures [°C] below which a frost is called hard, and below which it is not light."""


def title_of(situation: Situation, group: Group) -> str:
    """Return the title of an entry."""
    if not group.open:
        return _put_off(situation, group)
    return _TITLES[group.action](situation, group)


def coldest(situation: Situation, advice: Sequence[Advice]) -> float | None:
    """Return the lowest air temperature [°C] that a night brings to the trees of some advice."""
    found = [
        night.air_minimum
        for each in advice
        for night in situation.outlooks[each.tree].nights
        if night.evening.isoformat() == each.cycle
    ]
    return min(found, default=None)


def frost_fact(lowest: float) -> str:
    """Return what a night with a lowest air temperature [°C] is called, with the number.

    >>> frost_fact(-5), frost_fact(-3), frost_fact(-1), frost_fact(0.5)
    ('Hard frost −5 °C', 'Frost −3 °C', 'Light frost −1 °C', 'Frost possible, low 0 °C')
    """
    degrees = temperature_text(lowest, 0)
    if round(lowest) >= 0:
        return f"Frost possible, low {degrees}"
    if lowest < HARD_FROST:
        return f"Hard frost {degrees}"
    return f"Frost {degrees}" if lowest < FROST else f"Light frost {degrees}"


def who(situation: Situation, advice: tuple[Advice, ...]) -> str:
    """Return the name of a single tree, or how many trees."""
    trees = sorted({each.tree for each in advice})
    return situation.name(trees[0]) if len(trees) == 1 else count_text(len(trees), "tree")


def where(situation: Situation, advice: tuple[Advice, ...]) -> str:
    """Return the place of trees after a comma; nothing if they stand in several."""
    places = {situation.place_name(each.tree) for each in advice}
    return f", {places.pop()}" if len(places) == 1 else ""


def verb(advice: tuple[Advice, ...]) -> str:
    """Return what is done with trees on a cold night, in a word or two."""
    return "bring in" if all(each.deed.startswith("Bring in") for each in advice) else "protect"


def put_off_words(action: str) -> str:
    """Return what is put off, before the name of a tree.

    >>> put_off_words("repot-window"), put_off_words("wire-check")
    ('repot', 'wire check,')
    """
    return _PUT_OFF.get(action, f"{action.replace('-', ' ')},")


def _put_off(situation: Situation, group: Group) -> str:
    deed = put_off_words(group.action)
    return f"{PUT_OFF}{deed} {who(situation, group.put_off)}"


def _repot(situation: Situation, group: Group) -> str:
    spans = [each.span for each in group.open if isinstance(each.span, Days)]
    if len(group.open) == 1:
        likely = spans[0].likely or spans[0].first
        cue = group.open[0].fact.removeprefix("repot ")
        return f"Repot {who(situation, group.open)} {cue} (likely {day_text(likely)})"
    first = min(span.first for span in spans)
    place = where(situation, group.open)
    return f"Repot {who(situation, group.open)}{place}, each in its window (from {day_text(first)})"


def _aftercare(situation: Situation, group: Group) -> str:
    return f"After repotting, {who(situation, group.open)}: shade, no feed, no frost"


def _wire(situation: Situation, group: Group) -> str:
    return f"Check the wire on {who(situation, group.open)}{where(situation, group.open)}"


def _frost(situation: Situation, group: Group) -> str:
    lowest = coldest(situation, group.advice)
    fact = "Frost" if lowest is None else frost_fact(lowest)
    return f"{fact}: {verb(group.open)} {who(situation, group.open)}"


def _winter(situation: Situation, group: Group) -> str:
    return f"Too cold for roots or tender trees: protect {who(situation, group.open)}"


def _shelter(situation: Situation, group: Group) -> str:
    return f"Into winter shelter: {who(situation, group.open)}{where(situation, group.open)}"


def _out(situation: Situation, group: Group) -> str:
    return f"Out of shelter: {who(situation, group.open)}{where(situation, group.open)}"


def _water(situation: Situation, group: Group) -> str:
    return f"Water {who(situation, group.open)}"


def _frozen(situation: Situation, group: Group) -> str:
    return f"Pots freeze this week, water none that is frozen: {who(situation, group.open)}"


def _work(situation: Situation, group: Group) -> str:
    """Return the title of work that has a window of days for each tree.

    Where an entry holds one kind of work only, that is named.
    """
    kinds = {each.action for each in group.open}
    work = WORK[kinds.pop() if len(kinds) == 1 else group.action]
    return f"{work}: {who(situation, group.open)}{_when(group.open)}"


def _when(advice: tuple[Advice, ...]) -> str:
    """Return nothing where the days of the entry say it, a word where they differ."""
    return ", each in its window" if len({each.span for each in advice}) > 1 else ""


def _scout(situation: Situation, group: Group) -> str:
    ordered = sorted(group.open, key=lambda each: (_first(each), each.fact))
    pests = list(dict.fromkeys(each.fact.partition(":")[0] for each in ordered))
    more = f" and {len(pests) - PESTS_NAMED} more" if len(pests) > PESTS_NAMED else ""
    named = listing(pests) if not more else ", ".join(pests[:PESTS_NAMED])
    return f"Look for {named}{more}: {who(situation, group.open)}"


def _first(advice: Advice) -> int:
    return advice.span.first.toordinal() if isinstance(advice.span, Days) else 0


def _observe(situation: Situation, group: Group) -> str:
    return f"{WORK[group.action]}: {who(situation, group.open)}"


def _size(situation: Situation, group: Group) -> str:
    return f"Measure pot and crown again: {who(situation, group.open)}"


HARD: Mapping[str, str] = {
    "heat-day": "Heat at the pots: shade",
    "gale-day": "Gusts: tie down",
    "frozen-wind": "Wind on frozen roots: shelter",
    "winter-water": "Feel the pots at rest, water dry ones:",
    "water-before-frost": "Hard frost ahead, water dry pots by day:",
    "bend-guard": "Bent in the cold, keep from frost:",
    "too-warm": "Too warm in winter, move to the cold:",
    "mend-records": "Records to mend:",
}
"""Titles that end with the name of a tree or how many, by action."""


def _hard(situation: Situation, group: Group) -> str:
    return f"{HARD[group.action]} {who(situation, group.open)}"


_TITLES: dict[str, Callable[[Situation, Group], str]] = {
    "repot-window": _repot,
    "repot-autumn": _repot,
    "aftercare": _aftercare,
    **dict.fromkeys(HARD, _hard),
    "wire-check": _wire,
    "frost-night": _frost,
    "winter-night": _winter,
    "winter-shelter": _shelter,
    "out-of-shelter": _out,
    "water-today": _water,
    "do-not-water-frozen": _frozen,
    "check-size": _size,
    "scout": _scout,
    **dict.fromkeys((each for each in WORK if not each.startswith("observe")), _work),
    **dict.fromkeys((each for each in WORK if each.startswith("observe")), _observe),
}
