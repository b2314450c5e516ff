"""What readers have been shown, against what is so now.

A published entry is kept as it is, word for word, until a person would notice a
change: its window moved by more than its noise, its words (not its numbers)
changed, it became certain, its trees changed. Only then does it get a new
revision. What is no longer so is cancelled in words, shown for some days, then
remembered without being shown, so that its revision goes on if it comes back;
what is past stays for a while as a diary.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.wording import MONTHS

CANCELLED = "Cancelled: "
DIARY_DAYS = 60
FLEETING_DAYS = 1
REMEMBERED_DAYS = 400
"""How long a cancelled entry is remembered: longer than any cycle lasts."""

MOMENT_NOISE = timedelta(hours=2)
BRIEF = (CareKind.WATER, CareKind.OBSERVE, CareKind.HEAT, CareKind.WIND)
"""Kinds whose entries for a day vanish without a word when nothing asks for them."""

SHELTER_NOISE = 10
"""Days by which a window for shelter or feeding may move without being worth telling (default)."""

SLOW = (CareKind.WINTER, CareKind.FEED)
"""Kinds whose windows hang on first and last frosts, which move slowly and by days."""

TONIGHT = timedelta(hours=24)
MORE, FEWER = 0.2, 0.5
"""Share of trees of a night by which more, or to which fewer, are worth telling (default)."""

FAR_DAYS = 30
"""For each so many days ahead, one more day of a window's move is noise (default)."""

_NUMBERS = re.compile(rf"[−\d.,:%]+|\b(?:{'|'.join(MONTHS)})\b")


def revise(
    previous: Sequence[Entry],
    fresh: Sequence[Entry],
    at: datetime,
    noise_days: int,
    done: Collection[str] = (),
    held: Collection[str] = (),
) -> tuple[Entry, ...]:
    """Return what readers are shown now and what is remembered of them, sorted by key.

    Parameters
    ----------
    previous
        What they were shown last.
    fresh
        What is so now.
    at
        The moment of the round (UTC).
    noise_days
        Days by which a window may move without being worth telling.
    done
        Keys whose work is on record as done: they vanish without a word.
    held
        Keys that are to stay as they are although nothing asks for them now,
        because the danger is not clearly over.
    """
    old = {entry.key: entry for entry in previous}
    new = {entry.key: entry for entry in fresh}
    kept = [
        _revised(old.get(key), entry, at, noise_days)
        for key, entry in new.items()
        if key in old or not _over(entry, at)
    ]
    for key, entry in old.items():
        if key not in new and key not in done:
            kept.extend(_gone(entry, at, held=key in held))
    return tuple(sorted(kept, key=lambda entry: entry.key))


def shown(entries: Sequence[Entry], at: datetime, kept_days: int) -> tuple[Entry, ...]:
    """Return the entries that readers see: a cancelled one for some days only."""
    shortly = timedelta(days=kept_days)
    return tuple(
        entry
        for entry in entries
        if entry.status is not EntryStatus.CANCELLED or at - entry.changed < shortly
    )


def noticeable(old: Entry, new: Entry, at: datetime, noise_days: int) -> bool:
    """Return whether a person would notice the difference between two states of an entry."""
    return (
        _other_trees(old, new, at)
        or words(old.title) != words(new.title)
        or (new.status is not old.status and new.status is not EntryStatus.TENTATIVE)
        or old.status is EntryStatus.CANCELLED
        or _moved(old.span, new.span, at.date(), _noise(new, noise_days))
    )


def words(title: str) -> str:
    """Return a title without numbers and months, which alone are not worth telling.

    >>> words("Repot Maple when buds swell (likely 27 Mar)")
    'Repot Maple when buds swell (likely )'
    """
    return " ".join(_NUMBERS.sub(" ", title).split()).replace("( ", "(")


def _revised(old: Entry | None, new: Entry, at: datetime, noise_days: int) -> Entry:
    if old is None:
        return replace(new, revision=0, created=at, changed=at)
    closed = _over(new, at) and old.status is not EntryStatus.CANCELLED
    if closed or not noticeable(old, new, at, noise_days):
        return old
    return replace(
        new, created=old.created, revision=old.revision + 1, changed=max(at, old.changed)
    )


def _other_trees(old: Entry, new: Entry, at: datetime) -> bool:
    """Whether other trees are meant; of a night, whether more are, or far fewer.

    For the night at hand any tree that was not named before counts; for a later
    one it takes a fifth more.
    """
    before, now = set(old.trees), set(new.trees)
    if not isinstance(new.span, Moments):
        return before != now
    soon = new.span.begins - at < TONIGHT
    added = len(now - before)
    return added > (0 if soon else MORE * len(before)) or len(now) < FEWER * len(before)


def _noise(entry: Entry, noise_days: int) -> int:
    """Return the noise of a window: shelter and feeding follow past years, and need no day."""
    return max(noise_days, SHELTER_NOISE) if entry.kind in SLOW else noise_days


def _moved(old: Days | Moments, new: Days | Moments, today: date, noise_days: int) -> bool:
    if isinstance(old, Days) and isinstance(new, Days):
        far = max((new.first - today).days, 0) // FAR_DAYS
        shifts = [abs((new.first - old.first).days), abs((new.last - old.last).days)]
        if old.likely is not None and new.likely is not None:
            shifts.append(abs((new.likely - old.likely).days))
        return max(shifts) > noise_days + far
    if isinstance(old, Moments) and isinstance(new, Moments):
        shift = max(abs(new.begins - old.begins), abs(new.ends - old.ends))
        return shift > MOMENT_NOISE
    return True


def _last_day(entry: Entry) -> date:
    return entry.span.last if isinstance(entry.span, Days) else entry.span.ends.date()


def _fleeting(entry: Entry) -> bool:
    one_night = isinstance(entry.span, Moments)
    return one_night or entry.kind in BRIEF


def _gone(entry: Entry, at: datetime, *, held: bool) -> list[Entry]:
    """Return what becomes of an entry that nothing asks for any more: itself, changed, or none."""
    today, last = at.date(), _last_day(entry)
    if entry.status is EntryStatus.CANCELLED:
        return [entry] if at - entry.changed < timedelta(days=REMEMBERED_DAYS) else []
    if _over(entry, at) or _under_way(entry, at):
        diary = FLEETING_DAYS if _fleeting(entry) else DIARY_DAYS
        return [entry] if (today - last).days <= diary else []
    if held:
        return [entry]
    if entry.kind in BRIEF:
        return []
    cancelled = replace(
        entry,
        status=EntryStatus.CANCELLED,
        title=CANCELLED + entry.title,
        alarm=False,
        revision=entry.revision + 1,
        changed=max(at, entry.changed),
    )
    return [cancelled]


def _under_way(entry: Entry, at: datetime) -> bool:
    """Whether a night has begun: rounds speak of nights to come, so it is no longer asked for."""
    return isinstance(entry.span, Moments) and entry.span.begins <= at


def _over(entry: Entry, at: datetime) -> bool:
    if isinstance(entry.span, Moments):
        return entry.span.ends <= at
    return entry.span.last < at.date()
