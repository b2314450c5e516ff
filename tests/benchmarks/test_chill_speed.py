"""Speed of the Dynamic Model, beside a plain copy of the same bytes."""

from __future__ import annotations

import time

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from mebuki.season.chill import chill_portions

SITES, HOURS = 1000, 3624
FLOOR = 30e6
"""Steps per second that must be reached."""


@pytest.mark.benchmark
def test_a_thousand_seasons_of_hours_pass_thirty_million_steps_a_second(
    benchmark: BenchmarkFixture,
) -> None:
    """1,000 site-seasons of 3,624 hours in one call; the ratio to a copy is reported."""
    generator = np.random.default_rng(1987)
    temperature = generator.normal(4, 6, (SITES, HOURS))
    benchmark(chill_portions, temperature)
    assert benchmark.stats is not None
    best = float(benchmark.stats.stats.min)
    copies = []
    for _ in range(7):
        began = time.perf_counter()
        np.copy(temperature)
        copies.append(time.perf_counter() - began)
    speed = temperature.size / best
    ratio = best / min(copies)
    benchmark.extra_info.update(steps_per_second=round(speed), times_a_plain_copy=round(ratio, 1))
    benchmark.stats.group = (
        f"{speed / 1e6:.0f} million steps a second, {ratio:.0f} times a plain copy"
    )
    assert speed >= FLOOR, f"{speed / 1e6:.1f} million steps a second"
