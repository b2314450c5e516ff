"""Speed of the pots: root-balls, leaves and water of a garden under an ensemble."""

from __future__ import annotations

import time
import tracemalloc
from datetime import date

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from mebuki.domain.weather import HourlySeries
from mebuki.season.hardiness import RootLimit
from mebuki.season.pot_members import MemberExtremes, Stand, member_extremes
from mebuki.season.pot_store import Leaves, Pots
from mebuki.season.root_ball import RootBalls
from tests.builders import a_place, a_site
from tests.season.hourly_weather import some_hours

TREES, HOURS, MEMBERS = 1000, 384, 31
PLACES = ("bench", "shade", "frame", "ground", "roof")
SITE = a_site()
ON = date(2013, 1, 12)

MOST_SECONDS = 10.0
MOST_MEMORY = 2 * 2**30
MOST_GROWTH = 2.6
"""Most that twice the trees or members may cost: 2, and what a busy machine adds."""


def members(count: int, hours: int = HOURS) -> list[HourlySeries]:
    """Return invented winter weather round freezing, a series a member."""
    generator = np.random.default_rng(2013)
    hour = np.arange(hours)
    sun = np.maximum(300 * np.sin(2 * np.pi * (hour - 12) / 24), 0)
    day = 2 - 5 * np.cos(2 * np.pi * (hour - 20) / 24)
    found = []
    for _ in range(count):
        drift = np.cumsum(generator.normal(0, 0.25, hours))
        found.append(
            some_hours(
                "2013-01-12T05", day + drift - drift.mean(),
                wind_speed=generator.uniform(0, 8, hours), global_radiation=sun,
                cloud_cover=generator.uniform(0, 1, hours),
                precipitation=generator.exponential(0.1, hours),
            )
        )  # fmt: skip
    return found


def garden(trees: int) -> list[Stand]:
    """Return trees with pots of their own, no two alike, at five places."""
    generator = np.random.default_rng(7)
    found = []
    for number, name in enumerate(PLACES):
        count = trees // len(PLACES)
        volume = generator.uniform(0.2, 30, count) / 1000
        top = 1.2 * volume ** (2 / 3)
        grounded = name == "ground"
        zero = np.zeros(count)
        balls = RootBalls(
            volume, 5 * volume ** (2 / 3), top * grounded, zero + 0.2 * number, zero + 0.65
        )
        found.append(
            Stand(
                place=a_place(name, pot_on_ground=grounded, sky_share=1 - 0.1 * number),
                balls=balls,
                limits=[RootLimit(-5.0, -3.0, "invented")] * count,
                pots=Pots(top, 3 * top, volume * 150, (None,) * count),
                leaves=Leaves(zero + 0.9, zero + 0.15, zero + np.nan, zero + np.nan),
            )
        )
    return found


def best_of(weather: list[HourlySeries], stands: list[Stand], times: int = 3) -> float:
    """Return the shortest of a few timed runs [s]."""
    spans = []
    for _ in range(times):
        began = time.perf_counter()
        member_extremes(weather, SITE, stands, ON)
        spans.append(time.perf_counter() - began)
    return min(spans)


@pytest.mark.benchmark(group="pots", min_rounds=3, max_time=0.1)
def test_a_garden_under_an_ensemble_takes_under_ten_seconds(benchmark: BenchmarkFixture) -> None:
    """1,000 trees, 16 days hourly, 31 members: 11.9 million tree-hours, three models each."""
    weather, stands = members(MEMBERS), garden(TREES)

    def work() -> MemberExtremes:
        return member_extremes(weather, SITE, stands, ON)

    found = benchmark(work)
    assert found.root_minimum.shape == (MEMBERS, TREES, 16)
    assert np.isfinite(found.root_minimum[..., :14]).all()
    assert (found.root_minimum < -1).any()
    assert benchmark.stats is not None
    spent = float(benchmark.stats.stats.min)
    elements = TREES * HOURS * MEMBERS
    copied = np.ones(elements)
    target = np.empty_like(copied)
    began = time.perf_counter()
    np.copyto(target, copied)
    copies = spent / (time.perf_counter() - began)
    benchmark.extra_info["tree_hours"] = elements
    benchmark.extra_info["nanoseconds_each"] = round(spent / elements * 1e9)
    benchmark.extra_info["times_a_plain_copy"] = round(copies)
    benchmark.stats.group = (
        f"{elements:,} tree-hours: {spent:.1f} s, {spent / elements * 1e9:.0f} ns each, "
        f"{copies:.0f} plain copies"
    )
    assert spent < MOST_SECONDS


@pytest.mark.benchmark(group="pots", min_rounds=1, max_time=0.1)
def test_a_garden_under_an_ensemble_stays_under_two_gibibytes(benchmark: BenchmarkFixture) -> None:
    """The same garden: the most memory taken at any moment."""
    weather, stands = members(MEMBERS), garden(TREES)
    tracemalloc.start()
    benchmark(member_extremes, weather, SITE, stands, ON)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert benchmark.stats is not None
    benchmark.extra_info["peak_mebibytes"] = round(peak / 2**20)
    benchmark.stats.group = f"peak {peak / 2**20:.0f} MiB"
    assert peak < MOST_MEMORY


@pytest.mark.benchmark(group="pots", min_rounds=1, max_time=0.1)
def test_cost_is_linear_in_trees_and_members(benchmark: BenchmarkFixture) -> None:
    """Twice the trees, and twice the members, cost at most 2.6 times as much."""
    base = benchmark(best_of, members(8), garden(1000))
    more_trees = best_of(members(8), garden(2000)) / base
    more_members = best_of(members(16), garden(1000)) / base
    assert benchmark.stats is not None
    words = f"twice the trees x{more_trees:.2f}, twice the members x{more_members:.2f}"
    benchmark.extra_info["growth_when_doubled"] = words
    benchmark.stats.group = words
    assert max(more_trees, more_members) <= MOST_GROWTH
