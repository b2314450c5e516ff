"""The time constant of one's own pot, from a probe in it.

References
----------
First-order lag of a lumped body, any heat-transfer text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.tree import Tree
from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.evaporation import wind_at_two_metres
from mebuki.season.root_ball import (
    MOIST,
    SHAPE_FACTOR,
    UNKNOWN_WIND,
    Matter,
    RootBalls,
    surface_transfer,
)

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
    """Return root-balls that the model steps with fitted time constants.

    What a pot lags more than the model says is laid into its insulation. One that
    follows faster than a bare pot of its size holds less matter than its size says:
    it keeps no insulation and its volume is taken smaller.

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
    τ = C V / (U A), solved for the resistance, or for the volume.
    """
    wanted = np.asarray(hours, np.float64)
    if np.any(wanted <= 0):
        msg = f"a time constant must be above 0 h, not {wanted.min():g}"
        raise RangeError(msg)
    size = balls.volume / balls.surface
    skin = 1 / np.asarray(transfer, np.float64)
    depth = SHAPE_FACTOR / matter.thawed_conductivity
    seconds = wanted * 3600 / matter.thawed
    spare = seconds / size - skin - depth * size
    thin = (np.sqrt(skin**2 + 4 * depth * seconds) - skin) / (2 * depth)
    known = np.isfinite(wanted)
    return replace(
        balls,
        insulation=np.where(known, np.maximum(spare, 0), balls.insulation),
        volume=np.where(known & (spare < 0), thin * balls.surface, balls.volume),
    )


def with_probes(balls: RootBalls, trees: Sequence[Tree]) -> RootBalls:
    """Return root-balls with the time constants that the keepers' probes have told.

    A fitted constant is that of the pot bare, on a bench, in the usual wind; what the
    place wraps round the pot, and the soil it stands on, are added as for any pot.

    Parameters
    ----------
    balls
        Of the trees, as reckoned from their sizes at their place.
    trees
        In the same order.

    References
    ----------
    As for `with_time_constant`.
    """
    hours = np.array([tree.pot.time_constant_hours or np.nan for tree in trees])
    if np.isnan(hours).all():
        return balls
    top = np.array([tree.pot.top_area for tree in trees])
    airy = replace(
        balls,
        surface=np.where(balls.ground > 0, balls.surface + top, balls.surface),
        insulation=np.zeros(len(trees)),
    )
    fitted = with_time_constant(airy, hours, usual_transfer())
    return replace(balls, volume=fitted.volume, insulation=balls.insulation + fitted.insulation)


def usual_transfer() -> float:
    """Return the heat transfer [W m-2 K-1] in the wind that time constants are told for."""
    return float(surface_transfer(wind_at_two_metres(np.array([UNKNOWN_WIND])))[0])


def bare_constant(
    fitted: float, bare: RootBalls, wrapped: RootBalls, transfer: float, matter: Matter = MOIST
) -> float:
    """Return a fitted time constant [h] as that of the bare pot in the usual wind.

    Parameters
    ----------
    fitted
        Of the pot as it stood [h].
    bare
        The one pot without insulation, on a bench.
    wrapped
        The one pot as it stood.
    transfer
        Mean heat transfer at the surface in the hours of the fit [W m-2 K-1].
    matter
        What the root-ball is made of.

    Raises
    ------
    RangeError
        If the time constant is not above 0.

    References
    ----------
    τ = C V / (U A).
    """
    found = with_time_constant(wrapped, [fitted], transfer, matter)
    spare = np.maximum(found.insulation - wrapped.insulation, 0)
    pot = replace(bare, volume=found.volume, insulation=spare)
    across = pot.conductance(usual_transfer(), matter.thawed_conductivity)
    return float((matter.thawed * pot.volume / across)[0] / 3600)
