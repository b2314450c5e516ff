"""What a garden's thermometer teaches: against a synthetic fit, and the laws of shrinkage."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.decision import SPREAD_BY_LEAD
from mebuki.season.frost import coming_nights
from mebuki.season.site_learning import (
    HOLLOW,
    NightPairs,
    PastForecast,
    SiteOffset,
    errors_by_lead,
    learn_offset,
    learn_spread,
    minimum_readings,
    paired,
)
from tests.builders import a_place, a_record, a_site, a_tree
from tests.published_tables import PUBLISHED
from tests.season.hourly_weather import a_daily_wave, some_hours

ON = date(2013, 4, 1)


def example() -> dict[str, Any]:
    """Return the published synthetic regression: 60 pairs of true −1.2 + 0.95 f, σ 1.6."""
    text = (PUBLISHED / "probability_checks.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)["offset_regression_example"]
    return found


def nights(count: int, first: int = 1) -> list[int]:
    """Return the ordinals of so many nights before the day of the tests, newest first."""
    return [ON.toordinal() - ahead for ahead in range(first, first + count)]


def test_the_synthetic_fit_is_found_behind_the_shrinkage() -> None:
    """Sixty computed pairs: a −1.226 and b 0.891 to 5e-4 (inputs are rounded), shrinkage undone."""
    case = example()
    found = learn_offset(NightPairs(nights(60), case["forecast"], case["observed"]), ON)
    keep = 60 / 68
    assert found.nights == 60
    assert found.constant / keep == pytest.approx(case["fit"]["a"], abs=5e-4)
    assert (found.slope - (1 - keep)) / keep == pytest.approx(case["fit"]["b"], abs=5e-4)


def test_the_synthetic_errors_shrink_as_published() -> None:
    """Mean absolute error 1.79 raw, 1.43 corrected: within 0.03 with shrinkage."""
    case = example()
    forecast, observed = np.array(case["forecast"]), np.array(case["observed"])
    assert np.abs(observed - forecast).mean() == pytest.approx(case["raw_mae"], abs=5e-4)
    found = learn_offset(NightPairs(nights(60), forecast, observed), ON)
    corrected = np.abs(observed - found.at(forecast)).mean()
    assert corrected == pytest.approx(case["corr_mae"], abs=0.03)


def test_few_nights_leave_the_prior() -> None:
    """Four nights of −3 K change nothing; a hollow starts at −1 K."""
    four = NightPairs(nights(4), np.zeros(4), np.full(4, -3.0))
    assert learn_offset(four, ON) == SiteOffset(0.0, 1.0, 0.0, 0)
    assert learn_offset(four, ON, HOLLOW).at(2.0) == 1.0


def test_the_mean_difference_is_shrunk_as_if_the_prior_were_eight_nights() -> None:
    """Eight nights of −3 K and a prior of −1 K meet half way, at −2 K."""
    pairs = NightPairs(nights(8), np.zeros(8), np.full(8, -3.0))
    assert learn_offset(pairs, ON, HOLLOW).constant == pytest.approx(-2.0)


def test_old_gross_and_unknown_nights_do_not_count() -> None:
    """More than 90 days ago, more than 8 K off, NaN, or the running night itself."""
    evenings = [*nights(6), *nights(3, first=91), *nights(1, first=20), *nights(1, first=21),
                ON.toordinal()]  # fmt: skip
    observed = [-2.0] * 6 + [7.0] * 3 + [-9.0, np.nan, 7.0]
    found = learn_offset(NightPairs(evenings, np.zeros(12), observed), ON)
    assert found.nights == 6
    assert found.constant == pytest.approx(-2 * 6 / 14)


def test_clear_calm_nights_get_a_term_of_their_own_from_fifteen() -> None:
    """Clear nights 3 K colder, others true: found when there are 15 of them, not with 14."""
    for clear_nights, expected in ((14, 0.0), (15, -3.0)):
        clear = np.array([1.0] * clear_nights + [0.0] * 10)
        size = len(clear)
        found = learn_offset(NightPairs(nights(size), np.zeros(size), -3 * clear, clear), ON)
        assert found.clear_calm / (size / (size + 8)) == pytest.approx(expected)
    assert found.at(0.0, 1.0) < found.at(0.0, 0.0) - 2


@given(st.integers(5, 80), st.floats(-6, 6), st.floats(-3, 3))
def test_the_offset_lies_between_the_prior_and_what_was_seen(
    count: int, seen: float, prior: float
) -> None:
    """With more nights it moves from the prior to the nights, and never past either."""
    zeros = np.zeros(count)
    found = learn_offset(NightPairs(nights(count), zeros, zeros + seen), ON, prior).at(0.0)
    assert min(seen, prior) - 1e-9 <= found <= max(seen, prior) + 1e-9


def test_past_forecasts_are_held_against_later_analyses_by_lead() -> None:
    """Observed minus forecast; nights not analysed, of today, or grossly off are left out."""
    day = date(2013, 3, 20)
    forecasts = [
        PastForecast(day, 0, 1.0), PastForecast(day, 3, 4.0),
        PastForecast(day + timedelta(1), 0, 0.0), PastForecast(ON, 0, 5.0),
        PastForecast(day + timedelta(2), 0, 20.0),
    ]  # fmt: skip
    analysed = {day: 0.5, ON: 9.0, day + timedelta(2): 0.0}
    found = errors_by_lead(forecasts, analysed, ON)
    assert {lead: errors.tolist() for lead, errors in found.items()} == {0: [-0.5], 3: [-3.5]}


def test_readings_meet_the_forecasts_of_their_nights() -> None:
    """A morning's reading belongs to the evening before; only forecasts of the day count."""
    trees = [
        a_tree("A", records=[a_record("minimum-read", "2013-03-21", amount=-2.0)]),
        a_tree("B", records=[a_record("minimum-read", "2013-03-21", amount=-2.5),
                             a_record("minimum-read", "2013-03-25", amount=1.0),
                             a_record("watered", "2013-03-21")]),
    ]  # fmt: skip
    day = date(2013, 3, 20)
    readings = minimum_readings(trees)
    assert readings == {day: -2.5, date(2013, 3, 24): 1.0}
    forecasts = [PastForecast(day, 0, -1.0), PastForecast(day, 3, 4.0)]
    found = paired(forecasts, readings, {day: True})
    assert (np.asarray(found.forecast).tolist(), np.asarray(found.observed).tolist()) == (
        [-1.0], [-2.5],
    )  # fmt: skip
    assert np.asarray(found.clear_calm).tolist() == [1.0]
    assert learn_offset(paired([], {}), ON).nights == 0


