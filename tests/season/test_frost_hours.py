"""How long and how hard a night freezes buds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import RangeError
from mebuki.season.frost_hours import BudHarm, frost_hours
from mebuki.season.frost_thresholds import CriticalTemperature
from mebuki.season.night_formulas import cooling_curve
from mebuki.season.runs import hours_below, longest_run

BLOOM = CriticalTemperature(-2.22, -3.89, "apple, full bloom")


def test_hours_below_take_shares_of_an_hour() -> None:
    """From 1 to −1 and back: half an hour either side; a flat stretch counts whole."""
    assert hours_below([1.0, -1.0, 1.0], 0.0) == pytest.approx(1.0)
    assert hours_below([-1.0, -1.0, -1.0], 0.0) == pytest.approx(2.0)
    assert hours_below([1.0, 1.0], 1.0) == 0.0
    assert np.isnan(hours_below([1.0, np.nan, 1.0], 0.0))
    rows = hours_below([[0.0, -4.0], [0.0, 4.0]], np.array([-1.0, 1.0]))
    np.testing.assert_allclose(rows, [0.75, 0.25])


def test_the_longest_run_counts_hours_on_end() -> None:
    """Two and then three hours: three."""
    assert longest_run([True, True, False, True, True, True]) == 3
    assert longest_run([[False, False], [True, False]]).tolist() == [0, 1]


def test_hours_below_freezing_of_the_faos_cooling_curve() -> None:
    """Snyder and de Melo-Abreu (2005): 0.95 to −5.45 °C in 15 h, below 0 for 12.7 of 13 h."""
    curve = cooling_curve(0.95, -5.45, 15, np.arange(2, 15.01, 1))
    exact = 13 - 13 * (0.95 / 6.4) ** 2
    assert hours_below(curve, 0.0) == pytest.approx(exact, abs=0.25)


@pytest.mark.parametrize(
    ("lowest", "hours", "harm"),
    [(-1.0, 4, BudHarm.NONE), (-2.3, 1, BudHarm.SOME), (-2.4, 4, BudHarm.MANY),
     (-3.2, 1, BudHarm.MANY), (-4.2, 2, BudHarm.MOST)],
)  # fmt: skip
def test_severity_follows_cold_and_hours(lowest: float, hours: int, harm: BudHarm) -> None:
    """Apple in full bloom, 10 and 90 % at −2.22 and −3.89 °C in half an hour (Pennsylvania)."""
    leaf = [2.0, *[lowest] * (hours + 1), 2.0]
    assert frost_hours(leaf, BLOOM).severity == harm


def test_the_killed_share_is_that_of_the_coldest_half_hour() -> None:
    """Half an hour at first damage kills a tenth; a shorter dip less; unknown stays unknown."""
    assert frost_hours([-2.22, -2.22], BLOOM).killed == pytest.approx(0.1, abs=1e-6)
    dip = frost_hours([2.0, -2.22, 2.0], BLOOM)
    assert dip.coldest_half_hour == pytest.approx(-2.22 + 0.25 * 4.22)
    assert dip.killed < 0.1
    assert np.isnan(frost_hours([1.0, np.nan, -9.0], BLOOM).killed)
    assert frost_hours([5.0, 5.0], BLOOM).killed == 0
    with pytest.raises(RangeError, match="1 hours"):
        frost_hours([-3.0], BLOOM)


@given(st.lists(st.floats(-12, 5), min_size=2, max_size=19), st.floats(0, 5))
def test_a_colder_night_never_harms_less(leaf: list[float], colder: float) -> None:
    """Lowering every hour never lowers the share killed, the hours or the class."""
    mild, cold = frost_hours(leaf, BLOOM), frost_hours(np.array(leaf) - colder, BLOOM)
    assert cold.killed >= mild.killed - 1e-6
    assert cold.hours_first_damage >= mild.hours_first_damage - 1e-9
    assert cold.severity >= mild.severity
