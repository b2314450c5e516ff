"""Whether a person would notice the difference between two states of an entry.

Forecasts and windows move with each round; a reader who is told of each move learns
to look away. Told is what changes a deed: another day, other trees whose days are at
hand, another danger. What is calmer is told when the day has come.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from mebuki.agenda.done import action_of
from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.agenda.grouping import OPENING, STANDING
from mebuki.agenda.requests import REQUESTS
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.wording import MONTHS

MOMENT_NOISE = timedelta(hours=2)
BRIEF = (CareKind.WATER, CareKind.OBSERVE, CareKind.HEAT, CareKind.WIND)
"""Kinds whose entries for a day vanish without a word when nothing asks for them."""

SHELTER_NOISE = 10
"""Days by which a window for shelter or feeding may move without being worth telling (default)."""

SLOW = (CareKind.WINTER, CareKind.FEED, CareKind.SCOUT)
"""Kinds whose windows hang on frosts or on warmth to come, and last for weeks."""

TONIGHT = timedelta(hours=24)
MORE, FEWER = 0.2, 0.5
"""Share of trees of a night by which more, or to which fewer, are worth telling (default)."""

IMMINENT_DAYS = 7
"""Days ahead of its own window at which a tree that was not named yet is told of (default)."""

FAR_DAYS = 30
"""For each so many days ahead, one more day of a window's move is noise (default)."""

DEGREES = 2
"""Change of a night's temperature [K] in its title that is worth telling (default)."""

_TEMPERATURE = re.compile(r"(−?\d+) °C")
_NUMBERS = re.compile(rf"[−\d.,:%]+|\b(?:{'|'.join(MONTHS)})\b")


def noticeable(
    old: Entry, new: Entry, at: datetime, noise_days: int, parted: frozenset[str] = frozenset()
) -> bool:
    """Return whether a person would notice the difference between two states of an entry.

    What was taken back or done and is asked for again is; but for a request, which is
    made once in its week.
    """
    if action_of(new) in REQUESTS and (old.gone or len(old.trees) == 1):
        return False
    return (
        not parted.isdisjoint(set(old.trees) - set(new.trees))
        or _other_trees(old, new, at)
        or _other_words(old, new, at)
        or _surer(old, new)
        or old.status is EntryStatus.CANCELLED
        or bool(old.gone)
        or _moved(old.span, new.span, at.date(), _noise(new, noise_days))
    )


def _surer(old: Entry, new: Entry) -> bool:
    """Whether a window or a night became certain; that tomorrow became today is no news."""
    sure = new.status is not old.status and new.status is not EntryStatus.TENTATIVE
    return sure and new.kind not in BRIEF


def _other_words(old: Entry, new: Entry, at: datetime) -> bool:
    if new.kind is CareKind.SCOUT and old.status is not EntryStatus.CANCELLED:
        return any(pest not in old.body for pest in _pests_at_hand(new, at.date()))
    if isinstance(old.span, Moments) and isinstance(new.span, Moments):
        ahead = new.span.begins - at >= TONIGHT
        return _other_night(old.title, new.title, ahead=ahead)
    return words(old.title) != words(new.title)


def _pests_at_hand(entry: Entry, today: date) -> Iterator[str]:
    """Yield the pests to look for now or soon; those that are past leave without a word."""
    for each in entry.advice:
        if _at_hand(each.span, today):
            yield each.fact.partition(":")[0]


def _at_hand(span: Days | Moments, today: date) -> bool:
    return not isinstance(span, Days) or (span.first - today).days <= IMMINENT_DAYS


def _other_night(old: str, new: str, *, ahead: bool) -> bool:
    """Whether a night is another by degrees, or asks for another deed.

    While it is more than a day ahead, only a colder one is: forecasts for it still
    come and go, and nothing has to be done yet.

    What its frost is called follows the degrees and would change to and fro about
    a limit; how many trees it concerns is seen by the trees.
    """
    (fact, _, deed), (fact_now, _, deed_now) = old.partition(": "), new.partition(": ")
    before, now = _degrees(fact), _degrees(fact_now)
    if before is None or now is None:
        other = words(fact) != words(fact_now)
    elif ahead:
        return now <= before - DEGREES
    else:
        other = abs(now - before) >= DEGREES
    return other or deed.split()[:1] != deed_now.split()[:1]


def _degrees(fact: str) -> int | None:
    found = _TEMPERATURE.search(fact)
    return int(found[1].replace("−", "-")) if found else None


def words(title: str) -> str:
    """Return a title without numbers and months, which alone are not worth telling.

    >>> words("Repot Maple when buds swell (likely 27 Mar)")
    'Repot Maple when buds swell (likely )'
    """
    return " ".join(_NUMBERS.sub(" ", title).split()).replace("( ", "(")


def _other_trees(old: Entry, new: Entry, at: datetime) -> bool:
    """Whether more trees are meant, or far fewer.

    A tree that was not named before counts once its own days are at hand, and so for
    the night at hand; before that it takes a fifth more. Trees whose days are over
    leave without a word while half of those named remain: each has its days in the
    text. Of a night more than a day ahead no tree is taken off the list, for it may be
    back on it tomorrow. A request for an observation stands while half of its trees are
    asked for: which are best to look at changes by the hour.
    """
    before, now = set(old.trees), set(new.trees)
    if action_of(new) in REQUESTS:
        return len(before & now) < FEWER * len(before)
    added, fewer = now - before, len(now) < FEWER * len(before)
    more = len(added) > MORE * len(before)
    if isinstance(new.span, Moments):
        if new.span.begins - at >= TONIGHT:
            return more and len(added) > 1
        return bool(added) or fewer
    if action_of(new) in STANDING:
        return more
    due = not added.isdisjoint(_due(new, at.date()))
    return more or due or (fewer and new.kind is not CareKind.SCOUT)


def _due(entry: Entry, today: date) -> set[str]:
    """Return the trees whose own days are at hand; without advice the entry's days are theirs."""
    if not entry.advice:
        return set(entry.trees) if _at_hand(entry.span, today) else set()
    return {each.tree for each in entry.advice if _at_hand(each.span, today)}


def _noise(entry: Entry, noise_days: int) -> int:
    """Return the noise of a window: shelter and feeding follow past years, and need no day."""
    slow = entry.kind in SLOW or action_of(entry) in OPENING
    return max(noise_days, SHELTER_NOISE) if slow else noise_days


def _moved(old: Days | Moments, new: Days | Moments, today: date, noise_days: int) -> bool:
    """Whether a window moved by more than its noise; what is past in both moves nothing."""
    if isinstance(old, Days) and isinstance(new, Days):
        far = max((new.first - today).days, 0) // FAR_DAYS
        pairs = [(old.first, new.first), (old.last, new.last)]
        if old.likely is not None and new.likely is not None:
            pairs.append((old.likely, new.likely))
        shifts = [abs((one - other).days) for one, other in pairs if max(one, other) > today]
        return max(shifts, default=0) > noise_days + far
    if isinstance(old, Moments) and isinstance(new, Moments):
        shift = max(abs(new.begins - old.begins), abs(new.ends - old.ends))
        return shift > MOMENT_NOISE
    return True
