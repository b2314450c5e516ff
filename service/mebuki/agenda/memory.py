"""What the readers of a level know: notices told, trees named, mails sent today.

All of it is kept as short texts in `Published.notices`. Beside what was told
stand marks (which trees a danger was told or kept quiet for, and how bad it was)
and tallies (which mails a day has had). The texts of the balanced level bear no
suffix, those of others end with ``@cautious`` or ``@few``.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.domain.garden import Caution, Garden
from mebuki.rules.risk import NOTICE_LEVELS

MARK, MAIL = "mark", "mail"
"""The first words of the texts that are remembered and were not told."""

MARKS_KEPT = timedelta(days=10)
"""How long a mark is kept: longer than any spell looks back (default)."""

LONGEST_LIST = 600
"""Trees that one mark names; of more it is only known that there were many (default)."""

MANY = "*"
_SIGNS = 3


@dataclass(frozen=True, slots=True)
class Mark:
    """What readers know of one danger on one day.

    Parameters
    ----------
    danger, day
        Such as ``frost`` and the evening of the night.
    acted
        Whether a deed was asked for, now or on the days before.
    severity
        The worst of the trees, as its place in `Severity`.
    trees
        `sign` of each tree that readers know to be in danger.
    """

    danger: str
    day: date
    acted: bool
    severity: int
    trees: frozenset[str]

    def knows(self, tree: str) -> bool:
        """Return whether readers know a tree, by its id, to be in danger."""
        return MANY in self.trees or sign(tree) in self.trees

    def text(self, level: Caution) -> str:
        """Return the mark as it is remembered."""
        names = "".join(sorted(self.trees)) if len(self.trees) <= LONGEST_LIST else MANY
        step = "act" if self.acted else "prepare"
        told = f"{MARK}:{self.danger}:{self.day.isoformat()}:{step}:{self.severity}:{names}"
        return told + suffix(level)

    @classmethod
    def parse(cls, text: str) -> Mark:
        """Return the mark of a text without its level."""
        _, danger, day, step, severity, names = text.split(":")
        parts = (names[start : start + _SIGNS] for start in range(0, len(names), _SIGNS))
        return cls(danger, date.fromisoformat(day), step == "act", int(severity), frozenset(parts))


@dataclass(frozen=True, slots=True)
class Memory:
    """What the readers of one level know on one day.

    Parameters
    ----------
    told
        What was told, without the level.
    marks
        By danger and day.
    mails
        What the day has had so far.
    """

    level: Caution
    told: frozenset[str]
    marks: Mapping[tuple[str, date], Mark]
    mails: frozenset[str]

    @classmethod
    def of(cls, texts: Iterable[str], level: Caution, on: date) -> Memory:
        """Return what `Published.notices` says of a level on a local day."""
        mine = [text.partition("@")[0] for text in texts if _level(text) == level]
        marks = [Mark.parse(text) for text in mine if text.startswith(f"{MARK}:")]
        today = f"{MAIL}:{on.isoformat()}:"
        return cls(
            level=level,
            told=frozenset(text for text in mine if text.split(":")[0] not in (MARK, MAIL)),
            marks={(mark.danger, mark.day): mark for mark in marks},
            mails=frozenset(text for text in mine if text.startswith(today)),
        )

    def days_told(self, danger: str) -> Mapping[date, frozenset[str]]:
        """Return the days of a danger that were told, each with its steps."""
        found: dict[date, set[str]] = {}
        for text in self.told:
            name, _, rest = text.partition(":")
            day, _, step = rest.partition(":")
            if name == danger:
                found.setdefault(date.fromisoformat(day), set()).add(step.partition("#")[0])
        return {day: frozenset(steps) for day, steps in found.items()}


def sign(tree: str) -> str:
    """Return three letters for a tree id; two ids share them once in 260,000 pairs."""
    digest = hashlib.sha256(tree.encode()).digest()[:3]
    return base64.urlsafe_b64encode(digest).decode()[:_SIGNS]


def suffix(level: Caution) -> str:
    """Return how remembered texts of a level end."""
    return "" if level == "balanced" else f"@{level}"


def levels_of(garden: Garden) -> tuple[Caution, ...]:
    """Return the levels to make notices for: the balanced one, and those of the readers."""
    asked = {reader.notice_level for reader in garden.subscribers} | {"balanced"}
    return tuple(level for level in NOTICE_LEVELS if level in asked)


def mail_text(notice: Notice, on: date, use: str) -> str:
    """Return the tally of one mail of a day: what it was used for, and its level."""
    return f"{MAIL}:{on.isoformat()}:{use}{suffix(notice.level or 'balanced')}"


def remembered(
    before: Sequence[str], notices: Sequence[Notice], marks: Sequence[str], on: date
) -> tuple[str, ...]:
    """Return what is remembered after a round.

    What was told stays. A mark takes the place of an older one of its danger, day
    and level; old marks, those of nights that are told as over, and the tallies of
    other days are dropped.
    """
    found = {_place(text): text for text in (*before, *(each.told for each in notices), *marks)}
    for each in notices:
        if each.step is NoticeStep.OVER:
            found.pop(f"{MARK}:{each.key.rpartition(':')[0]}{suffix(each.level or 'balanced')}", "")
    return tuple(text for text in found.values() if _kept(text, on))


def _level(text: str) -> Caution:
    return next((level for level in NOTICE_LEVELS if text.endswith(f"@{level}")), "balanced")


def _place(text: str) -> str:
    """Return that part of a text under which a newer one replaces it."""
    if not text.startswith(f"{MARK}:"):
        return text
    return ":".join(text.split(":")[:3]) + suffix(_level(text))


def _kept(text: str, on: date) -> bool:
    kind, _, rest = text.partition(":")
    if kind == MAIL:
        return rest.startswith(on.isoformat())
    return kind != MARK or on - date.fromisoformat(text.split(":")[2]) <= MARKS_KEPT
