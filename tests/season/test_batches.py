"""Large batches give the days of single series, in little memory."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from mebuki.season.batches import batch_event_days
from mebuki.season.bud_break import CWTT, SIGDL, Clock
from mebuki.season.crossing import event_days

NEEDS = [80.0, 218.0, 400.0]


def weather(
    sites: int, years: int, days: int = 365
) -> np.ndarray[tuple[int, int, int], np.dtype[np.float64]]:
    """Return invented daily means of many sites and years."""
    generator = np.random.default_rng(11)
    wave = 8 - 12 * np.cos(2 * np.pi * (np.arange(days) - 80) / 365)
    return wave + generator.normal(0, 4, (sites, years, days))


@pytest.mark.parametrize("clock", [CWTT, SIGDL], ids=lambda clock: clock.name)
def test_a_batch_gives_the_days_of_its_series(clock: Clock) -> None:
    """Sites with starts of their own and needs of their own agree with one at a time."""
    temperature = weather(40, 7)
    starts = np.arange(40)[:, np.newaxis] % 5 + np.zeros(7, np.int64)
    needs = np.array(NEEDS) * np.linspace(0.8, 1.2, 40)[:, np.newaxis, np.newaxis]
    found = batch_event_days(clock, temperature, 0, 95 + starts, needs)
    assert found.shape == (40, 7, 3)
    for site in (0, 13, 39):
        for year in (0, 6):
            progress = clock.progress(temperature[site, year], 0, 95 + site % 5)
            assert found[site, year].tolist() == event_days(progress, needs[site, 0]).tolist()


def test_needs_for_all_series_may_be_given_once() -> None:
    """One list of requirements serves every series, also a single one."""
    temperature = weather(3, 2)
    found = batch_event_days(CWTT, temperature, 0, 99, NEEDS)
    assert found[2, 1].tolist() == batch_event_days(CWTT, temperature[2, 1], 0, 99, NEEDS).tolist()


def test_memory_beyond_weather_and_answer_does_not_grow_with_the_batch() -> None:
    """A batch four times as large needs the same working memory to within a tenth."""
    peaks = []
    for sites in (100, 400):
        temperature = weather(sites, 10)
        tracemalloc.start()
        found = batch_event_days(CWTT, temperature, 0, 99, NEEDS)
        peaks.append(tracemalloc.get_traced_memory()[1] - found.nbytes)
        tracemalloc.stop()
    assert peaks[1] <= 1.1 * peaks[0]
