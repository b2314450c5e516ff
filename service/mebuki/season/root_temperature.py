"""Temperature of root-balls in pots: a lumped enthalpy model with a freezing plateau.

Each root-ball exchanges heat with the air through its surface, with the ground
where it stands on it, and with sun and sky; between thawed and frozen it stays at
0 °C until its water has frozen. All pots of a place are stepped together; the
only loop is over the hours.

References
----------
Heat-transfer texts for the lumped model (from memory); checked against exact
series solutions and a one-dimensional radial model of freezing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from mebuki.domain.outlook import Night, RootNight
from mebuki.domain.weather import Floats, HourlySeries, Ints, hour_number
from mebuki.season.hardiness import RootLimit
from mebuki.season.root_ball import (
    GROUND_TRANSFER,
    MOIST,
    SHAPE_FACTOR,
    Matter,
    RootBalls,
    Surroundings,
    surroundings,
)

STEPS = 6
"""Steps in an hour; each is exact for a constant outside within one phase."""

WALL_CORRECTION = 0.5
"""Taken off the wall temperature late in freezing [K].

A radial model has the wall up to 0.6 K colder than the shell formula.
"""

SETTLING_HOURS = 12
"""Hours after a gap in the weather before a root-ball is known again (default)."""


@dataclass(frozen=True, slots=True, eq=False)
class RootBallTemperatures:
    """Mean and wall temperature [°C] and frozen share [0..1], shape (pots, hours).

    NaN where the air is unknown, and for 12 hours after.
    """

    start: int
    mean: Floats
    wall: Floats
    frozen_share: Floats


def root_ball(
    here: HourlySeries, balls: RootBalls, sky_share: float = 1.0, matter: Matter = MOIST
) -> RootBallTemperatures:
    """Return the temperatures of root-balls at a place.

    A root-ball starts at the first known air temperature, frozen through if that
    is below 0 °C. Gaps of up to three hours are bridged; after a longer one it
    starts anew and is unknown for twelve hours more.

    Parameters
    ----------
    here
        Weather at the place; see `root_ball.surroundings` for unknown values.
    balls
        The pots.
    sky_share
        Share [0..1] of open sky at the place.
    matter
        What the root-balls are made of.

    Notes
    -----
    Predicts the mean; the core of a large pot lags behind it. Within 0.1 K of
    exact solutions for Biot numbers below 2.
    """
    return stepped(surroundings(here, sky_share), balls, here.start, matter)


def stepped(
    around: Surroundings, balls: RootBalls, start: int = 0, matter: Matter = MOIST
) -> RootBallTemperatures:
    """Return the temperatures of root-balls in given surroundings, hour by hour.

    The surroundings are one series for all pots, or one for each; an hour that
    is unknown for one pot is unknown for all.
    """
    shape = (len(balls.volume), around.air.shape[-1])
    found = RootBallTemperatures(start, *(np.full(shape, np.nan) for _ in range(3)))
    energy: Floats | None = None
    hidden = 0
    unknown = np.asarray(np.isnan(np.atleast_2d(around.air)).any(axis=0))
    for hour in range(shape[1]):
        if unknown[hour]:
            energy, hidden = None, SETTLING_HOURS if hidden or _seen(found, hour) else 0
            continue
        if energy is None:
            air = np.broadcast_to(around.air[..., hour], shape[0])
            energy = _energy_at(air, matter)
        else:
            energy = _hour(energy, around, hour, balls, matter)
            hidden = max(hidden - 1, 0)
        if not hidden:
            _note(found, hour, energy, _Outside.at(around, hour, balls), (balls, matter))
    return found


def _seen(found: RootBallTemperatures, hour: int) -> bool:
    return hour > 0 and bool(np.isfinite(found.mean[:, :hour]).any())


def _energy_at(temperature: Floats, matter: Matter) -> Floats:
    frozen = matter.frozen * temperature - matter.latent
    return np.where(temperature >= 0, matter.thawed * temperature, frozen)


@dataclass(frozen=True, slots=True)
class _Outside:
    """Sol-air temperature of each pot [°C], ground [°C] and surface transfer at a moment."""

    air: Floats
    ground: Floats
    transfer: Floats

    @classmethod
    def at(cls, around: Surroundings, hour: int, balls: RootBalls) -> _Outside:
        transfer = around.transfer[..., hour]
        gain = balls.absorbed * around.sun[..., hour] - 0.95 * around.sky_loss[..., hour]
        return cls(around.air[..., hour] + gain / transfer, around.ground[..., hour], transfer)


def _hour(
    energy: Floats, around: Surroundings, hour: int, balls: RootBalls, matter: Matter
) -> Floats:
    before, now = _Outside.at(around, hour - 1, balls), _Outside.at(around, hour, balls)
    thawed = balls.conductance(now.transfer, matter.thawed_conductivity)
    frozen = balls.conductance(now.transfer, matter.frozen_conductivity)
    for step in range(STEPS):
        air = before.air + (now.air - before.air) * (step + 0.5) / STEPS
        # a shell that grows lets heat through as ice does, one that melts as wet substrate
        shell = np.where(air < 0, frozen, thawed)
        flows = [_Flow.through(inner, air, now.ground, balls) for inner in (thawed, frozen, shell)]
        energy = _advance(energy, flows[0], flows[1], flows[2], matter)
    return energy


@dataclass(frozen=True, slots=True)
class _Flow:
    """Where a pot's temperature tends [°C], and the heat it takes a step and kelvin [J m-3 K-1]."""

    target: Floats
    exchange: Floats

    @classmethod
    def through(cls, inner: Floats, air: Floats, ground: Floats, balls: RootBalls) -> _Flow:
        soil = GROUND_TRANSFER * balls.ground
        total = inner + soil
        return cls((inner * air + soil * ground) / total, total / balls.volume * 3600 / STEPS)

    def approach(self, energy: Floats, capacity: float) -> Floats:
        """Return the energy [J m-3] above that at 0 °C after a step within one phase."""
        share = 1 - np.exp(-self.exchange / capacity)
        return np.asarray(energy + (capacity * self.target - energy) * share)


