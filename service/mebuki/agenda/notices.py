"""What people are told by mail in one round: dangers, blindness, one digest a day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from mebuki.agenda.body import basis_facts, official_facts
from mebuki.agenda.danger import danger_notices
from mebuki.agenda.done import action_of
from mebuki.agenda.entry import Entry, EntryStatus, Notice, NoticeLine, NoticeStep, Published
from mebuki.agenda.relief import relief_notices
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import PUT_OFF
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


def notices(
    situation: Situation, entries: Sequence[Entry], published: Published
) -> tuple[Notice, ...]:
    """Return the new notices of a round: nothing in here was told before.

    Parameters
    ----------
    entries
        As readers see them now, after `mebuki.agenda.changes.revise`.
    """
    told = published.notices
    found = [
        *danger_notices(situation, published),
        *relief_notices(situation, told),
        *_blind(situation),
        *_digest(situation, entries),
    ]
    return tuple(notice for notice in found if notice.key not in told)


def _blind(situation: Situation) -> Iterator[Notice]:
    if not situation.sight.blind:
        return
    yield Notice(
        key=f"blind:{situation.on.isoformat()}:{NoticeStep.BLIND}",
        thread="blind",
        step=NoticeStep.BLIND,
        kind=None,
        subject="The coming nights cannot be seen: look at another forecast",
        lead="The weather is missing or old. No warning of frost will come, none is taken back.",
        lines=(),
        facts=(
            *official_facts(situation),
            *basis_facts(situation),
            *(("Note", remark) for remark in situation.sight.remarks),
        ),
        cautions=(),
        at=situation.at,
        useful_until=situation.at + timedelta(days=1),
    )


def _digest(situation: Situation, entries: Sequence[Entry]) -> Iterator[Notice]:
    live = [
        entry
        for entry in entries
        if entry.status is not EntryStatus.CANCELLED and not entry.title.startswith(PUT_OFF)
    ]
    ordered = sorted(live, key=lambda entry: (_first(situation, entry), entry.kind, entry.key))
    today = [_line(situation, "Today", e) for e in ordered if _is_today(situation, e)]
    running = [_line(situation, "Window open", e) for e in ordered if _is_open(situation, e)]
    coming = [_line(situation, _when(situation, e), e) for e in ordered if _is_near(situation, e)]
    waiting = [
        NoticeLine("Put off", f"{situation.name(each.tree)}: {each.blocked}", ())
        for each in sorted(situation.advice, key=lambda one: (one.tree, one.action))
        if each.blocked and each.action not in QUIET and _near_advice(situation, each.span)
    ]
    if not (today or running or coming or waiting):
        return
    day = weekday_text(situation.on)
    yield Notice(
        key=f"digest:{situation.on.isoformat()}:{NoticeStep.DIGEST}",
        thread=f"digest:{situation.on.isoformat()}",
        step=NoticeStep.DIGEST,
        kind=None,
        subject=f"{situation.garden.name}, {day}: {len(today)} for today, {len(coming)} coming",
        lead=today[0].deed if today else "Nothing needs a hand today.",
        lines=(*today, *running, *coming, *waiting),
        facts=(
            *official_facts(situation),
            *basis_facts(situation),
            *(("Note", remark) for remark in situation.sight.remarks),
        ),
        cautions=(),
        at=situation.at,
        useful_until=situation.at + timedelta(days=1),
    )


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
    """Whether an entry needs a hand today: it begins today, or today is its last day."""
    on = situation.on
    begins = _first(situation, entry) == on
    ends = _last(situation, entry) == on and action_of(entry) not in QUIET
    wire = entry.kind is CareKind.WIRE and _first(situation, entry) <= on <= _last(situation, entry)
    return begins or ends or wire


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
