"""What readers have been shown, against what is so now.

A published entry is kept as it is, word for word, until a person would notice a
change: its window moved by more than its noise, its words (not its numbers)
changed, it became certain, its trees changed. Only then does it get a new
revision. What is no longer so is cancelled in words, shown for some days, then
remembered without being shown, so that its revision goes on if it comes back.
What is done leaves the calendar without a word, and is remembered in the same
way; what is past stays for a while as a diary.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from types import MappingProxyType

from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.agenda.noticed import BRIEF, TONIGHT, noticeable
from mebuki.domain.advice import Days, Moments

CANCELLED = "Cancelled: "
DIARY_DAYS = 60
FLEETING_DAYS = 1
FLEETING_MEMORY_DAYS = 14
"""How long what concerned a day or a night is remembered after it left the calendar."""

REMEMBERED_DAYS = 400
"""How long a cancelled or done entry is remembered: longer than any cycle lasts."""


def revise(
    previous: Sequence[Entry],
    fresh: Sequence[Entry],
    at: datetime,
    noise_days: int,
    done: Collection[str] = (),
    held: Collection[str] = (),
    parted: Mapping[str, frozenset[str]] = MappingProxyType({}),
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
        Keys whose work is on record as done: they leave without a word.
    held
        Keys that are to stay as they are although nothing asks for them now,
        because the danger is not clearly over.
    parted
        Trees that published entries name in vain, by key: their work is on record,
        or they left the garden.
    """
    old = {entry.key: entry for entry in previous}
    new = {entry.key: entry for entry in fresh}
    kept = [
        _revised(old.get(key), entry, at, noise_days, parted.get(key, frozenset()))
        for key, entry in new.items()
        if key in old or not _over(entry, at)
    ]
    left = [entry for key, entry in old.items() if key not in new]
    for entry in finished(left, done, at):
        kept.extend(_gone(entry, at, held=entry.key in held))
    return tuple(sorted(kept, key=lambda entry: entry.key))


def finished(entries: Sequence[Entry], done: Collection[str], at: datetime) -> tuple[Entry, ...]:
    """Return entries, those whose work is done marked so: calendars show them no longer."""
    return tuple(
        replace(entry, gone=Gone.DONE, revision=entry.revision + 1, changed=max(at, entry.changed))
        if entry.key in done and not entry.gone and entry.status is not EntryStatus.CANCELLED
        else entry
        for entry in entries
    )


def shown(entries: Sequence[Entry], at: datetime, kept_days: int) -> tuple[Entry, ...]:
    """Return the entries that readers see: a cancelled one for some days only."""
    return tuple(
        entry
        for entry in entries
        if not entry.gone
        and (entry.status is not EntryStatus.CANCELLED or _lately(entry, at, kept_days))
    )


def tasks(entries: Sequence[Entry], at: datetime, kept_days: int) -> tuple[Entry, ...]:
    """Return the entries of a list of tasks.

    What is done stays for some days, ticked off. What is past without a record
    leaves: work out of its season must not stand there as overdue.
    """
    lasting = tuple(entry for entry in entries if not _begun_or_over(entry, at))
    done = (entry for entry in entries if entry.gone is Gone.DONE and _lately(entry, at, kept_days))
    return (*shown(lasting, at, kept_days), *done)


def _lately(entry: Entry, at: datetime, kept_days: int) -> bool:
    return at - entry.changed < timedelta(days=kept_days)


def _begun_or_over(entry: Entry, at: datetime) -> bool:
    return _over(entry, at) or _under_way(entry, at)


def _revised(
    old: Entry | None, new: Entry, at: datetime, noise_days: int, parted: frozenset[str]
) -> Entry:
    if old is None:
        return replace(new, revision=0, created=at, changed=at)
    closed = _over(new, at) and old.status is not EntryStatus.CANCELLED and not old.gone
    if closed or not noticeable(old, new, at, noise_days, parted):
        return old
    return replace(
        new,
        span=_begun(old.span, new.span, at.date()),
        created=old.created,
        revision=old.revision + 1,
        changed=max(at, old.changed),
    )


def _begun(old: Days | Moments, new: Days | Moments, today: date) -> Days | Moments:
    """Return a window that has begun for its readers with the begin they know."""
    if isinstance(old, Days) and isinstance(new, Days) and max(old.first, new.first) <= today:
        return replace(new, first=old.first)
    return new


def _last_day(entry: Entry) -> date:
    return entry.span.last if isinstance(entry.span, Days) else entry.span.ends.date()


def _fleeting(entry: Entry) -> bool:
    one_night = isinstance(entry.span, Moments)
    return one_night or entry.kind in BRIEF


def _gone(entry: Entry, at: datetime, *, held: bool) -> list[Entry]:
    """Return what becomes of an entry that nothing asks for any more: itself, changed, or none."""
    if entry.gone or entry.status is EntryStatus.CANCELLED:
        return [entry] if _remembered(entry, at) else []
    if _begun_or_over(entry, at):
        diary = FLEETING_DAYS if _fleeting(entry) else DIARY_DAYS
        return [entry] if (at.date() - _last_day(entry)).days <= diary else []
    if held or _ahead(entry, at):
        return [entry]
    if entry.kind in BRIEF:
        return [replace(entry, gone=Gone.DROPPED, revision=entry.revision + 1, changed=at)]
    cancelled = replace(
        entry,
        status=EntryStatus.CANCELLED,
        title=CANCELLED + entry.title,
        alarm=False,
        revision=entry.revision + 1,
        changed=max(at, entry.changed),
    )
    return [cancelled]


def _ahead(entry: Entry, at: datetime) -> bool:
    """Whether a night or a day is too far ahead to be taken back: it may be asked for again."""
    if isinstance(entry.span, Moments):
        return entry.span.begins - at >= TONIGHT
    return entry.kind in BRIEF and entry.span.first > at.date()


def _remembered(entry: Entry, at: datetime) -> bool:
    if _fleeting(entry) and entry.gone:
        return (at.date() - _last_day(entry)).days <= FLEETING_MEMORY_DAYS
    return _lately(entry, at, REMEMBERED_DAYS)


def _under_way(entry: Entry, at: datetime) -> bool:
    """Whether a night has begun: rounds speak of nights to come, so it is no longer asked for."""
    return isinstance(entry.span, Moments) and entry.span.begins <= at


def _over(entry: Entry, at: datetime) -> bool:
    if isinstance(entry.span, Moments):
        return entry.span.ends <= at
    return entry.span.last < at.date()
