"""Probability and decision: tables, laws, and what is unknown."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.decision import (
    SPREAD_BY_LEAD,
    act_above,
    economic_value,
    ensemble_probability_below,
    probability_below,
    raised,
    spread_at,
    spread_from_errors,
)
from tests.published_tables import PUBLISHED


def table(name: str) -> Any:
    """Return a check table in JSON."""
    return json.loads((PUBLISHED / name).read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", table("probability_checks.json")["prob"], ids=str)
def test_gaussian_probability(case: dict[str, float]) -> None:
    """Four forecasts of a minimum, to the four digits printed."""
    found = probability_below(case["threshold"], case["mu"], case["sigma"])
    assert found == pytest.approx(case["p"], abs=6e-5)


def test_economic_value_of_finleys_forecasts() -> None:
    """Richardson's relative value for six cost-loss ratios, exact."""
    finley = table("finley.json")
    scores = finley["scores"]
    for ratio, value in finley["value"].items():
        found = economic_value(float(ratio), scores["POD"], scores["POFD"], scores["base_rate"])
        assert found == pytest.approx(value, rel=1e-9)


@given(st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 6), st.floats(0, 10))
def test_probability_lies_in_bounds_and_rises_with_the_threshold(
    threshold: float, mean: float, spread: float, more: float
) -> None:
    """0 ≤ P ≤ 1, and a milder threshold is never less likely to be passed."""
    low = float(probability_below(threshold, mean, spread))
    high = float(probability_below(threshold + more, mean, spread))
    assert 0 <= low <= high <= 1


members = st.lists(st.floats(-20, 20), min_size=1, max_size=31)


@given(members, st.floats(-20, 20), st.floats(0, 10))
def test_ensemble_probability_is_never_certain(
    values: list[float], threshold: float, more: float
) -> None:
    """Members never give 0 or 1, and the probability rises with the threshold."""
    low = float(ensemble_probability_below(threshold, values))
    high = float(ensemble_probability_below(threshold + more, values))
    assert 0 < low <= high < 1


def test_ensemble_probability_counts_known_members_only() -> None:
    """(k+1/3)/(n+2/3): 2 of 4 known members below is 0.5; no member known is unknown."""
    assert ensemble_probability_below(0, [-1, -2, 1, 2, np.nan]) == pytest.approx(0.5)
    assert np.isnan(ensemble_probability_below(0, [np.nan, np.nan]))


def test_a_prized_tree_is_told_of_earlier_than_ordinary_stock() -> None:
    """The worth of the tree and the person's caution both lower the level."""
    cautious, few = 1 / 3, 2.0
    assert [act_above(worth) for worth in (0.05, 0.15, 0.30)] == [0.05, 0.15, 0.30]
    assert act_above(0.15, cautious) == pytest.approx(0.05)
    assert act_above(0.15, few) == pytest.approx(0.30)
    assert 0.01 <= act_above(0.05, cautious) <= 0.02


def test_what_is_likelier_than_not_is_told_at_every_level() -> None:
    """However few notices a person wants; a threshold that is higher by itself stays."""
    assert act_above(0.30, 2.0) == 0.5
    assert act_above(0.7, 2.0) == 0.7


@pytest.mark.parametrize(
    ("probability", "before", "stands"),
    [(0.16, False, True), (0.15, False, False), (0.10, True, True), (0.07, True, False),
     (0.10, False, False), (float("nan"), True, True), (float("nan"), False, False)],
)  # fmt: skip
def test_a_notice_does_not_flicker(probability: float, before: bool, stands: bool) -> None:
    """Raised above 15 %, cleared below 7.5 %; unknown changes nothing."""
    assert raised(probability, 0.15, before) is stands


def test_spread_grows_with_the_lead_and_holds_beyond_the_table() -> None:
    """Tonight takes the first value, the seventh day and later the last."""
    assert spread_at(0) == SPREAD_BY_LEAD[0]
    assert spread_at(6) == spread_at(12) == 4.0


def test_spread_comes_from_mean_absolute_errors() -> None:
    """σ = 1.2533 MAE for Gaussian errors."""
    assert spread_from_errors([1.0, -2.0, np.nan, 3.0]) == pytest.approx(2 * 1.2533, abs=1e-3)
    with pytest.raises(RangeError, match="no forecast error"):
        spread_from_errors([np.nan])


def test_no_spread_is_certainty_and_unknown_stays_unknown() -> None:
    """A spread of 0 decides by the mean; NaN is NaN; a negative spread is refused."""
    np.testing.assert_array_equal(probability_below(0, [-1.0, 1.0], 0.0), [1, 0])
    assert np.isnan(probability_below(0, np.nan, 2.0))
    assert np.isnan(probability_below(0, 1.0, np.nan))
    with pytest.raises(RangeError, match="spread -1"):
        probability_below(0, 1.0, -1.0)
