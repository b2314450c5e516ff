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
from mebuki.season.site_learning import (
    HOLLOW,
    NightPairs,
    SiteOffset,
    learn_offset,
    minimum_readings,
    paired,
)
from tests.builders import a_record, a_tree
from tests.published_tables import PUBLISHED

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


def test_readings_meet_the_open_site_in_their_nights() -> None:
    """A morning's reading belongs to the evening before; nights of one alone do not count."""
    trees = [
        a_tree("A", records=[a_record("minimum-read", "2013-03-21", amount=-2.0)]),
        a_tree("B", records=[a_record("minimum-read", "2013-03-21", amount=-2.5),
                             a_record("minimum-read", "2013-03-25", amount=1.0),
                             a_record("watered", "2013-03-21")]),
    ]  # fmt: skip
    day = date(2013, 3, 20)
    readings = minimum_readings(trees)
    assert readings == {day: -2.5, date(2013, 3, 24): 1.0}
    found = paired({day: -1.0, day - timedelta(days=3): 4.0}, readings, {day: True})
    assert (np.asarray(found.forecast).tolist(), np.asarray(found.observed).tolist()) == (
        [-1.0], [-2.5],
    )  # fmt: skip
    assert np.asarray(found.clear_calm).tolist() == [1.0]
    assert learn_offset(paired({}, {}), ON).nights == 0


def test_impossible_pairs_and_priors_are_refused() -> None:
    """Unequal lengths and a prior of 20 K."""
    with pytest.raises(RangeError, match="as many: 2, 1, 1"):
        learn_offset(NightPairs([1, 2], [0.0], [0.0]), ON)
    with pytest.raises(RangeError, match="prior offset 20"):
        learn_offset(NightPairs([1], [0.0], [0.0]), ON, 20)
