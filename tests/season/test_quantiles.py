"""Quantiles of pooled days: gentle, ordered, honest about cases without an event."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.season.quantiles import smooth_quantiles

LEVELS = np.arange(0.05, 1.0, 0.05)
CASES = st.lists(st.floats(0, 365) | st.just(float("inf")), min_size=1, max_size=60)


@given(cases=CASES)
def test_quantiles_never_fall_along_the_levels(cases: list[float]) -> None:
    """A higher level is never an earlier day, and lies within the cases."""
    found = smooth_quantiles(cases, np.ones(len(cases)), LEVELS)
    finite = found[np.isfinite(found)]
    assert (np.diff(finite) >= -1e-6).all()
    assert np.isinf(found[len(finite) :]).all()
    if len(finite):
        assert finite[0] >= min(cases)
        assert finite[-1] <= max(case for case in cases if np.isfinite(case))


def test_a_share_of_cases_without_event_leaves_that_share_of_levels_empty() -> None:
    """With 3 of 10 cases never, levels of 70 % and more are infinite."""
    cases = [10.0] * 7 + [np.inf] * 3
    found = smooth_quantiles(cases, np.ones(10), LEVELS)
    assert np.isfinite(found).tolist() == [bool(level < 0.7 - 1e-9) for level in LEVELS]


def test_many_normal_cases_give_the_quantiles_of_the_normal_distribution() -> None:
    """10, 50 and 90 % of N(100, 10) are 87.18, 100 and 112.82 to within half a day."""
    shares = (np.arange(20_000) + 0.5) / 20_000
    cases = [NormalDist(100, 10).inv_cdf(share) for share in shares]
    found = smooth_quantiles(cases, np.ones(len(cases)), [0.1, 0.5, 0.9])
    assert found == pytest.approx([87.18, 100.0, 112.82], abs=0.5)


@given(cases=st.lists(st.floats(0, 365), min_size=20, max_size=60), by=st.floats(0, 60))
def test_one_case_moved_moves_the_median_by_little(cases: list[float], by: float) -> None:
    """Moving one of n cases by d days moves the median by at most 5 d / n days."""
    before = smooth_quantiles(cases, np.ones(len(cases)), [0.5])[0]
    moved = [cases[0] + by, *cases[1:]]
    after = smooth_quantiles(moved, np.ones(len(cases)), [0.5])[0]
    assert abs(after - before) <= 5 * by / len(cases) + 1e-6


def test_weights_count_as_repeated_cases() -> None:
    """A case of weight two counts as the case twice, in a batch as alone."""
    weighted = smooth_quantiles([[1.0, 9.0], [3.0, 4.0]], [2.0, 1.0], LEVELS)
    assert weighted[0] == pytest.approx(smooth_quantiles([1.0, 1.0, 9.0], np.ones(3), LEVELS))
    assert weighted.shape == (2, len(LEVELS))
