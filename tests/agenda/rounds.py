"""Rounds of the agenda one after another, each knowing what was told before."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from mebuki.agenda.build import build
from mebuki.agenda.entry import Notice, NoticeStep, Published
from mebuki.agenda.memory import remembered
from mebuki.agenda.notices import notices
from mebuki.agenda.situation import Situation


@dataclass
class Readers:
    """The readers of a garden: what they were told, and what is remembered of it."""

    texts: tuple[str, ...] = ()
    told: list[Notice] = field(default_factory=list)

    def hear(
        self, situation: Situation, digest_hours: frozenset[int] | None = frozenset()
    ) -> list[Notice]:
        """Return the new notices of a round; digests only for the hours asked for."""
        before = Published(None, (), self.texts)
        found = notices(situation, build(situation), before, digest_hours)
        self.texts = remembered(self.texts, found.notices, found.marks, situation.on)
        self.told += found.notices
        return list(found.notices)


def steps(found: Iterable[Notice]) -> list[tuple[str | None, NoticeStep, int]]:
    """Return level, step and revision of each notice."""
    return [(each.level, each.step, each.revision) for each in found]
