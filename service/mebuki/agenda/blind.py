"""Blindness as a danger of its own: told once a spell, and its end when sight is back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from mebuki.agenda.body import basis_facts, official_facts
from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.agenda.memory import Memory
from mebuki.agenda.situation import Situation

DANGER = "blind"
"""The first word of the key of every notice about blindness."""

FORGOTTEN = timedelta(days=60)
"""A spell that began longer ago counts as past: it is told anew if it lasts (default)."""


def blind_notices(situation: Situation, memory: Memory) -> Iterator[Notice]:
    """Yield the beginning or the end of a spell in which the coming nights cannot be seen.

    The key names the day on which the spell began. A new spell is told from the next
    day on, so that a view that comes and goes brings no string of mails.
    """
    begun = _open_since(situation, memory)
    known = situation.on in memory.days_told(DANGER)
    if situation.sight.blind and begun is None and not known:
        yield _blind(situation, memory)
    elif not situation.sight.blind and begun is not None:
        yield _sight(situation, memory, begun)


def _open_since(situation: Situation, memory: Memory) -> date | None:
    """Return the day on which a spell was told that has not ended; none if there is no such."""
    spells = memory.days_told(DANGER)
    newest = max(spells, default=None)
    if newest is None or NoticeStep.OVER in spells[newest]:
        return None
    return newest if situation.on - newest < FORGOTTEN else None


def _blind(situation: Situation, memory: Memory) -> Notice:
    return Notice(
        key=f"{DANGER}:{situation.on.isoformat()}:{NoticeStep.BLIND}",
        thread=f"{DANGER}:{situation.on.isoformat()}",
        step=NoticeStep.BLIND,
        kind=None,
        subject="The coming nights cannot be seen: look at another forecast",
        lead="The weather is missing or old: no warning of frost can come. Look at another "
        "forecast each day, and leave in what was called in. A word comes when it can be seen "
        "again.",
        lines=(),
        facts=(
            *official_facts(situation),
            *basis_facts(situation),
            *(("Note", remark) for remark in situation.sight.remarks),
        ),
        cautions=(),
        at=situation.at,
        useful_until=situation.at + timedelta(days=1),
        level=memory.level,
    )


def _sight(situation: Situation, memory: Memory, begun: date) -> Notice:
    return Notice(
        key=f"{DANGER}:{begun.isoformat()}:{NoticeStep.OVER}",
        thread=f"{DANGER}:{begun.isoformat()}",
        step=NoticeStep.OVER,
        kind=None,
        subject="The coming nights can be seen again",
        lead="Weather and forecast are here again; what they ask for is told as usual.",
        lines=(),
        facts=tuple(basis_facts(situation)),
        cautions=(),
        at=situation.at,
        useful_until=situation.at + timedelta(days=1),
        level=memory.level,
    )
