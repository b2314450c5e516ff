"""The digest of a day: what needs a hand, what is open, what comes, what must wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from mebuki.agenda.body import basis_facts, official_facts
from mebuki.agenda.done import action_of
from mebuki.agenda.entry import Entry, EntryStatus, Notice, NoticeLine, NoticeStep
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import PUT_OFF, coldest, put_off_words
from mebuki.domain.advice import CareKind, Days
from mebuki.domain.wording import days_text, name_order, temperature_text, weekday_text

COMING_DAYS = 7

TODAY, LAST_DAY, OPEN = "Today", "Last day", "Going on"
WAITING, UNSENT = "Put off", "Could not be sent"
"""Headings of a digest; what is coming stands under its day."""

LONGEST_NAME, LONGEST_LEAD = 30, 110
"""Signs of a garden's name in a subject, and of the first line, that a phone shows (default)."""

_NOT_COMING = frozenset({TODAY, LAST_DAY, OPEN, WAITING, UNSENT})

SHOWS_LOW = "frost-night"
"""The action whose titles show the low of a night."""

QUIET = frozenset(
    {
        "aftercare",
        "bend-guard",
        "check-size",
        "mend-records",
        "too-warm",
        "winter-water",
        "prune-structure",
        "deadwood-season",
        "feed-season",
        "feed-stop",
        "scout",
    }
)
"""Long-running entries that the digest names only on their first day."""


def digests(
    situation: Situation, entries: Sequence[Entry], hours: frozenset[int] | None
) -> Iterator[Notice]:
    """Yield the digest of a day: one for each hour asked for, or one for all readers.

    Nothing is yielded on a day without anything to say. Hours are local ones.
    """
    lines = _lines(situation, entries)
    if not lines:
        return
    readers: Sequence[int | None] = [None] if hours is None else sorted(hours)
    day = weekday_text(situation.on)
    for hour in readers:
        yield Notice(
            key=f"digest:{situation.on.isoformat()}:{NoticeStep.DIGEST}",
            thread=f"digest:{situation.on.isoformat()}",
            step=NoticeStep.DIGEST,
            kind=None,
            subject=counted(situation.garden.name, day, *counts(lines)),
            lead=first_words(lines),
            lines=lines,
            facts=(
                *official_facts(situation),
                *basis_facts(situation),
                *(("Note", remark) for remark in situation.sight.remarks),
            ),
            cautions=(),
            at=situation.at,
            useful_until=situation.at + timedelta(days=1),
            digest_hour=hour,
            exact=_lows(situation, entries),
        )


def _lines(situation: Situation, entries: Sequence[Entry]) -> tuple[NoticeLine, ...]:
    """Return the lines of the day, what is for today first."""
    live = [
        entry
        for entry in entries
        if entry.status is not EntryStatus.CANCELLED
        and not entry.gone
        and not entry.title.startswith(PUT_OFF)
    ]
    ordered = sorted(live, key=lambda entry: (_first(situation, entry), entry.kind, entry.key))
    today = [_line(situation, TODAY, e) for e in ordered if _is_today(situation, e)]
    closing = [_line(situation, LAST_DAY, e) for e in ordered if _closes(situation, e)]
    running = [_line(situation, OPEN, e) for e in ordered if _is_open(situation, e)]
    coming = [_line(situation, _when(situation, e), e) for e in ordered if _is_near(situation, e)]
    return (*today, *closing, *running, *coming, *_waiting(situation), *_unsent(situation))


def _lows(situation: Situation, entries: Sequence[Entry]) -> tuple[float, ...]:
    """Return the lows [°C] that titles show rounded, where one rounded number means one of them."""
    found: dict[str, set[float]] = {}
    for entry in entries:
        frosty = action_of(entry) == SHOWS_LOW
        lowest = coldest(situation, entry.advice) if frosty else None
        if lowest is not None:
            found.setdefault(temperature_text(lowest, 0), set()).add(lowest)
    return tuple(lowest for values in found.values() if len(values) == 1 for lowest in values)


def counts(lines: Sequence[NoticeLine]) -> tuple[int, int]:
    """Return how many lines of a digest are for today, and how many are coming."""
    today = sum(line.heading in (TODAY, LAST_DAY) for line in lines)
    return today, sum(line.heading not in _NOT_COMING for line in lines)