def test_the_spread_is_all_its_own_from_forty_pairs() -> None:
    """Gaussian errors of 1.5 K and a bias of −1: 1.5 within 0.15, the bias not counted."""
    errors = np.random.default_rng(3).normal(-1.0, 1.5, 400)
    found = learn_spread({0: errors})
    assert found[0] == pytest.approx(1.5, abs=0.15)
    assert found[1:] == SPREAD_BY_LEAD[1:]


def test_the_spread_moves_from_the_prior_as_pairs_come() -> None:
    """None, four, twenty and forty pairs of ±1 K: 2.0, 2.0, between, and 1.2533."""
    found = [learn_spread({0: np.resize([1.0, -1.0], size)})[0] for size in (0, 4, 20, 40)]
    half = np.sqrt(0.5 * 1.2533**2 + 0.5 * 4)
    assert found == pytest.approx([2.0, 2.0, half, 1.2533], abs=1e-3)


@given(st.lists(st.lists(st.floats(-8, 8), max_size=60), min_size=7, max_size=7))
def test_a_further_night_is_never_surer_than_a_nearer_one(errors: list[list[float]]) -> None:
    """Whatever was seen, the spread never falls with the lead."""
    found = learn_spread(dict(enumerate(errors)))
    assert len(found) == 7
    assert (np.diff(found) >= 0).all()


def test_a_learned_spread_reaches_the_nights() -> None:
    """Tonight's spread is the first of the learned ones."""
    learned = learn_spread({0: np.resize([1.0, -1.0], 40)})
    here = some_hours(f"{ON}T00", a_daily_wave(4, 3, 5), cloud_cover=0.0)
    found = coming_nights(here, a_site(longitude=0, time_zone="UTC"), a_place(), ON, learned)
    assert found.nights[0].spread == pytest.approx(1.2533, abs=1e-4)


def test_impossible_pairs_and_priors_are_refused() -> None:
    """Unequal lengths and a prior of 20 K."""
    with pytest.raises(RangeError, match="as many: 2, 1, 1"):
        learn_offset(NightPairs([1, 2], [0.0], [0.0]), ON)
    with pytest.raises(RangeError, match="prior offset 20"):
        learn_offset(NightPairs([1], [0.0], [0.0]), ON, 20)
