"""Forecasts for a replay: the measured series seen through an error that grows with lead.

The error of a valid hour is one seeded sequence scaled by the spread at the
lead, so that it changes little from run to run, as in real forecasts; the
sequence turns into a second, independent one over ten days of lead, and each
run adds a little noise of its own. Beyond three days the forecast also draws
back towards the climate mean, since that is all a real one knows at last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mebuki.domain.weather import Floats, HourlySeries, Ints, Origin

RUN_EVERY = 6
"""Hours between two runs; rounds between them see the same forecast."""

HORIZON = 16 * 24
"""Furthest hour ahead [h]."""

SPREAD_LEADS = (0, 6, 18, 48, 96, 168, 240, 384)
SPREAD = (0.6, 1.0, 1.6, 2.0, 2.8, 3.8, 4.2, 4.3)
"""Standard deviation of the temperature error [°C] at these leads [h]."""

CLIMATE_LEADS = (72, 168, 240, 384)
KEPT_FROM_TRUTH = (1.0, 0.75, 0.4, 0.2)
"""Share of the departure from the climate mean that is still seen at these leads [h]."""

WEATHER_SPREAD = 4.2
"""Standard deviation of hours about the climate mean of a temperate place [°C]."""

TURNS_OVER = 240
"""Lead [h] at which the error has become another, independent one."""

MEMORY = 24
"""Hours after which the errors of two valid hours are alike by 1/e."""

RUN_NOISE = 0.15
"""Share of the error that is new in each run."""

MOST_RAIN, MOST_WIND, MOST_SUN = 200.0, 75.0, 1500.0
"""Limits that no perturbed value passes [mm in the hour, m s-1, W m-2]."""


@dataclass(frozen=True, slots=True, eq=False)
class Errors:
    """Seeded standard normal sequences over the valid hours of a series, one a column."""

    seed: int
    start: int
    near: Floats
    far: Floats
    dryness: Floats
    wind: Floats
    rain: Floats


def error_spread(lead: Ints | Floats) -> Floats:
    """Return the standard deviation of the temperature error [°C] at a lead [h]."""
    return np.asarray(np.interp(lead, SPREAD_LEADS, SPREAD))


def run_of(hour: int) -> int:
    """Return the hour number of the newest run at a nominal hour."""
    return hour - hour % RUN_EVERY


def draw_errors(seed: int, start: int, length: int) -> Errors:
    """Draw the error sequences for so many valid hours from a start (hour number); seed >= 0."""
    drawn = _with_memory(np.random.default_rng([seed, 1]).standard_normal((length, 5)))
    return Errors(seed, start, *drawn.T)


@dataclass(frozen=True, slots=True)
class Skill:
    """How the replayed provider errs beside its plain errors: for trials.

    Parameters
    ----------
    bias
        Added to the air temperature of every forecast hour [K].
    scale
        By which every error of the temperature but the bias is multiplied.
    """

    bias: float = 0.0
    scale: float = 1.0

    def of(self, temperature: Floats, truth: Floats) -> Floats:
        """Return what the provider says instead of a plain forecast of the truth [°C]."""
        if self.scale != 1:
            temperature = truth + self.scale * (temperature - truth)
        return temperature + self.bias


PLAIN = Skill()
"""No bias, and errors as designed."""


def forecast(
    truth: HourlySeries,
    climate_mean: Floats | None,
    errors: Errors,
    valid: tuple[int, int],
    run: int,
    skill: Skill = PLAIN,
) -> HourlySeries:
    """Return what a run would have said of the valid hours first <= hour < stop.

    Parameters
    ----------
    truth
        Without holes in temperature where a forecast is wanted.
    climate_mean
        Air temperature to draw back to [°C], on the axis of ``truth``; none
        where there are no past years (then the error alone grows).
    valid
        Hour numbers; clipped to the axis of ``truth``.
    run
        Hour number of the run; hours before it count as the first hour ahead.
    skill
        A bias, and a scale of the errors.
    """
    part = truth.between(*valid)
    lead = np.maximum(part.hours - run, 1).astype(np.float64)
    here = slice(part.start - errors.start, part.end - errors.start)
    turn = np.pi / 2 * np.minimum(lead / TURNS_OVER, 1)
    noise = _run_noise(errors.seed, run)[np.clip(part.hours - run, 0, HORIZON + RUN_EVERY)]
    own = np.cos(turn) * errors.near[here] + np.sin(turn) * errors.far[here]
    mixed = np.sqrt(1 - RUN_NOISE**2) * own + RUN_NOISE * noise
    kept = np.ones_like(lead)
    mean = np.zeros_like(lead)
    if climate_mean is not None:
        mean = climate_mean[part.start - truth.start : part.end - truth.start]
        kept = np.where(np.isfinite(mean), np.interp(lead, CLIMATE_LEADS, KEPT_FROM_TRUTH), 1.0)
        mean = np.nan_to_num(mean)
    spread = error_spread(lead)
    drawn_back = (1 - kept) * WEATHER_SPREAD
    scale = np.sqrt(np.maximum(spread**2 - drawn_back**2, (spread / 2) ** 2))
    temperature = mean + kept * (part.air_temperature - mean) + scale * mixed
    temperature = skill.of(temperature, part.air_temperature)
    growth = spread / SPREAD[-1]
    dryness = np.maximum(part.air_temperature - part.dew_point, 0)
    showers = np.exp(growth * errors.rain[here] - growth**2 / 2)
    cloud = part.cloud_cover + 0.3 * growth * errors.dryness[here]
    sun = part.global_radiation * np.exp(0.3 * growth * errors.dryness[here])
    wind = part.wind_speed * np.exp(0.4 * growth * errors.wind[here])
    there = np.isfinite(temperature)
    return HourlySeries(
        start=part.start,
        air_temperature=np.round(temperature, 2),
        dew_point=np.round(temperature - dryness * np.exp(0.5 * growth * errors.dryness[here]), 2),
        wind_speed=_within(wind, MOST_WIND),
        precipitation=_within(part.precipitation * showers, MOST_RAIN),
        snowfall=_within(part.snowfall * showers, MOST_RAIN),
        global_radiation=_within(sun, MOST_SUN),
        cloud_cover=_within(cloud, 1),
        origin=np.where(there, Origin.FORECAST, Origin.MISSING).astype(np.int8),
    )


def _run_noise(seed: int, run: int) -> Floats:
    drawn = np.random.default_rng([seed, 2, run % 2**32]).standard_normal(
        (HORIZON + RUN_EVERY + 1, 1)
    )
    return _with_memory(drawn)[:, 0]


def _within(values: Floats, most: float) -> Floats:
    return np.asarray(np.round(np.minimum(np.maximum(values, 0.0), most), 2))


def _with_memory(drawn: Floats) -> Floats:
    """Turn independent draws, one row an hour, into sequences of unit spread with memory."""
    memory = float(np.exp(-1 / MEMORY))
    fresh = float(np.sqrt(1 - memory**2))
    for hour in range(1, len(drawn)):
        drawn[hour] = memory * drawn[hour - 1] + fresh * drawn[hour]
    return drawn
