"""The end of dangers that were told: a safe night after all, or the last night of a spell past."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from mebuki.agenda.body import basis_facts
from mebuki.agenda.danger import DANGER, notice_key
from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.agenda.grouping import NIGHTS, WATCHES
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import CareKind
from mebuki.domain.wording import count_text, weekday_text

OVER_DAYS = 3
"""Days after a night within which its end is still worth a mail."""


def relief_notices(situation: Situation, told: Sequence[str]) -> Iterator[Notice]:
    """Return the end of one danger that was told; never while the weather cannot be seen.

    A night ahead that is safe now comes first, then the last night of a spell
    that is past.
    """
    if situation.sight.blind:
        return
    steps = _told_nights(told)
    cold = _not_clear(situation)
    for evening in sorted(steps):
        safe = evening not in cold and NoticeStep.OVER not in steps[evening]
        if evening >= situation.on and safe and _seen(situation, evening):
            yield _over_notice(situation, evening, passed=False)
            return
    past = [day for day in steps if day < situation.on and NoticeStep.ACT in steps[day]]
    newest = max(past, default=date.min)
    recent = (situation.on - newest).days <= OVER_DAYS and NoticeStep.OVER not in steps[newest]
    if recent and situation.on not in cold and _seen(situation, situation.on):
        yield _over_notice(situation, newest, passed=True)


def _told_nights(told: Sequence[str]) -> Mapping[date, frozenset[str]]:
    """Return the nights that were told, each with its steps."""
    found: dict[date, set[str]] = {}
    for key in told:
        danger, _, rest = key.partition(":")
        evening, _, step = rest.partition(":")
        if danger == DANGER:
            found.setdefault(date.fromisoformat(evening), set()).add(step)
    return {evening: frozenset(steps) for evening, steps in found.items()}


def _not_clear(situation: Situation) -> frozenset[date]:
    """Return the nights whose danger is not clearly over for some tree."""
    return frozenset(
        date.fromisoformat(each.cycle)
        for each in situation.advice
        if each.action in NIGHTS or each.action in WATCHES
    )


def _seen(situation: Situation, evening: date) -> bool:
    return any(
        night.evening == evening
        for outlook in situation.outlooks.values()
        for night in outlook.nights
    )


def _over_notice(situation: Situation, evening: date, *, passed: bool) -> Notice:
    day = weekday_text(evening)
    subject = f"The cold night of {day} is past" if passed else f"No tree in danger on {day} now"
    lead = (
        "The coming night brings no harm: trees may go back to their places."
        if passed
        else "No tree is in danger that night at the place where it stands on record."
    )
    seen = count_text(len(situation.outlooks), "tree")
    return Notice(
        key=notice_key(evening, NoticeStep.OVER),
        thread=f"{DANGER}:{evening.isoformat()}",
        step=NoticeStep.OVER,
        kind=CareKind.FROST,
        subject=subject,
        lead=lead,
        lines=(),
        facts=(("Looked at", seen), *basis_facts(situation)),
        cautions=(),
        at=situation.at,
        useful_until=situation.at + timedelta(days=1),
    )
