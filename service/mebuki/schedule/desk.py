"""The gardens of one database: which are due, and their rounds run in one process or several."""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from datetime import datetime
from typing import Final

from mebuki.schedule.garden_round import Bench, Outcome, garden_round
from mebuki.schedule.timetable import Due, Standing, Timetable
from mebuki.storage.garden_states import GardenCard, StateBook
from mebuki.storage.round_book import PLAN, RoundBook

log = logging.getLogger(__name__)

MANY: Final = 60
"""From so many due gardens on, processes are started to share them (design default)."""

SHARE: Final = 10
"""Gardens handed to a process at a time."""

Tally = Counter[Outcome]
BenchMaker = Callable[[], Bench]
Stopping = Callable[[], bool]


def due_rounds(
    states: StateBook, rounds: RoundBook, timetable: Timetable, now: datetime
) -> tuple[Due, ...]:
    """Return the rounds to run now, gardens of one weather cell together."""
    cards = states.cards()
    finished = rounds.finished(PLAN, now - 2 * timetable.oldest)
    found = [
        timetable.due(_standing(card), now, finished.get(card.garden, frozenset()).__contains__)
        for card in cards
    ]
    return tuple(sorted((due for due in found if due), key=lambda due: (due.cell, due.garden)))


def run_rounds(
    bench: Bench,
    dues: Sequence[Due],
    stopping: Stopping = lambda: False,
    progress: Callable[[Due, Outcome], object] = lambda due, outcome: None,
) -> Tally:
    """Run rounds one after another, until all are run or the service stops."""
    tally: Tally = Counter()
    for due in dues:
        if stopping():
            break
        outcome = garden_round(bench, due)
        tally[outcome] += 1
        progress(due, outcome)
    return tally


def run_side_by_side(
    make: BenchMaker, dues: Sequence[Due], workers: int, stopping: Stopping = lambda: False
) -> Tally:
    """Run rounds in several processes, a share of the gardens at a time.

    A process that dies takes its share with it; those gardens are still due and
    are run by the next tick.

    Parameters
    ----------
    make
        Makes the bench within each process; importable by its name.
    """
    shares = [dues[first : first + SHARE] for first in range(0, len(dues), SHARE)]
    tally: Tally = Counter()
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, _begin, (make,)) as crew:
        waiting = iter(shares)
        running: set[Future[Tally]] = set()
        while not stopping():
            for share in _next(waiting, workers + 1 - len(running)):
                running.add(crew.submit(_share, share))
            if not running:
                break
            ended, running = wait(running, return_when=FIRST_COMPLETED)
            for future in ended:
                tally += _result(future)
        crew.shutdown(wait=True, cancel_futures=True)
    return tally


def _next(waiting: Iterator[Sequence[Due]], count: int) -> Iterator[Sequence[Due]]:
    for _ in range(count):
        share = next(waiting, None)
        if share is None:
            return
        yield share


def _result(future: Future[Tally]) -> Tally:
    try:
        return future.result()
    except BrokenProcessPool:
        log.exception("a process died over its gardens; they are taken up again")
        return Counter()


_BENCH: Bench | None = None
"""The bench of this process, where it is one of a crew."""


def _begin(make: BenchMaker) -> None:
    global _BENCH  # noqa: PLW0603 - made once in each process of a crew
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a stop is the service's own to order
    _BENCH = make()


def _share(dues: Sequence[Due]) -> Tally:
    if _BENCH is None:
        msg = "the process was not begun"
        raise RuntimeError(msg)
    return run_rounds(_BENCH, dues)


def _standing(card: GardenCard) -> Standing:
    return Standing(
        garden=card.garden,
        zone=card.zone,
        digest_hours=card.digest_hours,
        cell=f"{card.latitude:.1f},{card.longitude:.1f}",
        last=card.last,
        watch=card.watch,
    )


def processors() -> int:
    """Return how many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
