"""The trade's rules as figures with their sources, and the material tables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import Field, model_validator

from mebuki.domain.figure import Figure, Frozen
from mebuki.domain.pest import PestCue


class Practice(Frozen):
    """The figures of ``practice.toml``, looked up as ``section.key``."""

    figures: Mapping[str, Figure]

    def figure(self, key: str) -> Figure:
        """Return a figure by its key such as ``repot.feed_pause_weeks``.

        Raises
        ------
        KeyError
            If the practice file has no such figure.
        """
        return self.figures[key]

    def value(self, key: str) -> float:
        """Return the number alone."""
        return self.figures[key].value


DENSITIES = (0.02, 3.0)
"""Densities [kg L-1] between dry moss and solid rock."""


def _possible(name: str, figure: Figure, low: float, high: float, unit: str = "") -> None:
    for value in (figure.value, figure.low, figure.high):
        if value is not None and not low < value <= high:
            msg = f"{name} {value:g} must be above {low:g} and at most {high:g}{unit}"
            raise ValueError(msg)


class Substrate(Frozen):
    """A substrate class or mix.

    Parameters
    ----------
    easily_available_water
        Water between 1 and 5 kPa suction as a share of pot volume.
    capacity
        Water held after drainage as a share of pot volume.
    """

    id: str
    name: str
    parts: Mapping[str, float] = Field(default_factory=dict)
    easily_available_water: Figure
    capacity: Figure
    wet_density: Figure

    @model_validator(mode="after")
    def _holds_what_can_be(self) -> Substrate:
        _possible("easily_available_water", self.easily_available_water, 0, 1)
        _possible("capacity", self.capacity, 0, 1)
        _possible("wet_density", self.wet_density, *DENSITIES, " kg/L")
        if self.easily_available_water.value > self.capacity.value:
            msg = (
                f"easily_available_water {self.easily_available_water.value:g} must not exceed "
                f"capacity {self.capacity.value:g}"
            )
            raise ValueError(msg)
        return self


class Material(Frozen):
    """What mixes are made of: densities [kg L-1] and water held, as a share of volume."""

    id: str
    name: str
    dry_density: Figure
    wet_density: Figure
    capacity: Figure

    @model_validator(mode="after")
    def _holds_what_can_be(self) -> Material:
        _possible("capacity", self.capacity, 0, 1)
        _possible("dry_density", self.dry_density, *DENSITIES, " kg/L")
        _possible("wet_density", self.wet_density, *DENSITIES, " kg/L")
        return self


class WireSize(Frozen):
    """Wire as it is sold."""

    label: str
    metal: Literal["aluminium", "copper"]
    diameter_mm: Figure
    mass_g_per_m: Figure


class CautionText(Frozen):
    """A safety text and who stands behind it."""

    id: str
    text: str
    authority: str


class Rulebook(Frozen):
    """Everything that was read from the rule folders."""

    practice: Practice
    substrates: Mapping[str, Substrate]
    cautions: Mapping[str, CautionText]
    materials: Mapping[str, Material] = Field(default_factory=dict)
    wire: tuple[WireSize, ...] = ()
    pests: Mapping[str, PestCue] = Field(default_factory=dict)
