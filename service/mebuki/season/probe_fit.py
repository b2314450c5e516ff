"""The time constant of one's own pot, from a probe in it.

References
----------
First-order lag of a lumped body, any heat-transfer text.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.root_ball import MOIST, SHAPE_FACTOR, Matter, RootBalls

SHORTEST, LONGEST = 0.1, 72.0
"""Time constants [h] that are tried."""

FEWEST_HOURS = 24
"""Night hours that a fit needs (default)."""

LEAST_GAP = 1.0
"""How far air and probe must be apart in some hour [K] for the fit to mean anything (default)."""

ABOVE_FREEZING = 0.5
"""Readings below this [°C] may stand on the freezing plateau and do not count (default)."""

_STEPS = 400


@dataclass(frozen=True, slots=True)
class TimeConstant:
    """A fitted time constant [h], the range of fits nearly as good, and what it rests on.

    ``error`` is the root mean square [K] of the hourly steps; ``hours`` their number.
    """

    hours_constant: float
    low: float
    high: float
    error: float
    hours: int


def fit_time_constant(air: ArrayLike, probe: ArrayLike, sunless: ArrayLike = True) -> TimeConstant:
    """Return the time constant with which a probe in a pot follows the air.

    Each hour is stepped from the reading before it, under air that runs straight
    between full hours, for which the step is exact; the time constant with the
    least squares wins, and those within a likelihood of one standard deviation
    make the range.

    Parameters
    ----------
    air
        Temperature of the air at the pot at full hours [°C].
    probe
        Temperature in the root-ball [°C], the same hours.
    sunless
        Whether an hour is without sun: only steps between two such hours count.

    Raises
    ------
    RangeError
        If the series differ in length, or fewer than 24 night hours above 0.5 °C are
        known, or air and probe never part by 1 K.

    Notes
    -----
    Ground contact and a clear sky shift the temperature a pot tends to, and are not
    fitted: take windy or overcast nights and a pot on a bench.

    References
    ----------
    dT/dt = (T_air − T)/τ, solved for linear air.
    """
    outside, inside = np.asarray(air, np.float64), np.asarray(probe, np.float64)
    if outside.shape != inside.shape:
        msg = f"{outside.size} hours of air and {inside.size} of the probe: they must be as many"
        raise RangeError(msg)
    dark = np.broadcast_to(np.asarray(sunless, dtype=bool), outside.shape)
    good = dark & np.isfinite(outside) & (inside >= ABOVE_FREEZING)
    pair = good[:-1] & good[1:]
    before, now, first, last = (
        values[pair] for values in (outside[:-1], outside[1:], inside[:-1], inside[1:])
    )
    if len(first) < FEWEST_HOURS or np.abs(before - first).max() < LEAST_GAP:
        msg = (
            f"{len(first)} night hours above {ABOVE_FREEZING:g} °C: a fit needs {FEWEST_HOURS}, "
            f"and air and probe {LEAST_GAP:g} °C apart"
        )
        raise RangeError(msg)
    constants = np.geomspace(SHORTEST, LONGEST, _STEPS)
    squares = _squares(constants, before, now - before, (first, last))
    best = int(squares.argmin())
    # a likelihood ratio of one standard deviation, for Gaussian errors
    near = constants[squares <= squares[best] * (1 + 1 / len(first)) + 1e-12]
    return TimeConstant(
        hours_constant=float(constants[best]),
        low=float(near.min()),
        high=float(near.max()),
        error=float(np.sqrt(squares[best] / len(first))),
        hours=len(first),
    )


def _squares(
    constants: Floats, before: Floats, slope: Floats, probe: tuple[Floats, Floats]
) -> Floats:
    tau = constants[:, None]
    kept = np.exp(-1 / tau)
    stepped = before + slope - slope * tau + (probe[0] - before + slope * tau) * kept
    return np.asarray(((probe[1] - stepped) ** 2).sum(axis=1))


def with_time_constant(
    balls: RootBalls, hours: ArrayLike, transfer: ArrayLike, matter: Matter = MOIST
) -> RootBalls:
    """Return root-balls whose insulation gives them fitted time constants.

    What a pot lags more than the model says is laid into its insulation; a pot that
    follows faster than a bare one keeps none.

    Parameters
    ----------
    balls
        As reckoned from their sizes.
    hours
        Fitted time constants [h], one a pot; NaN leaves a pot as it is.
    transfer
        Heat transfer at the surface during the fit [W m-2 K-1], see
        `root_ball.surface_transfer`.
    matter
        What the root-balls are made of.

    Raises
    ------
    RangeError
        If a time constant is not above 0.

    References
    ----------
    τ = C V / (U A), solved for the resistance.
    """
    wanted = np.asarray(hours, np.float64)
    if np.any(wanted <= 0):
        msg = f"a time constant must be above 0 h, not {wanted.min():g}"
        raise RangeError(msg)
    size = balls.volume / balls.surface
    inner = SHAPE_FACTOR * size / matter.thawed_conductivity
    total = wanted * 3600 / (matter.thawed * size)
    fitted = np.maximum(total - 1 / np.asarray(transfer, np.float64) - inner, 0)
    return replace(balls, insulation=np.where(np.isnan(fitted), balls.insulation, fitted))
