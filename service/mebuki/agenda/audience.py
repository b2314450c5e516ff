"""Which notices a reader gets, how much of each, and when.

Two laws hold whatever a reader has chosen. What is about no kind of care and no tree,
such as weather that cannot be seen, is told to everybody: silence must never look like
safety. And quiet hours put a mail off, they never swallow it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from mebuki.agenda.danger import AS_WELL
from mebuki.agenda.digest import counts, first_words, tally
from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.agenda.hard_days import GRAVE
from mebuki.agenda.nights import DANGER
from mebuki.domain.advice import CareKind
from mebuki.domain.garden import Subscriber
from mebuki.domain.wording import count_text, weekday_text

COLD_KINDS = frozenset({CareKind.FROST, CareKind.WINTER})
"""Frost on growth and cold at the roots: one danger to those who act before dark."""

READ_WITHIN = timedelta(hours=1)
"""How long a mail that waited for the end of quiet hours may still be sent, and how long it
takes until it is read (default)."""


def for_reader(notice: Notice, reader: Subscriber, zone: ZoneInfo) -> Notice | None:
    """Return what a reader gets of a notice; none if it is nothing to this reader.

    The very same notice comes back where nothing is left out. A word to prepare that
    comes earlier than a reader wants is left out, not kept for later: by then the
    forecast is another one, and the day itself brings the call to act.

    Parameters
    ----------
    zone
        The garden's time zone.
    """
    if (
        not notice.concerns(reader)
        or not _of_a_kind(notice, reader)
        or _early(notice, reader, zone)
    ):
        return None
    lines = tuple(each for line in notice.lines if (each := _narrowed(line, reader)) is not None)
    if lines == notice.lines:
        return notice
    if not lines:
        return None
    if notice.step is NoticeStep.DIGEST:
        return _digest(notice, lines)
    return _of_my_trees(replace(notice, lines=lines, subject=_subject(notice, lines)))


def notice_kind(notice: Notice) -> str:
    """Return what a notice is about, as links and consents name it: a care kind, or its step."""
    return str(notice.kind or notice.step)


def not_before(notice: Notice, reader: Subscriber, zone: ZoneInfo, at: datetime) -> datetime | None:
    """Return until when a notice waits for the end of a reader's quiet hours; none if it goes now.

    A call to act breaks quiet hours, if the reader lets it, when the danger is grave or
    when at their end it would be too late to act, or nearly so.

    Parameters
    ----------
    zone
        The garden's time zone, for readers who have none of their own.
    at
        The moment at which it could be sent (aware).
    """
    ends = quiet_end(reader, zone, at)
    if ends is None or (reader.quiet_broken and _cannot_wait(notice, ends)):
        return None
    return ends


def useful_until(notice: Notice, waits_until: datetime | None) -> datetime | None:
    """Return until when a notice is sent at all, where it may have to wait.

    One that outlives its use in quiet hours is still sent at their end: a reader who is
    told late knows more than one who is not told.
    """
    if waits_until is None or notice.useful_until is None:
        return notice.useful_until
    return max(notice.useful_until, waits_until + READ_WITHIN)


def held_back(notice: Notice, waits_until: datetime | None) -> Notice:
    """Return a call to act as it is read after quiet hours that it was not to break.

    Its words were true the evening before: read in the morning, "tonight" would be taken
    for the coming night. So its subject and lead say first that it comes late.
    """
    end = _of_use_until(notice)
    if waits_until is None or end is None or notice.step is not NoticeStep.ACT or end > waits_until:
        return notice
    told = weekday_text(date.fromisoformat(notice.key.split(":")[1]))
    return replace(
        notice,
        subject=f"Too late for {told}: {notice.subject}",
        lead=f"Held back by your quiet hours, about {told}. {notice.lead}",
    )


def quiet_end(reader: Subscriber, zone: ZoneInfo, at: datetime) -> datetime | None:
    """Return when the quiet hours end in which a moment lies (UTC); none if it lies in none."""
    begins, ends = reader.quiet_from, reader.quiet_until
    if begins is None or ends is None:
        return None
    own = zone if reader.time_zone is None else ZoneInfo(reader.time_zone)
    local = at.astimezone(own)
    hour = local.hour
    inside = begins <= hour < ends if begins < ends else hour >= begins or hour < ends
    if not inside:
        return None
    day = local.date() if hour < ends else local.date() + timedelta(days=1)
    return datetime.combine(day, time(ends), own).astimezone(UTC)


def _of_a_kind(notice: Notice, reader: Subscriber) -> bool:
    if not reader.kinds or notice.kind is None:
        return True
    kinds = COLD_KINDS if notice.key.startswith(f"{DANGER}:") else {notice.kind}
    return bool(kinds & set(reader.kinds))


def _early(notice: Notice, reader: Subscriber, zone: ZoneInfo) -> bool:
    """Whether a word to prepare comes more days ahead than a reader wants."""
    if notice.step is not NoticeStep.PREPARE:
        return False
    evening = date.fromisoformat(notice.key.split(":")[1])
    return (evening - notice.at.astimezone(zone).date()).days > reader.prepare_days


def _narrowed(line: NoticeLine, reader: Subscriber) -> NoticeLine | None:
    """Return a line with the trees of a reader alone; one about no trees stays as it is."""
    if line.kind is not None and reader.kinds and line.kind not in reader.kinds:
        return None
    if not reader.trees or not line.ids:
        return line
    kept = [number for number, tree in enumerate(line.ids) if tree in reader.trees]
    if len(kept) == len(line.ids):
        return line
    if not kept:
        return None
    names = tuple(line.trees[number] for number in kept) if line.trees else ()
    mine = replace(line, trees=names, ids=tuple(line.ids[number] for number in kept))
    return replace(mine, deed=_recounted(line.deed, _trees((line,)), _trees((mine,))))


def _digest(notice: Notice, lines: tuple[NoticeLine, ...]) -> Notice:
    today, coming = counts(lines)
    head = notice.subject.rpartition(": ")[0]
    subject = f"{head}: {tally(today, coming)}"
    return replace(notice, lines=lines, subject=subject, lead=first_words(lines))


def _of_my_trees(notice: Notice) -> Notice:
    """Have lead and facts speak of the tree that is worst off among those of the lines."""
    mine = {tree for line in notice.lines for tree in line.ids}
    worst = next((risk for risk in notice.risks if risk.tree in mine), None)
    if worst is None or worst == notice.risks[0]:
        return notice
    told, facts = notice.risks[0], notice.facts
    at = next((n for n in range(len(facts)) if facts[n : n + len(told.facts)] == told.facts), None)
    if at is not None:
        facts = (*facts[:at], *worst.facts, *facts[at + len(told.facts) :])
    lead = worst.lead if notice.lead == told.lead else notice.lead
    return replace(notice, lead=lead, facts=facts)


def _subject(notice: Notice, lines: tuple[NoticeLine, ...]) -> str:
    """Return the subject with the trees of a reader alone.

    Where it is about others that are new, the reader's are named without being called so.
    """
    everybody, mine = _trees(notice.lines), _trees(lines)
    if notice.named:
        everybody = {tree: everybody[tree] for tree in notice.named if tree in everybody}
        new = {tree: name for tree, name in mine.items() if tree in everybody}
        if not new:
            return _recounted(notice.subject.removesuffix(AS_WELL), everybody, mine)
        mine = new
    return _recounted(notice.subject, everybody, mine)


def _recounted(text: str, everybody: dict[str, str], mine: dict[str, str]) -> str:
    """Return a text with the reader's trees counted, where it counts or names all of them."""
    before, found, after = text.rpartition(f" {_who(everybody)}")
    return f"{before} {_who(mine)}{after}" if found else text


def _who(trees: dict[str, str]) -> str:
    return next(iter(trees.values())) if len(trees) == 1 else count_text(len(trees), "tree")


def _trees(lines: tuple[NoticeLine, ...]) -> dict[str, str]:
    """Return names of trees by id; of unnamed ones the id."""
    return {
        tree: line.trees[number] if line.trees else tree
        for line in lines
        for number, tree in enumerate(line.ids)
    }


def _cannot_wait(notice: Notice, until: datetime) -> bool:
    if notice.step is not NoticeStep.ACT:
        return False
    end = _of_use_until(notice)
    return notice.severity in GRAVE or (end is not None and end < until + READ_WITHIN)


def _of_use_until(notice: Notice) -> datetime | None:
    """Return until when something can be done about a notice; none where that never ends."""
    moments = [each for each in (notice.act_by, notice.useful_until) if each is not None]
    return min(moments, default=None)
