"""Speed of the clocks of bud break: beside a plain copy, beside pyPhenology, and as it grows."""

from __future__ import annotations

import importlib
import time
import tracemalloc
import warnings
from collections.abc import Callable

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from mebuki.domain.weather import Floats, Ints
from mebuki.season.batches import batch_event_days
from mebuki.season.bud_break import CWTT, SIGDL, Clock
from mebuki.season.crossing import event_days

DAYS = 400
YEARS = 30
FORCING_FROM = 99
NEEDS = 218.0 * np.exp(0.25 * np.linspace(-1.6, 1.6, 9))
"""Nine quantiles of one requirement."""

MOST_COPIES = 4.0
LEAST_FACTOR = 80.0
MOST_MEMORY = 1.5 * 2**30


def weather(sites: int, years: int = YEARS, days: int = DAYS) -> Floats:
    """Return invented daily means, one series for each site and year."""
    generator = np.random.default_rng(1983)
    wave = 8 - 12 * np.cos(2 * np.pi * (np.arange(days) - 80) / 365)
    found: Floats = generator.standard_normal((sites, years, days))
    found *= 4
    found += wave
    return found


def best_of(work: Callable[[], object], times: int = 5) -> float:
    """Return the shortest of a few timed runs [s]."""
    spans = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        spans.append(time.perf_counter() - began)
    return min(spans)


def copy_time(elements: int) -> float:
    """Return the time of a plain copy of so many numbers [s], worked out on 24 million."""
    source = np.ones(24_000_000)
    target = np.empty_like(source)
    return best_of(lambda: np.copyto(target, source)) * elements / source.size


@pytest.mark.benchmark(group="bud break")
@pytest.mark.parametrize("clock", [CWTT, SIGDL], ids=lambda clock: clock.name)
def test_a_batch_of_site_years_and_quantiles_costs_under_four_copies(
    benchmark: BenchmarkFixture, clock: Clock
) -> None:
    """1,000 sites, 30 years, 400 days, 9 quantiles: within 4 copies of as many numbers."""
    temperature = weather(1000)
    benchmark(batch_event_days, clock, temperature, 0, FORCING_FROM, NEEDS)
    assert benchmark.stats is not None
    spent = float(benchmark.stats.stats.min)
    ratio = spent / copy_time(temperature.size * len(NEEDS))
    benchmark.extra_info["times_a_plain_copy"] = round(ratio, 2)
    benchmark.stats.group = f"{clock.name}: {ratio:.1f} times a plain copy"
    assert ratio <= MOST_COPIES


@pytest.mark.benchmark(group="bud break")
def test_ten_thousand_pairs_stay_under_a_gigabyte_and_a_half(benchmark: BenchmarkFixture) -> None:
    """10,000 (site, taxon) pairs with weather of their own, 30 years, 400 days, 9 quantiles."""
    tracemalloc.start()
    temperature = weather(10_000)
    needs = NEEDS * np.linspace(0.4, 2.5, 10_000)[:, np.newaxis, np.newaxis]

    def work() -> Ints:
        return batch_event_days(CWTT, temperature, 0, FORCING_FROM, needs)

    found = benchmark(work)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert found.shape == (10_000, YEARS, 9)
    assert benchmark.stats is not None
    benchmark.extra_info["peak_mebibytes"] = round(peak / 2**20)
    benchmark.stats.group = f"10,000 pairs: peak {peak / 2**20:.0f} MiB"
    assert peak < MOST_MEMORY


@pytest.mark.benchmark(group="bud break")
def test_cost_grows_in_proportion_to_sites_years_and_taxa(benchmark: BenchmarkFixture) -> None:
    """Four times the sites, years or taxa cost at most five times, and taxa far less."""

    def cost(sites: int, years: int, taxa: int) -> float:
        temperature = weather(sites, years)
        needs = np.outer(np.linspace(0.4, 2.5, taxa), NEEDS).ravel()
        return best_of(lambda: batch_event_days(CWTT, temperature, 0, FORCING_FROM, needs))

    base = benchmark(cost, 200, 10, 4)
    growth = [cost(*size) / base for size in ((800, 10, 4), (200, 40, 4), (200, 10, 16))]
    assert benchmark.stats is not None
    words = "sites x{:.1f}, years x{:.1f}, taxa x{:.1f}".format(*growth)
    benchmark.extra_info["growth_when_fourfold"] = words
    benchmark.stats.group = f"growth when fourfold: {words}"
    assert max(growth) <= 5.0


@pytest.mark.benchmark(group="bud break")
def test_thermal_time_is_eighty_times_as_fast_as_pyphenology(benchmark: BenchmarkFixture) -> None:
    """Per site-year and parameter set, same temperatures, same days found, in one run."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        models = pytest.importorskip("pyPhenology.models", reason="pyPhenology is not installed")
        frames = importlib.import_module("pandas")
    doys = np.arange(-60, 300)
    temperature = weather(1000, 1, len(doys))[:, 0]
    predictors = frames.DataFrame(
        {
            "site_id": np.repeat(np.arange(1000), len(doys)),
            "year": 2013,
            "doy": np.tile(doys, 1000),
            "temperature": temperature.ravel(),
        }
    )
    sites = {"site_id": np.arange(1000), "year": 2013, "species": "x", "phenophase": 1}
    asked = frames.DataFrame(sites)
    model = models.ThermalTime(parameters={"t1": 39, "T": 0, "F": float(NEEDS[4])})
    first = int(np.flatnonzero(doys == 39)[0])

    def theirs() -> Ints:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return np.asarray(model.predict(to_predict=asked, predictors=predictors))

    def ours() -> Ints:
        heat = np.maximum(temperature, 0.0)
        heat[:, :first] = 0.0
        return event_days(np.cumsum(heat, axis=1), NEEDS)

    assert np.array_equal(theirs(), doys[benchmark(ours)[:, 4]])
    assert benchmark.stats is not None
    factor = best_of(theirs) / (float(benchmark.stats.stats.min) / len(NEEDS))
    benchmark.extra_info["times_pyphenology"] = round(factor)
    benchmark.stats.group = f"thermal time: {factor:.0f} times pyPhenology"
    assert factor >= LEAST_FACTOR
