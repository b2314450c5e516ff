"""What past forecasts teach: prior, bias, spread, and how far a single night can move them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.lessons import LEADS, ForecastLessons, NightForecast
from mebuki.season.decision import SPREAD_BY_LEAD, spread_at
from mebuki.season.forecast_lessons import MEMORY_DAYS, NEWEST_NIGHTS, lessons_from

ON = date(2013, 4, 1)
TRUTH = 1.0
PRIOR_SPREADS = tuple(spread_at(lead, SPREAD_BY_LEAD) for lead in range(LEADS))


def taught(errors: Sequence[float], leads: Sequence[int] = (0,), newest: int = 1) -> list[
    NightForecast
]:  # fmt: skip
    """Return forecasts that erred so on the nights before the day, newest first, at each lead."""
    nights = [ON - timedelta(days=newest + back) for back in range(len(errors))]
    return [
        NightForecast(night, lead, TRUTH + error, _made(night, lead))
        for night, error in zip(nights, errors, strict=True)
        for lead in leads
    ]


def _made(night: date, lead: int) -> datetime:
    return datetime(night.year, night.month, night.day, 12, tzinfo=UTC) - timedelta(days=lead)


def lessons(forecasts: Sequence[NightForecast]) -> ForecastLessons:
    """Return what forecasts teach where every night came to 1 °C."""
    return lessons_from(forecasts, {each.night: TRUTH for each in forecasts}, ON)


@pytest.mark.parametrize("errors", [[], [5.0, 5.0, 5.0, 5.0]])
def test_few_nights_leave_the_prior(errors: list[float]) -> None:
    """None, or four that were far too warm: no bias, and the spreads of the table."""
    found = lessons(taught(errors, range(LEADS)))
    assert found.bias == (0.0,) * LEADS
    assert found.spread == pytest.approx(PRIOR_SPREADS)
    assert set(found.nights) == {len(errors)}


@pytest.mark.parametrize("bias", [1.5, -1.5])
def test_a_constant_bias_is_learned_to_nine_tenths_in_forty_nights(bias: float) -> None:
    """A prior of 1 K against errors of 2 K weighs four nights: 40/44 = 91 %, at every lead."""
    found = lessons(taught([bias] * 40, range(LEADS)))
    assert found.bias[0] == pytest.approx(bias * 40 / 44)
    assert min(abs(each) for each in found.bias) >= 0.9 * abs(bias)
    assert max(abs(each) for each in found.bias) <= abs(bias)


@pytest.mark.parametrize("seed", range(20))
def test_a_bias_is_found_among_errors_within_what_theory_allows(seed: int) -> None:
    """Independent errors of 1.6 K: 91 % of 1.5 °C within 3.5 standard errors of 1.6/√40 · 0.91."""
    errors = 1.5 + np.random.default_rng(seed).normal(0, 1.6, 40)
    error = 1.6 / np.sqrt(40) * 40 / 44
    assert lessons(taught(errors.tolist())).bias[0] == pytest.approx(1.5 * 40 / 44, abs=3.5 * error)


@pytest.mark.parametrize("seed", range(20))
def test_unbiased_forecasts_teach_next_to_no_bias(seed: int) -> None:
    """Independent errors of 1.6 K about nothing: within 3.5 standard errors, 0.8 °C, of it."""
    errors = np.random.default_rng(100 + seed).normal(0, 1.6, 40)
    assert abs(lessons(taught(errors.tolist())).bias[0]) < 3.5 * 1.6 / np.sqrt(40) * 40 / 44


def test_the_spread_becomes_the_garden_s_own() -> None:
    """Errors of 1.6 K: the mean of 200 gardens after forty nights is 1.6 within 0.05."""
    drawn = np.random.default_rng(5).normal(0, 1.6, (200, 40))
    found = [lessons(taught(errors.tolist())).spread[0] for errors in drawn]
    assert np.mean(found) == pytest.approx(1.6, abs=0.05)


def test_a_bias_that_appears_is_known_after_forty_nights_and_the_old_one_forgotten() -> None:
    """Twenty nights at −1 °C before forty at +1.5 °C: as if those had never been."""
    changed = [1.5] * 40 + [-1.0] * 19
    assert lessons(taught(changed)).bias == lessons(taught([1.5] * 40)).bias
    assert lessons(taught(changed)).nights[0] == NEWEST_NIGHTS


def test_old_nights_are_forgotten_and_the_running_one_is_not_known_yet() -> None:
    """Nights of more than sixty days ago, and tonight, teach nothing."""
    old = taught([3.0] * 10, newest=MEMORY_DAYS + 1)
    assert lessons(old).nights[0] == 0
    assert lessons(taught([3.0], newest=0)).nights[0] == 0


def test_near_nights_teach_far_ones_before_those_can_be_judged() -> None:
    """Lead 9 has no night of its own yet: it takes over what lead 0 to 3 have learned."""
    found = lessons(taught([1.5] * 40, range(4)))
    assert found.bias[9] == found.bias[3] >= 0.9 * 1.5
    assert found.nights[9] == 0
    assert found.spread[9] == PRIOR_SPREADS[9]


def test_leads_that_differ_are_told_apart() -> None:
    """From 1.5 °C too warm tonight to 0.9 °C too cold in six days: order and signs are found."""
    drifting = [each for lead in range(7) for each in taught([1.5 - 0.4 * lead] * 40, [lead])]
    found = lessons(drifting).bias
    assert found[0] > 1.3
    assert (np.diff(found[:7]) < 0).all()
    assert -0.9 < found[6] < 0


@given(st.floats(-500, 500))
def test_a_single_false_night_moves_a_bias_by_little(false: float) -> None:
    """Forty errors within 1 K, one made any size: clipped within 2.5 · 1.4826 K, /44: 0.11 °C."""
    errors = np.random.default_rng(2).uniform(-1, 1, 40).tolist()
    plain, moved = lessons(taught(errors)), lessons(taught([false, *errors[1:]]))
    assert abs(moved.bias[0] - plain.bias[0]) <= (1 + 2.5 * 1.4826 + 1) / 44
    assert moved.spread[0] <= plain.spread[0] + 0.2


@given(st.lists(st.floats(-8, 8), max_size=45))
def test_the_bias_lies_between_none_and_the_errors(errors: list[float]) -> None:
    """It never passes what was seen, nor turns away from it."""
    found = lessons(taught(errors)).bias[0]
    assert min([0.0, *errors]) - 1e-9 <= found <= max([0.0, *errors]) + 1e-9


@given(st.lists(st.lists(st.floats(-8, 8), max_size=45), min_size=8, max_size=8))
def test_a_further_night_is_never_surer_than_a_nearer_one(errors: list[list[float]]) -> None:
    """Whatever was seen, the spread never falls with the lead, and is never nothing to few."""
    found = lessons([each for lead, own in enumerate(errors) for each in taught(own, [lead])])
    assert (np.diff(found.spread) >= 0).all()
    assert len(found.spread) == len(found.bias) == LEADS


def test_of_a_night_and_lead_the_first_forecast_counts() -> None:
    """A second one of the same day, in whatever order they come, changes nothing."""
    first = taught([1.0] * 10)
    later = [
        replace(each, minimum=9.0, made_at=each.made_at + timedelta(hours=3)) for each in first
    ]
    assert lessons([*later, *first]) == lessons(first) == lessons([*first, *later])


def test_nights_without_an_analysis_or_a_number_are_left_out() -> None:
    """Thirty of forty nights are known, one forecast is no number: 29 count."""
    forecasts = taught([1.0] * 40)
    forecasts[0] = replace(forecasts[0], minimum=float("nan"))
    found = lessons_from(forecasts, {each.night: TRUTH for each in forecasts[:30]}, ON)
    assert found.nights[0] == 29
    assert found.bias[0] == pytest.approx(29 / 33)


def test_lessons_of_unequal_length_are_refused() -> None:
    """A bias without its spread."""
    with pytest.raises(ValueError, match="for each lead: 1, 0, 1"):
        ForecastLessons((1.0,), (), (1,))


def test_leads_beyond_the_ends_take_the_nearest() -> None:
    """The running night counts as tonight, a far one as the last."""
    found = ForecastLessons((1.0, 2.0), (3.0, 4.0), (5, 6))
    assert (found.bias_at(-1), found.bias_at(9)) == (1.0, 2.0)
    assert (found.spread_at(-1), found.spread_at(9)) == (3.0, 4.0)
