"""The end of dangers that were told: a safe night after all, or the last night of a spell past."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from mebuki.agenda.body import basis_facts
from mebuki.agenda.danger import notice_key
from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.agenda.memory import Memory
from mebuki.agenda.nights import DANGER, cold_nights, not_clear
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import CareKind
from mebuki.domain.wording import count_text, name_order, weekday_text

OVER_DAYS = 3
"""Days after a night within which its end is still worth a mail."""


SOON_AGAIN = 3
"""Days ahead within which another cold night is named with the end of one (default)."""


def relief_notices(situation: Situation, memory: Memory) -> Iterator[Notice]:
    """Yield the end of one danger that was told; never while the weather cannot be seen.

    A night ahead that is safe now comes first, then the last night of a spell
    that is past. A night for which trees were called in today is not called off: it
    might turn again, and no further mail could say so. They stand well where they are.
    """
    if situation.sight.blind:
        return
    steps = memory.days_told(DANGER)
    cold = not_clear(situation, memory)
    for evening in sorted(steps):
        open_ = not steps[evening] & {NoticeStep.ACT, NoticeStep.OVER}
        if evening >= situation.on and open_ and evening not in cold and _seen(situation, evening):
            yield _over_notice(situation, memory, evening, passed=False)
            return
    newest = _last_night(situation, memory)
    if newest is not None and situation.on not in cold and _seen(situation, situation.on):
        yield _over_notice(situation, memory, newest, passed=True)


def _last_night(situation: Situation, memory: Memory) -> date | None:
    """Return the last past night that asked for a deed, if its end is not told and recent."""
    steps = memory.days_told(DANGER)
    told = {evening for evening, found in steps.items() if NoticeStep.ACT in found}
    quiet = {day for (danger, day), mark in memory.marks.items() if danger == DANGER and mark.acted}
    past = [evening for evening in told | quiet if evening < situation.on]
    ends = [day for day, found in steps.items() if NoticeStep.OVER in found and day < situation.on]
    newest = max(past, default=date.min)
    if newest <= max(ends, default=date.min) or (situation.on - newest).days > OVER_DAYS:
        return None
    return newest


def _seen(situation: Situation, evening: date) -> bool:
    return any(
        night.evening == evening
        for outlook in situation.outlooks.values()
        for night in outlook.nights
    )


def _thread(memory: Memory, evening: date) -> str:
    """Return the thread of a night: that of the mail which began its spell."""
    told = [day for day, steps in memory.days_told(DANGER).items() if day <= evening and steps]
    return f"{DANGER}:{max(told, default=evening).isoformat()}"


def _again(situation: Situation, memory: Memory) -> str:
    """Return that one of the next nights may be cold again, after a blank; or nothing."""
    last = situation.on + timedelta(days=SOON_AGAIN)
    nights = (cold.evening for cold in cold_nights(situation, memory))
    soon = min((evening for evening in nights if situation.on < evening <= last), default=None)
    if soon is None:
        return ""
    return f" The night of {weekday_text(soon)} may be cold again: leave in what is hard to move."


def _back(situation: Situation, memory: Memory, newest: date) -> tuple[NoticeLine, ...]:
    """Return the trees that the nights of a spell called in, by place."""
    spell = [
        mark
        for (danger, day), mark in memory.marks.items()
        if danger == DANGER and mark.acted and _ended(memory) < day <= newest
    ]
    found: dict[str, list[tuple[str, str]]] = {}
    for tree in situation.trees:
        if any(mark.knows(tree) for mark in spell):
            found.setdefault(situation.place_name(tree), []).append((situation.name(tree), tree))
    for trees in found.values():
        trees.sort(key=lambda one: (name_order(one[0]), one[1]))
    return tuple(
        NoticeLine(place, "", tuple(name for name, _ in trees), tuple(tree for _, tree in trees))
        for place, trees in sorted(found.items())
    )


def _ended(memory: Memory) -> date:
    """Return the last evening whose end was told."""
    steps = memory.days_told(DANGER)
    return max((day for day, found in steps.items() if NoticeStep.OVER in found), default=date.min)


def _over_notice(situation: Situation, memory: Memory, evening: date, *, passed: bool) -> Notice:
    day = weekday_text(evening)
    if passed:
        subject = f"The cold night of {day} is past"
        lead = (
            "The coming night brings no harm: trees may go back to their places, covers may come "
            f"off.{_again(situation, memory)}"
        )
    else:
        subject = f"The night of {day} is no danger now: nothing to do"
        lead = "Where they stand on record, all trees are safe that night."
    seen = count_text(len(situation.outlooks), "tree")
    return Notice(
        key=notice_key(evening, NoticeStep.OVER),
        thread=_thread(memory, evening),
        step=NoticeStep.OVER,
        kind=CareKind.FROST,
        subject=subject,
        lead=lead,
        lines=_back(situation, memory, evening) if passed else (),
        facts=(("Looked at", seen), *basis_facts(situation)),
        cautions=(),
        at=situation.at,
        useful_until=situation.at + timedelta(days=1),
        level=memory.level,
    )
