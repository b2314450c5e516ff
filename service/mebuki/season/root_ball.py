"""Root-balls as stores of heat, and what acts on them: sizes, matter, surroundings.

The model that steps them through the hours is in `root_temperature`.

References
----------
Heat-transfer texts for the lumped model and its shape factors (from memory); de
Vries (1963) for the heat capacities of soil components (from memory). Defaults
that are our own are marked so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.site import Place
from mebuki.domain.tree import Pot, PotWall, Tree
from mebuki.domain.weather import Floats, HourlySeries
from mebuki.errors import RangeError
from mebuki.season.evaporation import wind_at_two_metres
from mebuki.season.local_time import bridged
from mebuki.season.parameters import PotFreezing
from mebuki.season.radiation import CLOUD_WEIGHT

SOLIDS, WATER = 0.30, 0.30
"""Volume shares of solids and water in a moist root-ball (default)."""

SOLID_CAPACITY, WATER_CAPACITY, ICE_CAPACITY = 2.0e6, 4.18e6, 1.93e6
"""Heat capacities [J m-3 K-1] (de Vries 1963, from memory)."""

FUSION = 334e6
"""Heat of fusion of water [J m-3]."""

SHIPPED = PotFreezing()
"""The figures as they are shipped.

Of the heat of fusion half counts: partly dry substrate, supercooling and salts, and
measured winters in which frozen and thawed containers fluctuated alike, all speak
against the full plateau. Late in freezing a radial model has the wall up to 0.6 K
colder than the shell formula, hence the correction.
"""

THAWED_CONDUCTIVITY, FROZEN_CONDUCTIVITY = 0.5, 0.8
"""Of moist substrate [W m-1 K-1] (from memory)."""

SHAPE_FACTOR = 0.5
"""Share of V/A that acts as inner resistance, for a cylinder or pot."""

RADIANT_TRANSFER = 4.4
"""Heat transfer by radiation near 0 °C [W m-2 K-1]."""

GROUND_TRANSFER = 5.0
"""Between pot and soil it stands on [W m-2 K-1] (default)."""

GROUND_DAYS, GROUND_WARMTH = 10, 1.5
"""Soil under pots follows the mean air of so many days, plus so many K (default)."""

SUN_FACTOR, SKY_FACTOR = 0.25, 0.25
"""Share of a pot's surface that faces the sun, and the open sky (default)."""

CLEAR_SKY_LOSS = 80.0
"""Net long-wave loss of a surface to a clear sky [W m-2], 60 to 100 (from memory)."""

UNKNOWN_WIND = 3.0
"""Wind at 10 m where none is known [m s-1] (default)."""

_ABSORBED: dict[PotWall, float] = {
    "unglazed": 0.65, "glazed-dark": 0.85, "glazed-pale": 0.3, "plastic-black": 0.9,
    "plastic-pale": 0.3, "wood": 0.6,
}  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class RootBalls:
    """Pots as the model sees them, one value a pot.

    Parameters
    ----------
    volume
        [m3].
    surface
        All faces in contact with air [m2].
    ground
        Faces in contact with the soil [m2]; 0 on a bench.
    insulation
        Thermal resistance round the pot [m2 K W-1].
    absorbed
        Share [0..1] of sun the wall takes up.
    """

    volume: Floats
    surface: Floats
    ground: Floats
    insulation: Floats
    absorbed: Floats

    def __post_init__(self) -> None:
        for name in ("volume", "surface"):
            if not np.all(getattr(self, name) > 0):
                msg = f"{name} of a root-ball must be above 0"
                raise RangeError(msg)
        for name in ("ground", "insulation", "absorbed"):
            if not np.all(getattr(self, name) >= 0):
                msg = f"{name} of a root-ball must not be negative"
                raise RangeError(msg)

    @classmethod
    def of(cls, trees: Sequence[Tree], place: Place) -> RootBalls:
        """Return the root-balls of trees that stand at one place."""
        pots = [tree.pot for tree in trees]
        return cls.around(pots, place.insulation, place.pot_on_ground)

    @classmethod
    def joined(cls, places: Sequence[RootBalls]) -> RootBalls:
        """Return the root-balls of several places, one place after the other."""
        columns = (
            np.concatenate([getattr(balls, each.name) for balls in places]) for each in fields(cls)
        )
        return cls(*columns)

    def repeated(self, times: int) -> RootBalls:
        """Return the same root-balls several times over, for members of an ensemble."""
        return RootBalls(*(np.tile(getattr(self, each.name), times) for each in fields(self)))

    @classmethod
    def around(cls, pots: Sequence[Pot], insulation: float, grounded: bool) -> RootBalls:
        """Return the root-balls of pots with one insulation [m2 K W-1], on soil or in the air."""
        top = np.array([pot.top_area for pot in pots])
        side = np.array([pot.side_area for pot in pots])
        return cls(
            volume=np.array([pot.volume for pot in pots]) / 1000,
            surface=top + side + (0 if grounded else top),
            ground=top * grounded,
            insulation=np.full(len(pots), insulation),
            absorbed=np.array([_ABSORBED[pot.wall] for pot in pots]),
        )

    def conductance(
        self, transfer: ArrayLike, conductivity: float, shape_factor: float = SHAPE_FACTOR
    ) -> Floats:
        """Return the transfer between core and air, U·A [W K-1].

        Parameters
        ----------
        transfer
            At the surface [W m-2 K-1].
        conductivity
            Of the substrate [W m-1 K-1].
        shape_factor
            Share of V/A that acts as inner resistance: 1/2 for a cylinder or pot, 1/3
            for a slab, 3/5 for a sphere.
        """
        inner = shape_factor * self.volume / self.surface / conductivity
        return np.asarray(self.surface / (1 / np.asarray(transfer) + self.insulation + inner))


