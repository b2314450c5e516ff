"""The clock of the service: APScheduler ticks, our own slots decide what a tick does.

The scheduler's memory is not trusted with anything: every tick asks the book of
rounds what is due, so that a late, lost or doubled tick changes nothing. Its
shutdown would cancel running work; here work is let finish first.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable, Mapping
from datetime import timedelta
from typing import Final

from apscheduler.schedulers.asyncio import AsyncIOScheduler
from apscheduler.triggers.interval import IntervalTrigger

log = logging.getLogger(__name__)

GRACE: Final = timedelta(seconds=4)
"""How long a stop waits for work in hand."""

Job = Callable[[], Awaitable[object]]


class Clockwork:
    """Runs jobs at even intervals within an event loop, each at most once at a time.

    Parameters
    ----------
    jobs
        By name: the interval, and what to run. A job that raises is logged and
        runs again at its next time.
    jitter
        Ticks are late by up to this much, so that many installs do not ask the
        weather services in the same second.
    """

    def __init__(
        self, jobs: Mapping[str, tuple[timedelta, Job]], jitter: timedelta = timedelta(seconds=5)
    ) -> None:
        self._jobs = jobs
        self._jitter = jitter
        self._running: set[asyncio.Task[None]] = set()
        self._scheduler = AsyncIOScheduler(
            timezone="UTC",
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
        )

    def start(self) -> None:
        """Begin to tick, each job at once and then at its interval; within a running loop."""
        for name, (every, job) in self._jobs.items():
            trigger = IntervalTrigger(
                seconds=int(every.total_seconds()),
                timezone="UTC",
                jitter=min(int(self._jitter.total_seconds()), int(every.total_seconds()) // 4),
            )
            self._scheduler.add_job(self._run, trigger, args=(name, job), id=name)
        self._scheduler.start()
        for name, (_, job) in self._jobs.items():
            self._launch(name, job)

    async def stop(self) -> bool:
        """Tick no more and let running work finish; False if some did not within the grace."""
        self._scheduler.pause()
        running = set(self._running)
        left: set[asyncio.Task[None]] = set()
        if running:
            _, left = await asyncio.wait(running, timeout=GRACE.total_seconds())
        self._scheduler.shutdown(wait=False)
        return not left

    async def _run(self, name: str, job: Job) -> None:
        await asyncio.wait({self._launch(name, job)})

    def _launch(self, name: str, job: Job) -> asyncio.Task[None]:
        """Start a job as a task of our own, which the scheduler's shutdown does not cancel."""
        for task in self._running:
            if task.get_name() == name:
                return task
        task = asyncio.create_task(_logged(name, job), name=name)
        self._running.add(task)
        task.add_done_callback(self._running.discard)
        return task


async def _logged(name: str, job: Job) -> None:
    try:
        await job()
    except Exception:  # the clock must not stop for one job
        log.exception("%s failed; it is run again at its next time", name)
