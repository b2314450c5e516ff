"""A provider with a hidden bias, looked at day by day: the garden finds it out and corrects it.

The bias of a replayed night's minimum is the hidden one and what its noise makes of
the lowest of many hours, some −0.3 °C. Errors of one night are like those of the
next (correlation e⁻¹), so a mean over 20 nights of one trial is uncertain by
1.6 · √((1 + 0.37)/(1 − 0.37)/20) = 0.53 °C; over 12 trials by 0.15 °C.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache

import numpy as np
import pytest

from mebuki.domain.lessons import ForecastLessons
from mebuki.domain.weather import Floats
from mebuki.rounds.forecast_memory import ForecastMemory
from mebuki.rounds.look import look
from mebuki.season.corrected_forecast import corrected
from mebuki.season.forecast_spread import spread_by_lead
from mebuki.season.night_minima import analysed_minima, night_forecasts, night_low
from mebuki.weather.replay import ReplaySource
from tests.weather.series import JFK, NEW_YORK, NEW_YORK_DAYS, utc

STARTS = (utc(2013, 1, 5, 17), utc(2013, 3, 1, 17), utc(2013, 9, 1, 16))
SEEDS = range(1, 5)
DAYS, LEARNED = 60, 41
"""Days of a trial, and the day by which the newest of forty nights is known."""


@dataclass(frozen=True, slots=True)
class Trial:
    """Errors of tonight's minimum day by day [K], as told and as corrected, and the lessons."""

    plain: Floats
    corrected: Floats
    spreads: Floats
    last: ForecastLessons


def a_trial(seed: int, start: datetime, bias: float, scale: float = 1.0) -> Trial:
    """Look at sixty days, learning as they go."""
    source = ReplaySource(JFK, NEW_YORK_DAYS, "New York", seed, bias=bias, scale=scale)
    past, nights = ForecastMemory(), dict[date, tuple[float, float, float]]()
    for day in range(DAYS):
        picture = look(source, NEW_YORK, start + timedelta(days=day), past, "home")
        on = picture.at.astimezone(NEW_YORK.zone).date()
        past.remember("home", night_forecasts(picture))
        better = corrected(picture, on)
        spread = spread_by_lead(better, on)[0]
        nights[on] = (night_low(picture, on), night_low(better, on), spread)
    assert picture.lessons is not None
    after = source.look(NEW_YORK, start + timedelta(days=DAYS + 2))
    truth = analysed_minima(after, after.at.date(), DAYS + 3)
    rows = [[*found, truth.get(on, np.nan)] for on, found in nights.items()]
    plain, moved, spreads, came = np.array(rows).T
    return Trial(plain - came, moved - came, spreads, picture.lessons)


@cache
def trials(bias: float) -> tuple[Trial, ...]:
    """Return the trials of all seeds and seasons."""
    return tuple(a_trial(seed, start, bias) for seed in SEEDS for start in STARTS)


def late(name: str, bias: float) -> Floats:
    """Return the known values of the nights after forty were learned, of all trials."""
    found = np.concatenate([getattr(trial, name)[LEARNED:] for trial in trials(bias)])
    return np.asarray(found[np.isfinite(found)])


def test_a_hidden_bias_is_all_but_gone_within_forty_nights() -> None:
    """1.2 °C too warm as told, less than 0.3 °C as corrected (91 % of it is learned)."""
    assert late("plain", 1.5).mean() > 1.0
    assert abs(late("corrected", 1.5).mean()) < 0.3


def test_what_is_learned_of_the_bias_is_nine_tenths_of_it() -> None:
    """The same errors with and without 1.5 °C: the lessons differ by 40/44 of it, within 0.1."""
    apart = [
        with_bias.last.bias[0] - without.last.bias[0]
        for with_bias, without in zip(trials(1.5), trials(0.0), strict=True)
    ]
    assert np.mean(apart) == pytest.approx(1.5 * 40 / 44, abs=0.1)


def test_without_a_hidden_bias_learning_does_no_harm() -> None:
    """The root mean square error does not grow, and the mean error does not either."""
    plain, moved = late("plain", 0.0), late("corrected", 0.0)
    assert abs(moved.mean()) <= abs(plain.mean()) + 0.05
    assert np.sqrt((moved**2).mean()) <= 1.03 * np.sqrt((plain**2).mean())


@pytest.mark.parametrize("bias", [0.0, 1.5])
def test_the_spread_becomes_that_of_the_errors(bias: float) -> None:
    """The table says 2.0; after forty nights it is what the errors show, 1.6, within 0.15."""
    first = [trial.spreads[0] for trial in trials(bias)]
    assert first == pytest.approx([2.0] * len(first))
    learned = late("spreads", bias).mean()
    assert learned == pytest.approx(late("corrected", bias).std(), abs=0.15)
    assert learned == pytest.approx(1.6, abs=0.15)


def test_a_provider_that_errs_more_is_believed_less() -> None:
    """Errors doubled for trials: the learned spread is twice as wide, within a tenth."""
    once, twice = a_trial(3, STARTS[1], 0.0), a_trial(3, STARTS[1], 0.0, scale=2.0)
    assert twice.last.spread[0] == pytest.approx(2 * once.last.spread[0], rel=0.1)
