"""The trial bench and the three measured springs on which notices are scored."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from functools import lru_cache
from pathlib import Path

from mebuki.domain.garden import Garden
from mebuki.rounds.cases import Rules
from mebuki.rounds.hindcast import Hindcast, Season, hindcast
from mebuki.rulebook import shipped_config
from mebuki.rulebook.garden import read_garden
from mebuki.rulebook.rules import read_rulebook
from mebuki.rulebook.taxa import read_taxa
from mebuki.weather.replay import ReplaySource
from tests.published_tables import PUBLISHED

DEMO = shipped_config() / "demo"
STATIONS = {
    "JFK": DEMO / "nyc_jfk_hourly_2013.csv",
    "EWR": PUBLISHED / "nyc_ewr_hourly_2013.csv",
    "LGA": PUBLISHED / "nyc_lga_hourly_2013.csv",
}
SPRING = Season(date(2013, 3, 10), date(2013, 5, 20))


@lru_cache(maxsize=1)
def rules() -> Rules:
    """Return the shipped rules."""
    return Rules(read_taxa(), read_rulebook())


@lru_cache(maxsize=1)
def bench() -> Garden:
    """Return the trial bench that is shipped."""
    known = rules()
    file = DEMO / "hindcast.garden.toml"
    return read_garden(file, known.taxa, substrates=known.rulebook.substrates)


def source(file: Path, seed: int, bias: float = 0.0) -> ReplaySource:
    """Return the replay of a measured series, with the season before it and past years."""
    days = DEMO / "noaa_seattle_newyork_daily_2012_2015.csv"
    return ReplaySource(file, days, location="New York", seed=seed, bias=bias)


def run(replay: ReplaySource, season: Season = SPRING, garden: Garden | None = None) -> Hindcast:
    """Return the hindcast of one season."""
    steps = hindcast(garden or bench(), rules(), replay, season)
    return next(step for step in steps if isinstance(step, Hindcast))


def springs(
    seeds: Iterable[int], stations: Iterable[str] = STATIONS, bias: float = 0.0
) -> list[Hindcast]:
    """Return the spring of each seed at each station, forty nights before having taught."""
    season = replace(SPRING, learning=40)
    return [
        run(source(STATIONS[station], seed, bias), season) for seed in seeds for station in stations
    ]
