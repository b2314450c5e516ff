"""The digest of a day: what needs a hand, what is open, what comes, what must wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from mebuki.agenda.body import basis_facts, official_facts
from mebuki.agenda.done import action_of
from mebuki.agenda.entry import Entry, EntryStatus, Notice, NoticeLine, NoticeStep
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import PUT_OFF, put_off_words
from mebuki.domain.advice import CareKind, Days
from mebuki.domain.wording import days_text, weekday_text

COMING_DAYS = 7

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
    lines, today, coming = _lines(situation, entries)
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
            subject=f"{situation.garden.name}, {day}: {today} for today, {coming} coming",
            lead=lines[0].deed if today else "Nothing needs a hand today.",
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
        )


def _lines(
    situation: Situation, entries: Sequence[Entry]
) -> tuple[tuple[NoticeLine, ...], int, int]:
    """Return the lines of the day, how many are for today, and how many are coming."""
    live = [
        entry
        for entry in entries
        if entry.status is not EntryStatus.CANCELLED
        and not entry.gone
        and not entry.title.startswith(PUT_OFF)
    ]
    ordered = sorted(live, key=lambda entry: (_first(situation, entry), entry.kind, entry.key))
    today = [_line(situation, "Today", e) for e in ordered if _is_today(situation, e)]
    closing = [_line(situation, "Last day", e) for e in ordered if _closes(situation, e)]
    running = [_line(situation, "Window open", e) for e in ordered if _is_open(situation, e)]
    coming = [_line(situation, _when(situation, e), e) for e in ordered if _is_near(situation, e)]
    lines = (*today, *closing, *running, *coming, *_waiting(situation), *_unsent(situation))
    return lines, len(today) + len(closing), len(coming)


def _waiting(situation: Situation) -> Iterator[NoticeLine]:
    for each in sorted(situation.advice, key=lambda one: (one.tree, one.action)):
        if each.blocked and each.action not in QUIET and _near_advice(situation, each.span):
            work = f"{put_off_words(each.action)} {situation.name(each.tree)}"
            yield NoticeLine("Put off", f"{work[0].upper()}{work[1:]}: {each.blocked}", ())


def _unsent(situation: Situation) -> Iterator[NoticeLine]:
    for line in situation.unsent:
        yield NoticeLine("Could not be sent", line, ())


def _line(situation: Situation, heading: str, entry: Entry) -> NoticeLine:
    names = tuple(sorted(situation.name(tree) for tree in entry.trees))
    return NoticeLine(heading, entry.title, names if len(names) > 1 else ())


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
