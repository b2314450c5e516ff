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

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from mebuki.agenda.done import action_of
from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.agenda.requests import REQUESTS
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.wording import MONTHS

CANCELLED = "Cancelled: "
DIARY_DAYS = 60
FLEETING_DAYS = 1
FLEETING_MEMORY_DAYS = 14
"""How long what concerned a day or a night is remembered after it left the calendar."""

REMEMBERED_DAYS = 400
"""How long a cancelled or done entry is remembered: longer than any cycle lasts."""

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

DEGREES = 2
"""Change of a night's temperature [K] in its title that is worth telling (default)."""

_TEMPERATURE = re.compile(r"(−?\d+) °C")
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
        Keys whose work is on record as done: they leave without a word.
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


def noticeable(old: Entry, new: Entry, at: datetime, noise_days: int) -> bool:
    """Return whether a person would notice the difference between two states of an entry."""
    return (
        _other_trees(old, new, at)
        or _other_words(old, new)
        or (new.status is not old.status and new.status is not EntryStatus.TENTATIVE)
        or old.status is EntryStatus.CANCELLED
        or bool(old.gone)
        or _moved(old.span, new.span, at.date(), _noise(new, noise_days))
    )


def _other_words(old: Entry, new: Entry) -> bool:
    if isinstance(old.span, Moments) and isinstance(new.span, Moments):
        return _other_night(old.title, new.title)
    return words(old.title) != words(new.title)


def _other_night(old: str, new: str) -> bool:
    """Whether a night is another by degrees, or asks for another deed.

    What its frost is called follows the degrees and would change to and fro about
    a limit; how many trees it concerns is seen by the trees.
    """
    (fact, _, deed), (fact_now, _, deed_now) = old.partition(": "), new.partition(": ")
    before, now = _degrees(fact), _degrees(fact_now)
    if before is None or now is None:
        other = words(fact) != words(fact_now)
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


def _revised(old: Entry | None, new: Entry, at: datetime, noise_days: int) -> Entry:
    if old is None:
        return replace(new, revision=0, created=at, changed=at)
    closed = _over(new, at) and old.status is not EntryStatus.CANCELLED and not old.gone
    if closed or not noticeable(old, new, at, noise_days):
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


def _other_trees(old: Entry, new: Entry, at: datetime) -> bool:
    """Whether other trees are meant; of what is far off, whether more are, or far fewer.

    For the night at hand any tree that was not named before counts, for a window
    of the coming weeks any tree; for later ones it takes a fifth more. A request
    for an observation stands while half of the trees it names are still asked for:
    which are best to look at changes by the hour.
    """
    before, now = set(old.trees), set(new.trees)
    if action_of(new) in REQUESTS:
        return len(before & now) < FEWER * len(before)
    if isinstance(new.span, Days):
        soon = (new.span.first - at.date()).days <= FAR_DAYS
        if soon:
            return before != now
    else:
        soon = new.span.begins - at < TONIGHT
    added = len(now - before)
    return added > (0 if soon else MORE * len(before)) or len(now) < FEWER * len(before)


def _noise(entry: Entry, noise_days: int) -> int:
    """Return the noise of a window: shelter and feeding follow past years, and need no day."""
    return max(noise_days, SHELTER_NOISE) if entry.kind in SLOW else noise_days


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
    if held:
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
