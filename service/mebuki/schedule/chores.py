"""What is done once a day beside the rounds: a backup, and tidying up."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from mebuki.errors import MebukiError
from mebuki.schedule.slots import Slot, catch_up, regular_slots
from mebuki.storage.round_book import RoundBook, RoundId

log = logging.getLogger(__name__)

DAY: Final = timedelta(days=1)
PHASE: Final = timedelta(hours=3)
"""When the day of the chores begins [UTC]: night in Europe, evening in America."""

LATE: Final = timedelta(days=2)
"""Missed chores are done once, however long the service was away."""

Chore = Callable[[datetime], object]


@dataclass(frozen=True, slots=True)
class Chores:
    """The daily chores by name, and the book that says when each was done last."""

    book: RoundBook
    by_name: Mapping[str, Chore]

    def run(self, now: datetime) -> tuple[str, ...]:
        """Do what is due and was not done; return its names.

        A chore that fails is noted, logged and tried again the next day; it
        never stops another one.
        """
        return tuple(name for name in self.by_name if self._do(name, now))

    def _do(self, name: str, now: datetime) -> bool:
        passed = [Slot(at, at.date()) for at in regular_slots(DAY, now - LATE, now, PHASE)]
        due = catch_up(passed, lambda slot: self.book.done(RoundId(name, "", slot.at)), now, LATE)
        if due.run is None:
            return False
        which = RoundId(name, "", due.run.at)
        self.book.begin(which)
        try:
            self.by_name[name](now)
        except MebukiError as error:
            log.exception("%s failed", name)
            self.book.finish(which, f"failed: {error}")
        else:
            self.book.finish(which)
        return True
