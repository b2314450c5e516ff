"""The work of a plan as a reader meets it: today, soon, by kind, and what waits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import CareKind, Days, Moments, Urgency
from mebuki.domain.text import one_line, plain
from mebuki.domain.wording import day_text, weekday_text
from mebuki.pictures.wording import clock_time, span_words
from mebuki.rounds.planned import Plan

SOON_DAYS: Final = 14
KIND_ORDER: Final = tuple(CareKind)
_NEAR: Final = (Urgency.IMMEDIATE, Urgency.EXPECTED)


@dataclass(frozen=True, slots=True)
class Task:
    """One entry, ready to be read."""

    title: str
    when: str
    where: str
    first: str
    more: tuple[str, ...]
    trees: tuple[str, ...]
    urgent: bool


@dataclass(frozen=True, slots=True)
class Waiting:
    """Work that was put off, and why."""

    what: str
    why: str
    trees: tuple[str, ...]


def live(plan: Plan) -> list[Entry]:
    """Return the entries that hold, the most urgent and earliest first."""
    held = [entry for entry in plan.shown if entry.status is not EntryStatus.CANCELLED]
    return sorted(held, key=lambda entry: _order(entry, plan))


def today(plan: Plan) -> list[Task]:
    """Return what needs a hand today or tonight; windows that merely stay open are left out."""
    return [as_task(entry, plan) for entry in live(plan) if _presses(entry, plan)]


def running(plan: Plan) -> int:
    """Return how many entries hold today without pressing."""
    return sum(_holds(entry, plan) and not _presses(entry, plan) for entry in live(plan))


def _holds(entry: Entry, plan: Plan) -> bool:
    return _first(entry, plan) <= plan.on <= _last(entry, plan)


def _presses(entry: Entry, plan: Plan) -> bool:
    bound = plan.on in (_first(entry, plan), _last(entry, plan))
    near = entry.urgency is Urgency.IMMEDIATE or (bound and entry.urgency in _NEAR)
    return near and _holds(entry, plan)


def soon(plan: Plan) -> list[Task]:
    """Return what begins within two weeks, the earliest first."""
    coming = [
        entry for entry in live(plan) if 0 < (_first(entry, plan) - plan.on).days <= SOON_DAYS
    ]
    coming.sort(key=lambda entry: (_first(entry, plan), entry.title))
    return [as_task(entry, plan) for entry in coming]


def of_kinds(plan: Plan, *kinds: CareKind) -> list[Task]:
    """Return everything of some kinds of care that has not passed, by its first day."""
    found = [entry for entry in live(plan) if entry.kind in kinds and _last(entry, plan) >= plan.on]
    found.sort(key=lambda entry: (_first(entry, plan), entry.title))
    return [as_task(entry, plan) for entry in found]


def waiting(plan: Plan) -> list[Waiting]:
    """Return what was put off, trees with one reason together."""
    names = {tree.id: tree.name for tree in plan.garden.trees}
    together: dict[tuple[str, str], list[str]] = defaultdict(list)
    for advice in plan.advice:
        if advice.blocked:
            what = f"{advice.kind.value.capitalize()}: {one_line(advice.fact)}"
            name = one_line(names.get(advice.tree, advice.tree))
            if name not in together[what, plain(advice.blocked)]:
                together[what, plain(advice.blocked)].append(name)
    return [Waiting(what, why, tuple(trees)) for (what, why), trees in together.items()]


def as_task(entry: Entry, plan: Plan) -> Task:
    """Return an entry as text: its first paragraph, and what stands behind it.

    Trees are listed only where the text does not name them all.
    """
    body, names = plain(entry.body), tree_names(plan, entry.trees)
    paragraphs = [part.strip() for part in body.split("\n\n") if part.strip()]
    places = {place.id: place.name for place in plan.garden.places}
    return Task(
        title=one_line(entry.title),
        when=when(entry.span, plan),
        where=one_line(places.get(entry.place, entry.place)),
        first=paragraphs[0] if paragraphs else "",
        more=tuple(paragraphs[1:]),
        trees=() if all(name in body for name in names) else names,
        urgent=entry.urgency is Urgency.IMMEDIATE,
    )


def tree_names(plan: Plan, ids: Sequence[str]) -> tuple[str, ...]:
    """Return the names of trees; an id without a tree is shown as it is."""
    names = {tree.id: one_line(tree.name) for tree in plan.garden.trees}
    return tuple(names.get(tree, tree) for tree in ids)


def when(span: Days | Moments, plan: Plan) -> str:
    """Return a span in local words."""
    if isinstance(span, Days):
        likely = f", likely {day_text(span.likely)}" if span.likely else ""
        return span_words(span.first, span.last) + (likely if span.first != span.last else "")
    begins, ends = _local(span.begins, plan), _local(span.ends, plan)
    until = clock_time(ends) if ends.date() == begins.date() else _day_time(ends)
    return f"{_day_time(begins)} to {until}"


def _day_time(moment: datetime) -> str:
    return f"{weekday_text(moment.date())} {clock_time(moment)}"


def _local(moment: datetime, plan: Plan) -> datetime:
    return moment.astimezone(plan.garden.site.zone)


def _first(entry: Entry, plan: Plan) -> date:
    span = entry.span
    return span.first if isinstance(span, Days) else _local(span.begins, plan).date()


def _last(entry: Entry, plan: Plan) -> date:
    span = entry.span
    return span.last if isinstance(span, Days) else _local(span.ends, plan).date()


def _order(entry: Entry, plan: Plan) -> tuple[int, int, date, str]:
    near = _NEAR.index(entry.urgency) if entry.urgency in _NEAR else len(_NEAR)
    return near, KIND_ORDER.index(entry.kind), _first(entry, plan), entry.title
