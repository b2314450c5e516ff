"""What a person reads in a calendar, and what a person is told by mail."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum

from mebuki.domain.advice import Advice, CareKind, Days, Moments, Severity, Urgency
from mebuki.domain.garden import Caution, Subscriber


class Gone(StrEnum):
    """Why an entry is remembered without being shown."""

    NO = ""
    DONE = "done"
    DROPPED = "dropped"


class EntryStatus(StrEnum):
    """The status words of RFC 5545 for an event."""

    TENTATIVE = "TENTATIVE"
    CONFIRMED = "CONFIRMED"
    CANCELLED = "CANCELLED"


@dataclass(frozen=True, slots=True)
class Entry:
    """One calendar entry for one or many trees.

    Parameters
    ----------
    key
        garden + care kind + action + tree or group + cycle; never a predicted
        date. It is the identity of the entry for ever.
    title
        The fact in a few words, as the calendar shows it.
    body
        Plain text: what, why in numbers, how sure, which trees, cautions.
    revision, created, changed
        As first published and as last changed for a person to notice (UTC).
    gone
        Why calendars show it no longer: its work is on record as done, or
        nothing asks for it any more. It is remembered, so that its revision
        goes on if it comes back.
    """

    key: str
    kind: CareKind
    status: EntryStatus
    title: str
    body: str
    span: Days | Moments
    trees: tuple[str, ...]
    place: str
    urgency: Urgency
    alarm: bool
    created: datetime
    changed: datetime
    revision: int = 0
    advice: tuple[Advice, ...] = field(default=(), compare=False)
    gone: Gone = Gone.NO

    @property
    def uid(self) -> str:
        """The identity as calendar programs see it."""
        return hashlib.sha256(self.key.encode()).hexdigest()[:32] + "@mebuki"

    def at_revision(self, revision: int, changed: datetime) -> Entry:
        """Return the same entry under another revision."""
        return replace(self, revision=revision, changed=changed)


class NoticeStep(StrEnum):
    """The steps of a danger, from days ahead to its end, and blindness."""

    PREPARE = "prepare"
    ACT = "act"
    OVER = "over"
    BLIND = "blind"
    DIGEST = "digest"


@dataclass(frozen=True, slots=True)
class NoticeLine:
    """One group in a notice: a heading (a place), what to do, which trees.

    Parameters
    ----------
    ids
        The trees it is about by id, in the order of ``trees`` where those are named;
        none where it is about no trees in particular.
    kind
        The kind of care it is about, where that is not the notice's own.
    """

    heading: str
    deed: str
    trees: tuple[str, ...]
    ids: tuple[str, ...] = ()
    kind: CareKind | None = None


@dataclass(frozen=True, slots=True)
class Risk:
    """What a notice says of the tree that is worst off, should that tree be the one.

    Parameters
    ----------
    tree
        By id.
    lead
        The lead about it; empty where the lead is about no tree.
    facts
        The facts about it, as they stand among those of the notice.
    """

    tree: str
    lead: str
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Notice:
    """What a person is told by mail, once.

    Parameters
    ----------
    key
        Danger and step, such as ``frost:2013-04-02:act``; a notice is told
        once for each key, revision, level and hour (see `told`).
    thread
        The danger it belongs to; mails of one thread are shown together.
    subject
        The fact and the deed.
    lead
        The first line, readable on a lock screen.
    facts
        Pairs of label and value: the numbers behind it.
    chart
        Name of the picture that belongs to it (``nights``), or empty.
    revision
        0 for the first word; above it for an update of the same notice.
    level
        How early its readers want to be told; none if it is for every level.
    digest_hour
        The hour of the digest of its readers; none if it is for every hour.
    exact
        Temperatures [°C] of which its texts show rounded ones, for readers of
        other units.
    severity
        How bad it may become for the worst of its trees; none where that is not judged.
    named
        Ids of the trees that the subject names or counts, where those are not all of its
        lines: in an update, the new ones.
    risks
        What it would say of each of its trees, the worst first; it speaks of the first.
    act_by
        When the danger begins (UTC): later it is too late to act. None where there
        is no such moment.
    """

    key: str
    thread: str
    step: NoticeStep
    kind: CareKind | None
    subject: str
    lead: str
    lines: tuple[NoticeLine, ...]
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    at: datetime
    revision: int = 0
    useful_until: datetime | None = None
    chart: str = ""
    level: Caution | None = None
    digest_hour: int | None = None
    exact: tuple[float, ...] = ()
    severity: Severity | None = None
    act_by: datetime | None = None
    named: tuple[str, ...] = ()
    risks: tuple[Risk, ...] = field(default=(), compare=False)

    @property
    def told(self) -> str:
        """What `Published` remembers of it: the bare key for a first word at the balanced level."""
        again = f"#{self.revision}" if self.revision else ""
        hour = "" if self.digest_hour is None else f"@{self.digest_hour}h"
        level = "" if self.level in (None, "balanced") else f"@{self.level}"
        return f"{self.key}{again}{hour}{level}"

    def concerns(self, reader: Subscriber) -> bool:
        """Whether it is for this subscriber, by level and hour of the digest."""
        level = self.level in (None, reader.notice_level)
        return level and self.digest_hour in (None, reader.digest_hour)


@dataclass(frozen=True, slots=True)
class Published:
    """What a garden's readers have been shown up to a nominal moment.

    ``notices`` holds what was told (`Notice.told`) and what is remembered about it
    (`mebuki.agenda.memory`).
    """

    at: datetime | None
    entries: tuple[Entry, ...]
    notices: tuple[str, ...]

    @classmethod
    def nothing(cls) -> Published:
        """Return the state before the first round."""
        return cls(at=None, entries=(), notices=())