@dataclass(frozen=True, slots=True)
class Matter:
    """What root-balls are made of.

    Parameters
    ----------
    solids, water
        Shares of the volume [0..1].
    latent_share
        Share [0..1] of the heat of fusion that counts.
    thawed_conductivity, frozen_conductivity
        [W m-1 K-1].
    wall_correction
        Taken off the wall temperature late in freezing [K].
    """

    solids: float = SOLIDS
    water: float = WATER
    latent_share: float = SHIPPED.latent_share
    thawed_conductivity: float = THAWED_CONDUCTIVITY
    frozen_conductivity: float = FROZEN_CONDUCTIVITY
    wall_correction: float = SHIPPED.wall_correction

    @classmethod
    def by(cls, figures: PotFreezing) -> Matter:
        """Return moist substrate with the figures of a practice file."""
        return cls(latent_share=figures.latent_share, wall_correction=figures.wall_correction)

    def __post_init__(self) -> None:
        if not (self.solids > 0 and self.water > 0 and self.solids + self.water <= 1):
            shares = f"solids {self.solids:g} and water {self.water:g}"
            msg = f"{shares} must each be above 0 and together at most 1"
            raise RangeError(msg)
        if not 0 < self.latent_share <= 1:
            msg = f"latent share {self.latent_share:g} is outside 0 to 1"
            raise RangeError(msg)

    @property
    def thawed(self) -> float:
        """Heat capacity above freezing [J m-3 K-1]."""
        return self.solids * SOLID_CAPACITY + self.water * WATER_CAPACITY

    @property
    def frozen(self) -> float:
        """Heat capacity below freezing [J m-3 K-1]."""
        return self.solids * SOLID_CAPACITY + self.water * ICE_CAPACITY

    @property
    def latent(self) -> float:
        """Heat that freezing gives off [J m-3]."""
        return self.water * FUSION * self.latent_share


MOIST = Matter()


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What acts on pots, hour by hour: shape (hours,) for a place, (pots, hours) for several.

    ``air`` and ``ground`` [°C], ``transfer`` at the surface [W m-2 K-1], ``sun``
    and ``sky_loss`` as fluxes on the whole surface per unit absorbed [W m-2].
    """

    air: Floats
    ground: Floats
    transfer: Floats
    sun: Floats
    sky_loss: Floats

    @classmethod
    def joined(cls, places: Sequence[tuple[Surroundings, int]]) -> Surroundings:
        """Return the surroundings of pots at several places, given with their counts of pots."""
        columns = (
            np.concatenate([np.tile(getattr(here, each.name), (n, 1)) for here, n in places])
            for each in fields(cls)
        )
        return cls(*columns)

    def between(self, first: int, stop: int) -> Surroundings:
        """Return a stretch of hours, by position."""
        return Surroundings(*(getattr(self, each.name)[..., first:stop] for each in fields(self)))


def surface_transfer(wind: Floats) -> Floats:
    """Return the heat transfer at a pot's surface [W m-2 K-1] for a wind there [m s-1].

    Radiation 4.4 plus convection 3.5 + 3.5 u (from memory): 8 in still air, 15 in
    a light wind, 25 on a windy bench.
    """
    return np.asarray(RADIANT_TRANSFER + 3.5 + 3.5 * wind)


def surroundings(here: HourlySeries, sky_share: float = 1.0) -> Surroundings:
    """Return what acts on pots at a place.

    Unknown wind is 3 m s-1 at 10 m, unknown sun none, unknown cloud a clear sky:
    each errs to the cold side.
    """
    air = bridged(here.air_temperature)
    wind = bridged(here.wind_speed)
    wind = wind_at_two_metres(np.where(np.isnan(wind), UNKNOWN_WIND, wind))
    sun = bridged(here.global_radiation)
    cloud = bridged(here.cloud_cover)
    loss = CLEAR_SKY_LOSS * (1 - CLOUD_WEIGHT * np.where(np.isnan(cloud), 0, cloud))
    return Surroundings(
        air=air,
        ground=ground_temperature(air),
        transfer=surface_transfer(wind),
        sun=SUN_FACTOR * np.where(np.isnan(sun), 0, sun),
        sky_loss=SKY_FACTOR * sky_share * loss,
    )


def ground_temperature(air: Floats) -> Floats:
    """Return the soil temperature under pots [°C]: the air's mean of ten days, plus 1.5 K."""
    known = np.isfinite(air)
    hours = GROUND_DAYS * 24
    sums = np.concatenate(([0.0], np.cumsum(np.where(known, air, 0))))
    counts = np.concatenate(([0], np.cumsum(known)))
    stop = np.arange(1, len(air) + 1)
    first = np.maximum(stop - hours, 0)
    count = counts[stop] - counts[first]
    mean = (sums[stop] - sums[first]) / np.maximum(count, 1)
    return np.asarray(np.where(count > 0, mean + GROUND_WARMTH, np.nan))
