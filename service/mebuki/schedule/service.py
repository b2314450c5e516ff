"""The service at work on one database: what each tick of the clock does."""

from __future__ import annotations

import asyncio
import logging
import threading
from dataclasses import dataclass
from datetime import timedelta
from typing import Final, Protocol

from mebuki.clock import Clock, stopwatch
from mebuki.rounds.deliver import Delivered, Terms, deliver
from mebuki.rounds.ports import Bounces, Mailer, PostOffice
from mebuki.schedule.chores import Chores
from mebuki.schedule.clockwork import Job
from mebuki.schedule.desk import (
    MANY,
    BenchMaker,
    Tally,
    due_rounds,
    run_rounds,
    run_side_by_side,
)
from mebuki.schedule.garden_round import Bench, Outcome
from mebuki.schedule.timetable import Due, Timetable
from mebuki.storage.round_book import PLAN

log = logging.getLogger(__name__)

EVERY_MINUTE: Final = timedelta(minutes=1)
EVERY_QUARTER: Final = timedelta(minutes=15)


class Witness(Protocol):
    """Somebody who is told what was done, for figures and caches."""

    def round_done(self, kind: str, outcome: str, seconds: float) -> None:
        """Hear of rounds that ended."""
        ...

    def published(self, garden: str | None) -> None:
        """Hear that the feeds of a garden, or of any garden, may have changed."""
        ...

    def letters(self, sent: int, put_off: int, given_up: int) -> None:
        """Hear what became of letters."""
        ...


@dataclass(frozen=True, slots=True)
class Office:
    """How the service sends mail: without a mailer, letters wait in the outbox."""

    post: PostOffice
    mailer: Mailer | None
    terms: Terms
    bounces: Bounces | None = None


@dataclass(frozen=True, slots=True)
class Crew:
    """Processes that share the work when many gardens are due."""

    make: BenchMaker
    workers: int


class Service:
    """The rounds, deliveries and chores of one database.

    Parameters
    ----------
    crew
        None for a service that does everything itself.
    """

    def __init__(
        self, bench: Bench, timetable: Timetable, office: Office, chores: Chores,
        witness: Witness, crew: Crew | None = None,
    ) -> None:  # fmt: skip
        self.bench = bench
        self._timetable = timetable
        self._office = office
        self._chores = chores
        self._witness = witness
        self._crew = crew
        self._stopping = threading.Event()

    @property
    def clock(self) -> Clock:
        """The clock that the service goes by."""
        return self.bench.clock

    def stop(self) -> None:
        """Begin nothing new: the garden and the letter in hand are finished."""
        self._stopping.set()

    def run_due(self) -> Tally:
        """Run every round that is due now; return how they ended."""
        bench = self.bench
        dues = due_rounds(bench.states, bench.rounds, self._timetable, self.clock.now())
        if not dues:
            return Tally()
        begun = stopwatch()
        if self._crew and self._crew.workers > 1 and len(dues) >= MANY:
            tally = run_side_by_side(
                self._crew.make, dues, self._crew.workers, self._stopping.is_set
            )
            self._witness.published(None)
        else:
            tally = run_rounds(bench, dues, self._stopping.is_set, self._published)
        self._count(tally, stopwatch() - begun)
        return tally

    async def deliver_due(self) -> Delivered:
        """Send every letter that is due now."""
        office = self._office
        if office.mailer is None or self._stopping.is_set():
            return Delivered()
        done = await deliver(
            office.post,
            office.mailer,
            self.clock,
            office.terms,
            bounces=office.bounces,
            stopping=self._stopping.is_set,
        )
        self._witness.letters(done.sent, done.put_off, done.given_up)
        return done

    def do_chores(self) -> tuple[str, ...]:
        """Do what is done once a day, if it is due; return its names."""
        return () if self._stopping.is_set() else self._chores.run(self.clock.now())

    def jobs(self) -> dict[str, tuple[timedelta, Job]]:
        """Return what a clock has to run, with the intervals."""
        return {
            "rounds": (EVERY_MINUTE, lambda: asyncio.to_thread(self.run_due)),
            "letters": (EVERY_MINUTE, self.deliver_due),
            "chores": (EVERY_QUARTER, lambda: asyncio.to_thread(self.do_chores)),
        }

    def _published(self, due: Due, outcome: Outcome) -> None:
        if outcome == "done":
            self._witness.published(due.garden)

    def _count(self, tally: Tally, seconds: float) -> None:
        count = tally.total()
        for outcome, number in tally.items():
            for _ in range(number):
                self._witness.round_done(PLAN, outcome, seconds / count)
        log.info("%d rounds in %.1f s: %s", count, seconds, dict(tally))