def counted(name: str, day: str, today: int, coming: int) -> str:
    """Return the subject of a digest; a long name of a garden is shortened.

    >>> counted("Home", "Wed 27 Mar", 2, 1), counted("Home", "Wed 27 Mar", 0, 3)
    ('Home, Wed 27 Mar: 2 for today, 1 coming', 'Home, Wed 27 Mar: nothing for today, 3 coming')
    """
    short = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1].rstrip()}…"
    return f"{short}, {day}: {tally(today, coming)}"


def tally(today: int, coming: int) -> str:
    """Return how much a digest holds.

    >>> tally(1, 0), tally(0, 0)
    ('1 for today', 'nothing for today')
    """
    first = f"{today or 'nothing'} for today"
    return f"{first}, {coming} coming" if coming else first


def first_words(lines: Sequence[NoticeLine]) -> str:
    """Return the lead of a digest: the work of today as far as a line holds it, or that none is."""
    deeds = [line.deed for line in lines if line.heading in (TODAY, LAST_DAY)]
    if not deeds:
        return "Nothing needs a hand today."
    told = deeds[0]
    for number, deed in enumerate(deeds[1:], start=1):
        longer = f"{told}; {deed[:1].lower()}{deed[1:]}"
        if len(longer) > LONGEST_LEAD:
            return f"{told}; {len(deeds) - number} more"
        told = longer
    return told


def _waiting(situation: Situation) -> Iterator[NoticeLine]:
    for each in sorted(situation.advice, key=lambda one: (one.tree, one.action)):
        if each.blocked and each.action not in QUIET and _near_advice(situation, each.span):
            work = f"{put_off_words(each.action)} {situation.name(each.tree)}"
            words = f"{work[0].upper()}{work[1:]}: {each.blocked}"
            yield NoticeLine(WAITING, words, (), (each.tree,), each.kind)


def _unsent(situation: Situation) -> Iterator[NoticeLine]:
    for line in situation.unsent:
        yield NoticeLine(UNSENT, line, ())


def _line(situation: Situation, heading: str, entry: Entry) -> NoticeLine:
    """Return the line of an entry with the trees that need a hand: what must wait stands apart."""
    open_ = {each.tree for each in entry.advice if not each.blocked} or set(entry.trees)
    trees = sorted(
        ((situation.name(tree), tree) for tree in entry.trees if tree in open_),
        key=lambda one: (name_order(one[0]), one[1]),
    )
    names, ids = tuple(name for name, _ in trees), tuple(tree for _, tree in trees)
    return NoticeLine(heading, entry.title, names if len(names) > 1 else (), ids, entry.kind)


def _first(situation: Situation, entry: Entry) -> date:
    if isinstance(entry.span, Days):
        return entry.span.first
    return entry.span.begins.astimezone(situation.garden.site.zone).date()


def _last(situation: Situation, entry: Entry) -> date:
    if isinstance(entry.span, Days):
        return entry.span.last
    return entry.span.begins.astimezone(situation.garden.site.zone).date()


def _is_today(situation: Situation, entry: Entry) -> bool:
    """Whether an entry begins today, or is a check of wire that may be done today."""
    on = situation.on
    wire = entry.kind is CareKind.WIRE and _first(situation, entry) <= on <= _last(situation, entry)
    return wire or _first(situation, entry) == on


def _closes(situation: Situation, entry: Entry) -> bool:
    """Whether a window ends today that was open before."""
    ends = _last(situation, entry) == situation.on and not _is_today(situation, entry)
    return ends and action_of(entry) not in QUIET


def _is_open(situation: Situation, entry: Entry) -> bool:
    running = _first(situation, entry) < situation.on < _last(situation, entry)
    return running and entry.kind is not CareKind.WIRE and action_of(entry) not in QUIET


def _is_near(situation: Situation, entry: Entry) -> bool:
    ahead = (_first(situation, entry) - situation.on).days
    return 0 < ahead <= COMING_DAYS


def _when(situation: Situation, entry: Entry) -> str:
    first, last = _first(situation, entry), _last(situation, entry)
    return weekday_text(first) if first == last else days_text(first, last)


def _near_advice(situation: Situation, span: object) -> bool:
    if not isinstance(span, Days):
        return False
    soon = situation.on + timedelta(days=COMING_DAYS)
    return span.first <= soon and situation.on <= span.last
