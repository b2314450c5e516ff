"""The clock of the service: jobs at once and again, one at a time, finished on a stop."""

from __future__ import annotations

import asyncio
import logging
from datetime import timedelta

import pytest

from mebuki.schedule.clockwork import Clockwork

SECOND = timedelta(seconds=1)


def test_jobs_run_at_once_and_again_each_at_most_once_at_a_time() -> None:
    """A job longer than its interval is not run beside itself."""
    running, most, begun = 0, 0, 0

    async def slow() -> None:
        nonlocal running, most, begun
        running += 1
        begun += 1
        most = max(most, running)
        await asyncio.sleep(1.3)
        running -= 1

    async def live() -> None:
        clockwork = Clockwork({"slow": (SECOND, slow)}, jitter=timedelta())
        clockwork.start()
        await asyncio.sleep(2.8)
        assert await clockwork.stop()

    asyncio.run(live())
    assert most == 1
    assert begun >= 2
    assert running == 0


def test_a_job_that_raises_is_logged_and_run_again(caplog: pytest.LogCaptureFixture) -> None:
    """The clock does not stop for one job."""
    count = 0

    async def bad() -> None:
        nonlocal count
        count += 1
        msg = "not today"
        raise ValueError(msg)

    async def live() -> None:
        clockwork = Clockwork({"bad": (SECOND, bad)}, jitter=timedelta())
        clockwork.start()
        await asyncio.sleep(2.3)
        await clockwork.stop()

    with caplog.at_level(logging.ERROR):
        asyncio.run(live())
    assert count >= 2
    assert "bad failed" in caplog.text


def test_a_stop_lets_work_in_hand_finish_and_begins_no_more() -> None:
    """The scheduler's own shutdown would have cancelled it."""
    ended = []

    async def work() -> None:
        await asyncio.sleep(0.5)
        ended.append("whole")

    async def live() -> None:
        clockwork = Clockwork({"work": (60 * SECOND, work)})
        clockwork.start()
        await asyncio.sleep(0.1)
        assert await clockwork.stop()

    asyncio.run(live())
    assert ended == ["whole"]


def test_work_that_does_not_end_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """After the grace the stop goes on without it."""
    monkeypatch.setattr("mebuki.schedule.clockwork.GRACE", timedelta(milliseconds=100))

    async def endless() -> None:
        await asyncio.sleep(3600)

    async def live() -> bool:
        clockwork = Clockwork({"endless": (60 * SECOND, endless)})
        clockwork.start()
        await asyncio.sleep(0.05)
        return await clockwork.stop()

    assert not asyncio.run(live())
