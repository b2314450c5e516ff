"""Which nights harmed which trees, looked back at."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from mebuki.domain.garden import Garden
from mebuki.domain.weather import WeatherPicture
from mebuki.rounds.harm import tree_nights
from tests.builders import a_moment, a_record
from tests.rounds.trials import STATIONS, bench, rules, source

EVENINGS = [date(2013, 3, 10) + timedelta(days=number) for number in range(72)]


@pytest.fixture(scope="module")
def measured() -> WeatherPicture:
    """Return the spring at JFK as it was measured."""
    return source(STATIONS["JFK"], seed=1).look(bench().site, a_moment("2013-05-22", 16))


def test_roots_are_judged_at_zero_for_eight_weeks_after_repotting(
    measured: WeatherPicture,
) -> None:
    """Repotted on 10 March: until 5 May; its buds bear less cold from some day on."""
    elm = [n for n in tree_nights(bench(), rules(), measured, EVENINGS) if n.tree == "fresh-elm"]
    fresh = [n for n in elm if n.evening <= date(2013, 5, 5)]
    assert {night.evening for night in fresh} == {e for e in EVENINGS if e <= date(2013, 5, 5)}
    assert {night.limit for night in fresh if night.evening < date(2013, 4, 1)} == {0.0}
    assert all(night.harmed == (night.lowest <= night.limit) for night in elm)
    assert all(night.limit < 0 for night in elm if night.evening > date(2013, 5, 5))


def test_buds_are_judged_by_their_stage_and_not_before_they_move(
    measured: WeatherPicture,
) -> None:
    """A maple bears less the further its buds are; dormant it is not judged at all."""
    winter = [date(2013, 1, 20), date(2013, 1, 21)]
    nights = tree_nights(bench(), rules(), measured, [*winter, *EVENINGS])
    maple = [night for night in nights if night.tree == "leafing-maple"]
    assert not any(night.evening in winter for night in maple)
    limits = [night.limit for night in maple]
    assert limits == sorted(limits)
    assert len(set(limits)) > 1


def test_a_reading_at_the_place_moves_what_its_nights_were(measured: WeatherPicture) -> None:
    """Twelve readings 3 °C below the station: colder nights, more of them harmful."""
    garden = bench()
    before = tree_nights(garden, rules(), measured, EVENINGS)
    colder = _read_colder(garden, measured, 3.0)
    after = tree_nights(colder, rules(), measured, EVENINGS)
    harmful = [sum(night.harmed for night in nights) for nights in (before, after)]
    assert harmful[1] > harmful[0]


def _read_colder(garden: Garden, measured: WeatherPicture, by: float) -> Garden:
    lows = {
        night.evening: night.lowest
        for night in tree_nights(garden, rules(), measured, EVENINGS)
        if night.tree == "fresh-elm" and night.limit == 0
    }
    readings = [
        a_record("minimum-read", evening + timedelta(days=1), amount=low - by)
        for evening, low in list(lows.items())[:12]
    ]
    elm = garden.trees[0]
    records = tuple(sorted((*elm.records, *readings), key=lambda record: record.on))
    changed = elm.model_copy(update={"records": records})
    return garden.model_copy(update={"trees": (changed, *garden.trees[1:])})


def test_no_evening_no_night(measured: WeatherPicture) -> None:
    """An empty season is judged as nothing."""
    assert tree_nights(bench(), rules(), measured, []) == ()
