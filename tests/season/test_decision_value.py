"""What acting by probability is worth on measured nights: our scores against a count by hand.

The nights are those of three airports near New York from 10 March to 20 May 2013 (NOAA,
ASOS), a night being 0 °C if the lowest reading between 16 and 10 h local time is at or below it.
A forecast is that minimum with a Gaussian error of 1.6 °C, drawn anew for each seed.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from mebuki.domain.weather import Floats
from mebuki.rulebook import shipped_config
from mebuki.season.decision import economic_value, probability_below
from mebuki.season.local_time import local_hour
from mebuki.season.scores import (
    Contingency,
    best_threshold,
    contingency,
    relative_value,
)
from mebuki.weather.plausibility import check
from mebuki.weather.series_file import read_hourly
from tests.published_tables import PUBLISHED

FIRST, LAST = date(2013, 3, 10), date(2013, 5, 20)
ZONE = ZoneInfo("America/New_York")
STATIONS = (
    shipped_config() / "demo" / "nyc_jfk_hourly_2013.csv",
    PUBLISHED / "nyc_ewr_hourly_2013.csv",
    PUBLISHED / "nyc_lga_hourly_2013.csv",
)
SPREAD, SEEDS = 1.6, 100

# By cost over loss: value of the exact rule, mean value of the best threshold of each seed,
# POD and FAR of the rule, as an independent calculation on the same nights gave them.
EXPECTED = {
    0.05: (0.81, 0.87, 0.98, 0.52),
    0.15: (0.80, 0.84, 0.92, 0.42),
    0.30: (0.65, 0.70, 0.83, 0.33),
}


@lru_cache(maxsize=1)
def minima() -> Floats:
    """Return the measured minimum of each night of each station [°C]."""
    found = []
    for file in STATIONS:
        series, _ = check(read_hourly(file).series, doubt_newest=False)
        for ahead in range((LAST - FIRST).days + 1):
            evening = FIRST + timedelta(days=ahead)
            begins = local_hour(evening, 16, ZONE)
            ends = local_hour(evening + timedelta(days=1), 10, ZONE)
            found.append(np.nanmin(series.between(begins, ends + 1).air_temperature))
    return np.array(found)


def chances(seed: int) -> Floats:
    """Return the exact probability of 0 °C or less of each night's forecast."""
    truth = minima()
    forecast = truth + np.random.default_rng(seed).normal(0, SPREAD, len(truth))
    return probability_below(0.0, forecast, SPREAD)


def test_the_nights_are_those_that_were_counted() -> None:
    """Three stations, 72 nights each."""
    assert len(minima()) == 3 * 72


@pytest.mark.parametrize("cost_loss", EXPECTED)
def test_the_exact_rule_is_worth_what_an_independent_count_gives(cost_loss: float) -> None:
    """Within 0.03 of the independent value, POD and FAR, and 0.04 of the best value.

    We try every threshold that parts the nights, so that our best lies a little higher.
    """
    events = minima() <= 0
    tables = [contingency(events, chances(seed), cost_loss) for seed in range(SEEDS)]
    pooled = Contingency(
        *(
            sum(getattr(table, part) for table in tables)
            for part in ("hits", "false_alarms", "misses", "correct_negatives")
        )
    )
    best = np.mean([best_threshold(events, chances(seed), cost_loss)[1] for seed in range(SEEDS)])
    value, best_value, pod, far = EXPECTED[cost_loss]
    found = (relative_value(pooled, cost_loss), pooled.pod, pooled.far)
    assert found == pytest.approx((value, pod, far), abs=0.03)
    assert best == pytest.approx(best_value, abs=0.04)


def test_the_best_threshold_beats_every_other() -> None:
    """Against a plain search over a hundred thresholds, for one seed."""
    events, seen = minima() <= 0, chances(7)
    threshold, value = best_threshold(events, seen, 0.15)
    others = [
        relative_value(contingency(events, seen, each), 0.15) for each in np.linspace(0, 0.99, 100)
    ]
    assert value >= max(others) - 1e-12
    assert value == pytest.approx(relative_value(contingency(events, seen, threshold), 0.15))


def test_value_is_counted_as_in_money() -> None:
    """10 events in 100: always acting costs 100 C, never 10 L; C is 1 and L is 20."""
    table = Contingency(hits=8, false_alarms=12, misses=2, correct_negatives=78)
    spent, never, perfect = 20 * 1 + 2 * 20, 10 * 20, 10 * 1
    always = 100 * 1
    value = (min(never, always) - spent) / (min(never, always) - perfect)
    assert relative_value(table, 1 / 20) == pytest.approx(value)
    assert economic_value(1 / 20, 0.8, 12 / 90, 0.1) == pytest.approx(value)


def test_without_an_event_no_value_can_be_told() -> None:
    """Nor where every case is one."""
    assert np.isnan(relative_value(Contingency(0, 3, 0, 9), 0.1))
    assert np.isnan(best_threshold([1, 1], [0.2, 0.4], 0.1)[1])
