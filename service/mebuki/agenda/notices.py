"""What people are told by mail in one round, level by level, and how much of it a day bears.

A day brings a reader at most one call to act before a night and one more mail,
whatever happens; the digest comes beside them. The call to act has a place of its own,
so that no other mail can keep it back. What finds no place stands in the calendar and
in the digest, and is told in a later round if it still holds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mebuki.agenda.blind import blind_notices
from mebuki.agenda.danger import Word, danger_words
from mebuki.agenda.digest import digests
from mebuki.agenda.entry import Entry, Notice, NoticeStep, Published
from mebuki.agenda.hard_days import hard_day_words
from mebuki.agenda.memory import Memory, levels_of, mail_text
from mebuki.agenda.nights import DANGER
from mebuki.agenda.relief import relief_notices
from mebuki.agenda.situation import Situation

CALL, OTHER = "call", "other"
"""The two places for a mail that a day has: the call to act before a night, and another."""


@dataclass(frozen=True, slots=True)
class Told:
    """The new notices of a round, and the marks that go with them."""

    notices: tuple[Notice, ...]
    marks: tuple[str, ...]


def notices(
    situation: Situation,
    entries: Sequence[Entry],
    published: Published,
    digest_hours: frozenset[int] | None = None,
) -> Told:
    """Return the new notices of a round: nothing in here was told before.

    Parameters
    ----------
    entries
        As readers see them now, after `mebuki.agenda.changes.revise`.
    digest_hours
        Local hours whose readers get their digest in this round; none for one
        digest for all.
    """
    known = set(published.notices)
    found: list[Notice] = []
    marks: list[str] = []
    for level in levels_of(situation.garden):
        memory = Memory.of(published.notices, level, situation.on)
        for notice, texts in _at_level(situation, memory):
            marks += texts
            if notice is not None:
                found.append(notice)
    found += [each for each in digests(situation, entries, digest_hours) if each.told not in known]
    return Told(tuple(found), tuple(marks))


def _at_level(
    situation: Situation, memory: Memory
) -> Iterator[tuple[Notice | None, tuple[str, ...]]]:
    """Yield what the readers of a level are told, each notice with what is remembered of it."""
    used = {text.rpartition(":")[2] for text in memory.mails}
    for notice, mark in _by_weight(situation, memory):
        texts = () if mark is None else (mark.text(memory.level),)
        if notice is None:
            yield None, texts
            continue
        use = _use(notice)
        if notice.told.partition("@")[0] not in memory.told and use not in used:
            used.add(use)
            yield notice, (*texts, mail_text(notice, situation.on, use))


def _by_weight(situation: Situation, memory: Memory) -> Iterator[Word | tuple[Notice, None]]:
    """Yield what could be told, the weightiest first."""
    cold = list(danger_words(situation, memory))
    yield from (word for word in cold if not _prepares(word))
    yield from ((notice, None) for notice in blind_notices(situation, memory))
    yield from hard_day_words(situation, memory)
    yield from (word for word in cold if _prepares(word))
    yield from ((notice, None) for notice in relief_notices(situation, memory))


def _prepares(word: Word) -> bool:
    return word[0] is not None and word[0].step is NoticeStep.PREPARE


def _use(notice: Notice) -> str:
    night = notice.key.startswith(f"{DANGER}:")
    return CALL if night and notice.step is NoticeStep.ACT and not notice.revision else OTHER