def _advance(energy: Floats, thawed: _Flow, frozen: _Flow, shell: _Flow, matter: Matter) -> Floats:
    """Return the energy [J m-3] of each pot after a step, whatever its phase.

    A step never leaves a phase further than the phase entered allows, so that a
    colder pot or colder air never ends warmer.
    """
    latent, nothing = matter.latent, np.zeros_like(energy)
    if_thawed = thawed.approach(energy, matter.thawed)
    melting = energy + shell.exchange * shell.target
    melting = np.minimum(melting, np.maximum(thawed.approach(nothing, matter.thawed), 0))
    melting = np.maximum(melting, np.minimum(frozen.approach(nothing, matter.frozen), 0) - latent)
    if_frozen = frozen.approach(energy + latent, matter.frozen) - latent
    if_frozen = np.minimum(if_frozen, np.maximum(shell.exchange * shell.target, 0) - latent)
    below = np.where(energy <= -latent, if_frozen, melting)
    return np.asarray(np.where(energy >= 0, if_thawed, below))


def _note(
    found: RootBallTemperatures,
    hour: int,
    energy: Floats,
    outside: _Outside,
    pots: tuple[RootBalls, Matter],
) -> None:
    balls, matter = pots
    share = np.clip(-energy / matter.latent, 0, 1)
    mean = np.where(energy >= 0, energy / matter.thawed, 0.0)
    mean = np.where(share >= 1, (energy + matter.latent) / matter.frozen, mean)
    found.mean[:, hour] = mean
    found.frozen_share[:, hour] = share
    found.wall[:, hour] = _wall(mean, share, outside, balls, matter)


def _wall(
    mean: Floats, share: Floats, outside: _Outside, balls: RootBalls, matter: Matter
) -> Floats:
    size = balls.volume / balls.surface
    skin = 1 / outside.transfer + balls.insulation
    shell = 2 * size * (1 - np.sqrt(1 - share)) / matter.frozen_conductivity
    freezing = (share > 0) & (outside.air < mean)
    inner = np.where(freezing, shell, SHAPE_FACTOR * size / matter.thawed_conductivity)
    wall = outside.air + (mean - outside.air) * skin / (skin + inner)
    corrected = np.maximum(wall - WALL_CORRECTION * share, outside.air)
    return np.where(freezing, corrected, wall)


def root_nights(
    temperatures: RootBallTemperatures, limits: Sequence[RootLimit], nights: Sequence[Night]
) -> tuple[tuple[RootNight, ...], ...]:
    """Return the coming nights of the root-balls, a tuple for each pot.

    A night with an unknown hour is left out. ``hours_below`` is the longest
    unbroken stretch at or below the limit of mature roots.

    Parameters
    ----------
    temperatures
        From `root_ball`.
    limits
        One for each pot.
    nights
        From `frost.coming_nights` at the same place.
    """
    mature = np.array([limit.mature for limit in limits])
    found: list[list[RootNight]] = [[] for _ in limits]
    for night in nights:
        first = hour_number(night.begins) - temperatures.start
        span = slice(max(first, 0), hour_number(night.ends) - temperatures.start + 1)
        mean, wall = temperatures.mean[:, span], temperatures.wall[:, span]
        if first < 0 or not mean.shape[1]:
            continue
        lowest, hours = mean.min(axis=1), _longest(mean <= mature[:, None])
        coldest, frozen = wall.min(axis=1), temperatures.frozen_share[:, span].max(axis=1)
        for pot, limit in enumerate(limits):
            if np.isnan(lowest[pot]):
                continue
            found[pot].append(
                RootNight(
                    evening=night.evening,
                    mean_minimum=float(lowest[pot]),
                    wall_minimum=float(coldest[pot]),
                    spread=night.spread,
                    frozen_share=float(frozen[pot]),
                    limit=limit.mature,
                    hours_below=int(hours[pot]),
                    lead_days=night.lead_days,
                    limit_source=limit.source,
                )
            )
    return tuple(tuple(nights_of_pot) for nights_of_pot in found)


def _longest(below: np.ndarray) -> Ints:
    run = np.zeros(below.shape[0], dtype=np.int64)
    longest = run.copy()
    for hour in range(below.shape[1]):
        run = np.where(below[:, hour], run + 1, 0)
        longest = np.maximum(longest, run)
    return longest
