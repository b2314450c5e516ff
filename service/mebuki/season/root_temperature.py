"""Temperature of root-balls in pots: a lumped enthalpy model with a freezing plateau.

Each root-ball exchanges heat with the air through its surface, with the ground
where it stands on it, and with sun and sky; between thawed and frozen it stays at
0 °C until its water has frozen. All pots are stepped together, of whatever places
and members of an ensemble; the only loops are over hours and their parts.

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
from mebuki.domain.weather import Floats, HourlySeries, hour_number
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
from mebuki.season.runs import longest_run

STEPS = 6
"""Steps in an hour; each is exact for a constant outside within one phase."""

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

    The surroundings are one series for all pots, or one for each. An hour that is
    unknown for a pot makes that pot unknown, and no other.
    """
    pots, hours = len(balls.volume), around.air.shape[-1]
    # hours first, so that an hour lies together in memory
    found = [np.full((hours, pots), np.nan) for _ in range(3)]
    walk = _Walk(balls, matter)
    energy = np.full(pots, np.nan)
    hidden, seen = np.zeros(pots, dtype=np.int64), np.zeros(pots, dtype=bool)
    before: _Outside | None = None
    for hour in range(hours):
        now = _Outside.at(around, hour, balls)
        known = np.broadcast_to(np.isfinite(around.air[..., hour]), (pots,))
        running = np.isfinite(energy) & known
        if before is not None:
            energy = walk.hour(energy, before, now)
        energy = np.where(running, energy, walk.energy_at(around.air[..., hour]))
        hidden = np.where(running, np.maximum(hidden - 1, 0), hidden)
        hidden = np.where(known, hidden, np.where(seen, SETTLING_HOURS, 0))
        told = known & (hidden == 0)
        seen |= told
        for rows, values in zip(found, walk.temperatures(energy, now), strict=True):
            rows[hour] = np.where(told, values, np.nan)
        before = now
    return RootBallTemperatures(start, *(rows.T for rows in found))


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


@dataclass(frozen=True, slots=True)
class _Flow:
    """Heat through one phase for an hour of one wind: what a step of it does.

    The temperature tends to ``weight`` · air + ``rest`` [°C]; ``exchange`` is the
    heat a step takes up per kelvin [J m-3 K-1], ``kept`` the share [0..1] of a
    distance that is left after a step.
    """

    weight: Floats
    rest: Floats
    exchange: Floats
    kept: Floats

    @classmethod
    def through(cls, inner: Floats, ground: Floats, balls: RootBalls, capacity: float) -> _Flow:
        soil = GROUND_TRANSFER * balls.ground
        total = inner + soil
        exchange = total / balls.volume * (3600 / STEPS)
        return cls(inner / total, soil * ground / total, exchange, np.exp(-exchange / capacity))

    def target(self, air: Floats) -> Floats:
        """Return the temperature [°C] that the root-balls tend to."""
        return np.asarray(self.weight * air + self.rest)


@dataclass(frozen=True, slots=True)
class _Walk:
    """Root-balls stepped through the hours; what does not change is worked out once."""

    balls: RootBalls
    matter: Matter

    def energy_at(self, temperature: Floats) -> Floats:
        """Return the energy [J m-3] above thawed matter at 0 °C."""
        matter = self.matter
        frozen = matter.frozen * temperature - matter.latent
        return np.where(temperature >= 0, matter.thawed * temperature, frozen)

    def hour(self, energy: Floats, before: _Outside, now: _Outside) -> Floats:
        """Return the energy [J m-3] an hour later."""
        balls, matter = self.balls, self.matter
        wet = balls.conductance(now.transfer, matter.thawed_conductivity)
        ice = balls.conductance(now.transfer, matter.frozen_conductivity)
        thawed = _Flow.through(wet, now.ground, balls, matter.thawed)
        frozen = _Flow.through(ice, now.ground, balls, matter.frozen)
        rise = (now.air - before.air) / STEPS
        for step in range(STEPS):
            energy = self._step(energy, before.air + rise * (step + 0.5), thawed, frozen)
        return energy

    def _step(self, energy: Floats, air: Floats, thawed: _Flow, frozen: _Flow) -> Floats:
        """Return the energy [J m-3] of each pot after a step, whatever its phase.

        A step never leaves a phase further than the phase entered allows, so that a
        colder pot or colder air never ends warmer.
        """
        matter = self.matter
        warm = matter.thawed * thawed.target(air)
        if_thawed = warm + (energy - warm) * thawed.kept
        if not (energy < 0).any():
            return if_thawed
        target = frozen.target(air)
        cold = matter.frozen * target - matter.latent
        # a shell that grows lets heat through as ice does, one that melts as wet substrate
        wet = warm * (thawed.exchange / matter.thawed)
        heat = np.where(air < 0, frozen.exchange * target, wet)
        melting = np.minimum(energy + heat, np.maximum(warm * (1 - thawed.kept), 0))
        chilled = matter.frozen * target * (1 - frozen.kept)
        melting = np.maximum(melting, np.minimum(chilled, 0) - matter.latent)
        if_frozen = cold + (energy - cold) * frozen.kept
        if_frozen = np.minimum(if_frozen, np.maximum(heat, 0) - matter.latent)
        below = np.where(energy <= -matter.latent, if_frozen, melting)
        return np.asarray(np.where(energy >= 0, if_thawed, below))

    def temperatures(self, energy: Floats, outside: _Outside) -> tuple[Floats, Floats, Floats]:
        """Return mean and wall [°C] and frozen share [0..1]."""
        matter = self.matter
        if (energy >= 0).all():
            share, mean = np.zeros(len(energy)), energy / matter.thawed
        else:
            share = np.clip(-energy / matter.latent, 0, 1)
            mean = np.maximum(energy, 0) / matter.thawed
            mean = np.where(share >= 1, (energy + matter.latent) / matter.frozen, mean)
        return mean, self._wall(mean, share, outside), share

    def _wall(self, mean: Floats, share: Floats, outside: _Outside) -> Floats:
        balls, matter = self.balls, self.matter
        size = balls.volume / balls.surface
        skin = 1 / outside.transfer + balls.insulation
        still = SHAPE_FACTOR * size / matter.thawed_conductivity
        freezing = (share > 0) & (outside.air < mean)
        if not freezing.any():
            return np.asarray(outside.air + (mean - outside.air) * skin / (skin + still))
        shell = 2 * size * (1 - np.sqrt(1 - share)) / matter.frozen_conductivity
        inner = np.where(freezing, shell, still)
        wall = outside.air + (mean - outside.air) * skin / (skin + inner)
        corrected = np.maximum(wall - matter.wall_correction * share, outside.air)
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
        lowest, hours = mean.min(axis=1), longest_run(mean <= mature[:, None])
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
                    killing_coldest=limit.killing.coldest if limit.killing else None,
                    killing_warmest=limit.killing.warmest if limit.killing else None,
                    killing_source=limit.killing.source if limit.killing else "",
                )
            )
    return tuple(tuple(nights_of_pot) for nights_of_pot in found)
