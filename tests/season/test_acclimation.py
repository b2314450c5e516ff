"""How hardening comes and goes over a season."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.season.acclimation import ROOTS_HARD, SHOOTS_HARD, hardening, share_below
from mebuki.season.seasons import season_days
from tests.season.clock_tables import noaa_extremes


def test_twenty_five_days_of_steady_chill_harden_fully() -> None:
    """24 h a day at 4 °C make 600 h in 25 days: 0.04 a day, for shoots and roots alike."""
    shoots, roots = hardening(np.full(40, 4.0), np.full(40, 4.0))
    assert shoots[:25] == pytest.approx(np.arange(1, 26) / 25)
    assert roots[24:] == pytest.approx(np.ones(16))


def test_without_chill_the_calendar_hardens_shoots_first() -> None:
    """In deep frost no hour counts as chill: shoots by 21 December, roots by mid-January."""
    shoots, roots = hardening(np.full(100, -10.0), np.full(100, -8.0))
    assert shoots[SHOOTS_HARD - 1] == pytest.approx(1.0)
    assert shoots[SHOOTS_HARD - 2] < 1.0
    assert roots[ROOTS_HARD - 1] == pytest.approx(1.0)
    assert (roots <= shoots).all()


def test_a_hundred_degree_days_after_midwinter_undo_it() -> None:
    """At a mean of 15 °C from midwinter on, ten days take all hardening away."""
    low = np.r_[np.full(ROOTS_HARD, 2.0), np.full(20, 10.0)]
    shoots, roots = hardening(low, np.r_[np.full(ROOTS_HARD, 2.0), np.full(20, 20.0)])
    assert roots[ROOTS_HARD - 1 : ROOTS_HARD + 11] == pytest.approx(
        [1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0, 0.0], abs=1e-9
    )
    assert np.array_equal(shoots[ROOTS_HARD:], roots[ROOTS_HARD:])


@given(mean=st.lists(st.floats(-30, 35), min_size=300, max_size=300), half=st.floats(0, 12))
def test_shares_stay_within_bounds_and_lose_only_after_midwinter(
    mean: list[float], half: float
) -> None:
    """Both shares lie in 0..1, rise until midwinter and never fall before it."""
    middle = np.array(mean)
    for share in hardening(middle - half, middle + half):
        assert (share >= 0).all()
        assert (share <= 1).all()
        assert (np.diff(share[:ROOTS_HARD]) >= -1e-12).all()


def test_a_measured_season_is_soft_in_autumn_hard_in_winter_and_soft_in_may() -> None:
    """New York 2012-13 (NOAA): little on 5 November, all on 1 February, nothing on 15 May."""
    start, extremes = noaa_extremes("New York")
    span = season_days(2013, False)
    _, roots = hardening(*extremes[:, span.start - start : span.stop - start])
    assert roots[4] < 0.25
    assert roots[92] > 0.9
    assert roots[195] == 0.0


def test_many_series_at_once_give_the_numbers_of_one() -> None:
    """A batch and single rows agree to the last bit."""
    rng = np.random.default_rng(7)
    low = rng.normal(3, 6, (4, 200))
    high = low + 8
    shoots, roots = hardening(low, high)
    for row in range(4):
        one = hardening(low[row], high[row])
        assert np.array_equal(one[0], shoots[row])
        assert np.array_equal(one[1], roots[row])


def test_the_share_of_a_day_below_a_bound_follows_a_sine() -> None:
    """Half of the day at the mean, all above the maximum, a third at half the amplitude below."""
    assert share_below(0.0, 10.0, [0.0, 2.5, 5.0, 10.0, 12.0]).tolist() == pytest.approx(
        [0.0, 1 / 3, 0.5, 1.0, 1.0]
    )
