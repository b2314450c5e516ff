"""Prepare: the feeds of a garden as bytes, one for each choice, before anybody asks for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from mebuki.agenda.changes import shown, tasks
from mebuki.agenda.entry import Entry
from mebuki.domain.feed import WHOLE_FEED, FeedChoice, FeedForm
from mebuki.domain.garden import Garden
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import CalendarWriter


@dataclass(frozen=True, slots=True)
class Calendar:
    """What the feeds of a garden are made from.

    Parameters
    ----------
    entries
        All that is remembered; each feed takes what it shows.
    at
        The moment (UTC) for which they are made.
    kept_days
        Days for which a cancelled entry, or a task that is done, is shown.
    credits_
        Whom the weather behind the entries is owed to.
    """

    garden: Garden
    entries: Sequence[Entry]
    at: datetime
    kept_days: int
    credits_: tuple[str, ...] = ()

    @classmethod
    def of(cls, plan: Plan) -> Calendar:
        """Return what the feeds of a plan are made from."""
        return cls(plan.garden, plan.entries, plan.at, plan.kept_days, plan.picture.credits_)


def prepare_feeds(
    calendar: Calendar, choices: Mapping[str, FeedChoice], writer: CalendarWriter
) -> dict[str, bytes]:
    """Return the whole garden's feed and that of each choice, by variant."""
    seen = {
        FeedForm.EVENTS: shown(calendar.entries, calendar.at, calendar.kept_days),
        FeedForm.TASKS: tasks(calendar.entries, calendar.at, calendar.kept_days),
    }
    return {
        variant: writer.write(calendar.garden, seen[choice.form], calendar.credits_, choice)
        for variant, choice in ({WHOLE_FEED: FeedChoice()} | dict(choices)).items()
    }
