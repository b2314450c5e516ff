"""Which advice shares one entry, and under which key for ever.

The key is garden, care kind, action, group and cycle. Group and cycle come from
what is recorded (a tree, a place, a night, a year), never from a predicted
date, so a window may move without the entry losing its identity.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from mebuki.agenda.requests import chosen
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, CareKind

MANY_TREES = 24
"""Gardens with more trees get one repotting entry per place, not per tree (default).

With trees repotted every second year that is more than twelve entries in a spring. The
trees of the garden are counted, not those that are due: that number falls as the work is
done, and an entry must not change its key for it.
"""

MANY_PLACES = 3
"""Gardens with more places get one entry for all of them where others get one for each (default).

Wire, shelter and repotting of six benches on one day would bury the rest. The places are
listed inside. As with the trees, those of the garden are counted, so that a key stays.
"""

WHOLE = "all"
"""The group that is the whole garden."""

WATCHES = frozenset({"frost-watch", "winter-watch"})
"""Actions kept in view without a deed: they make no entry."""

SEASONAL = frozenset({CareKind.PRUNE, CareKind.FEED, CareKind.SCOUT})
"""Kinds whose work comes once in a part of a season, for the whole garden in one entry."""

TRACES = frozenset({"frost-trace", "winter-trace"})
"""Actions of nights whose chance of harm matters to cautious people only."""

UNTOLD = frozenset({"heat-watch"}) | TRACES
"""Actions that are shown where one asks why, and make no entry."""

MEND = "mend-records"
"""The action that asks a keeper to mend records; it is no request for an observation."""

REPOTTINGS = ("repot-window", "repot-autumn")

NIGHTS = frozenset({"frost-night", "winter-night"})
"""Actions of a single night."""

SHOOT_WORK = "shoot-work"
"""The action of the entry that holds all light work on shoots of a season."""

SHOOTS = frozenset(
    {"pinch", "clip", "cut-back", "clip-after-flowering", "shorten-candles", "cut-leaves"}
)
"""Light work on shoots: it runs through the season, tree by tree, in one entry."""

WEEKLY = frozenset({"do-not-water-frozen"})
"""Cautions that hold from day to day: one entry for the days of a week, not one a day."""

STANDING = WEEKLY | {"winter-water", "check-size"}
"""What is asked for a week or a month: once shown it stands until that is over."""

OPENING = frozenset({"feed-season", "deadwood-season", "aftercare"})
"""Actions without hurry that last for months: their bar marks the weeks in which they begin.

A bar through half of the year hides what is due today. The text says until when.
"""


@dataclass(frozen=True, slots=True)
class Group:
    """The advice that shares one entry, in the order of tree ids."""

    key: str
    action: str
    advice: tuple[Advice, ...]

    @property
    def open(self) -> tuple[Advice, ...]:
        """What is to be done."""
        return tuple(advice for advice in self.advice if not advice.blocked)

    @property
    def put_off(self) -> tuple[Advice, ...]:
        """What must wait."""
        return tuple(advice for advice in self.advice if advice.blocked)


def groups(situation: Situation) -> tuple[Group, ...]:
    """Return the groups of a situation, sorted by key; the order of advice does not matter."""
    found: dict[str, list[Advice]] = {}
    for advice in wanted(situation):
        found.setdefault(entry_key(situation, advice), []).append(advice)
    return tuple(
        Group(key, action_in(key), tuple(sorted(members, key=_order)))
        for key, members in sorted(found.items())
    )


def wanted(situation: Situation) -> tuple[Advice, ...]:
    """Return the advice that makes entries.

    A tree is brought in once a night, not twice, and of the requests for observations
    only the most helpful are made.
    """
    trees = situation.trees
    requests = {id(each) for each in chosen(situation.advice)}
    frosty = {(each.tree, each.cycle) for each in situation.advice if each.action == "frost-night"}
    return tuple(
        each
        for each in situation.advice
        if each.tree in trees
        and each.action not in WATCHES | UNTOLD
        and (each.kind is not CareKind.OBSERVE or each.action == MEND or id(each) in requests)
        and not (each.action == "winter-night" and (each.tree, each.cycle) in frosty)
    )


def action_in(key: str) -> str:
    """Return the action that the entry of a key asks for.

    >>> action_in("home/repot/repot-window/maple/2013")
    'repot-window'
    """
    return key.split("/")[2] if key.count("/") > 1 else ""


def entry_key(situation: Situation, advice: Advice) -> str:
    """Return the key of the entry that an advice belongs to."""
    action = SHOOT_WORK if advice.action in SHOOTS else advice.action
    group, cycle = _group(situation, advice), _cycle(advice)
    return f"{situation.garden.id}/{advice.kind}/{action}/{group}/{cycle}"


def _cycle(advice: Advice) -> str:
    """Return the cycle of the entry: never shorter than that of the advice."""
    if advice.action in ("aftercare", "bend-guard"):
        return advice.cycle[: len("2013-03")]
    if advice.action in WEEKLY:
        year, week, _ = date.fromisoformat(advice.cycle).isocalendar()
        return f"{year}-W{week:02d}"
    if advice.action == "wire-check":
        wired, number = advice.cycle.split("/")
        return f"{wired[: len('2013')]}-{number}"
    if advice.kind in SEASONAL:
        # of a cue for a pest the part of the season, not the pest
        season, part, *_ = advice.cycle.split("/")
        return season if _all_season(advice, part) else f"{season}-{part}"
    return advice.cycle


def _all_season(advice: Advice, part: str) -> bool:
    """Whether one entry a season is enough, although trees differ in when it begins.

    Trees in warm rooms are fed from winter on; with the others they would share a begin
    that is theirs alone.
    """
    if advice.action == "feed-season":
        return part != "warm"
    return advice.action in SHOOTS | {"prune-structure", "feed-stop"}


def _group(situation: Situation, advice: Advice) -> str:
    few = len(situation.garden.places) <= MANY_PLACES
    place = situation.trees[advice.tree].place if few else WHOLE
    if advice.action in REPOTTINGS:
        return place if len(situation.garden.trees) > MANY_TREES else advice.tree
    if advice.action in ("wire-check", "winter-shelter", "out-of-shelter"):
        return place
    return WHOLE


def _order(advice: Advice) -> tuple[str, str]:
    return advice.tree, advice.cycle
