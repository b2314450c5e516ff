"""The figures of the practice file that the season's models stand on.

Each group has the shipped values as its defaults, for whoever calls a model without a
practice file; `Parameters.of` takes them from a practice file, where a person's own
file may have changed them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Self

from mebuki.domain.practice import Practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """A group of figures; ``sources`` says by name where each of them comes from."""

    sources: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)

    @classmethod
    def of(cls, practice: Practice) -> Self:
        """Return the group as a practice file has it.

        Raises
        ------
        KeyError
            If the practice file lacks one of the figures.
        """
        found = {
            each.name: practice.figure(each.metadata["key"])
            for each in fields(cls)
            if each.metadata
        }
        values = {name: figure.value for name, figure in found.items()}
        return cls(sources={name: figure.source for name, figure in found.items()}, **values)

    def source(self, name: str) -> str:
        """Return where a figure of this group comes from."""
        return self.sources.get(name, "default")


@dataclass(frozen=True, slots=True, kw_only=True)
class PotWater(Figures):
    """What fills and empties pots; units and meaning as in the practice file."""

    forecast_rain_share: float = field(default=0.5, metadata={"key": "water.forecast_rain_share"})
    rain_minimum_mm: float = field(default=2.0, metadata={"key": "water.rain_minimum_mm"})
    capture_factor: float = field(default=1.0, metadata={"key": "water.capture_factor"})
    interception: float = field(
        default=0.2, metadata={"key": "water.interception_mm_per_leaf_area"}
    )
    deciduous: float = field(default=0.9, metadata={"key": "water.crop_deciduous"})
    evergreen: float = field(default=0.8, metadata={"key": "water.crop_evergreen_broadleaf"})
    conifer: float = field(default=0.7, metadata={"key": "water.crop_conifer"})
    leafless: float = field(default=0.15, metadata={"key": "water.crop_leafless"})
    evergreen_winter: float = field(default=0.4, metadata={"key": "water.crop_evergreen_winter"})
    leaf_ramp_days: float = field(default=30.0, metadata={"key": "water.leaf_ramp_days"})
    under_canopy: float = field(default=0.3, metadata={"key": "water.soil_under_canopy"})
    bare_top: float = field(default=0.8, metadata={"key": "water.soil_bare"})
    roots_one_year: float = field(default=0.85, metadata={"key": "water.roots_one_year"})
    roots_bound: float = field(default=0.7, metadata={"key": "water.roots_bound"})
    low: float = field(default=0.6, metadata={"key": "water.class_low"})
    medium: float = field(default=0.8, metadata={"key": "water.class_medium"})
    high: float = field(default=1.0, metadata={"key": "water.class_high"})


@dataclass(frozen=True, slots=True, kw_only=True)
class RootCold(Figures):
    """How much cold roots take [°C], and what makes them take less."""

    unhardened: float = field(default=-2.0, metadata={"key": "winter.unhardened_limit"})
    margin: float = field(default=2.0, metadata={"key": "winter.class_margin"})
    extra: float = field(default=3.0, metadata={"key": "winter.extra_margin"})
    early_weeks: float = field(default=6.0, metadata={"key": "winter.early_winter_weeks"})
    repotted_months: float = field(default=12.0, metadata={"key": "winter.repotted_months"})
    tender: float = field(default=5.0, metadata={"key": "winter.class_tender_minimum"})
    a_mature: float = field(default=-5.0, metadata={"key": "winter.class_a_limit"})
    a_young: float = field(default=-3.0, metadata={"key": "winter.class_a_limit_young"})
    b_mature: float = field(default=-7.0, metadata={"key": "winter.class_b_limit"})
    b_young: float = field(default=-4.0, metadata={"key": "winter.class_b_limit_young"})
    c_mature: float = field(default=-12.0, metadata={"key": "winter.class_c_limit"})
    c_young: float = field(default=-7.0, metadata={"key": "winter.class_c_limit_young"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardening(Figures):
    """Cold that hardens, as hours, and warmth that softens, as degree days [°C d]."""

    hours: float = field(default=600.0, metadata={"key": "winter.hardening_hours"})
    degree_days: float = field(default=100.0, metadata={"key": "winter.softening_degree_days"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Thickening(Figures):
    """Days from bud break to a tenth of the year's ring, and from there to nine tenths."""

    deciduous_start: float = field(default=14.0, metadata={"key": "growth.start_deciduous_days"})
    deciduous_span: float = field(default=65.0, metadata={"key": "growth.span_deciduous_days"})
    evergreen_start: float = field(default=0.0, metadata={"key": "growth.start_evergreen_days"})
    evergreen_span: float = field(default=110.0, metadata={"key": "growth.span_evergreen_days"})
    conifer_start: float = field(default=-20.0, metadata={"key": "growth.start_conifer_days"})
    conifer_span: float = field(default=130.0, metadata={"key": "growth.span_conifer_days"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PotFreezing(Figures):
    """How far the heat of freezing holds a pot, and how much colder its wall is [K]."""

    latent_share: float = field(default=0.5, metadata={"key": "pot.latent_heat_share"})
    wall_correction: float = field(default=0.5, metadata={"key": "pot.wall_correction"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearNights(Figures):
    """Wind at 2 m [m s-1] and cloud [0..1] below which a frost is one of radiation."""

    wind: float = field(default=2.0, metadata={"key": "frost.radiation_wind"})
    cloud: float = field(default=0.4, metadata={"key": "frost.radiation_cloud"})


@dataclass(frozen=True, slots=True, kw_only=True)
class BudLimits(Figures):
    """Tissue temperatures [°C] at which damage begins where nothing is known of a taxon."""

    swelling: float = field(default=-7.0, metadata={"key": "frost.critical_swelling"})
    green_tip: float = field(default=-4.0, metadata={"key": "frost.critical_green_tip"})
    unfolding: float = field(default=-2.5, metadata={"key": "frost.critical_unfolding"})
    flowering: float = field(default=-2.0, metadata={"key": "frost.critical_soft_leaf"})


@dataclass(frozen=True, slots=True, kw_only=True)
class HardDayLimits(Figures):
    """Heat at the wall [°C] and dry air [kPa] from which a day is hard on a tree."""

    watch: float = field(default=35.0, metadata={"key": "heat.root_watch"})
    act: float = field(default=38.0, metadata={"key": "heat.root_act"})
    urgent: float = field(default=42.0, metadata={"key": "heat.root_urgent"})
    act_hours: float = field(default=2.0, metadata={"key": "heat.root_act_hours"})
    dry_air: float = field(default=3.0, metadata={"key": "heat.dry_air_kpa"})
    dry_air_fresh: float = field(default=2.2, metadata={"key": "heat.dry_air_kpa_fresh"})
    dry_hours: float = field(default=4.0, metadata={"key": "heat.dry_air_hours"})
    dry_wind: float = field(default=4.0, metadata={"key": "heat.dry_air_wind"})


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonLimits(Figures):
    """Air [°C] under which weeks of cold count, and night minimum from which nights are warm."""

    chill_below: float = field(default=4.4, metadata={"key": "winter.chill_below"})
    warm_night: float = field(default=15.0, metadata={"key": "repot.warm_night_minimum"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """All groups together."""

    water: PotWater = field(default_factory=PotWater)
    roots: RootCold = field(default_factory=RootCold)
    hardening: Hardening = field(default_factory=Hardening)
    thickening: Thickening = field(default_factory=Thickening)
    freezing: PotFreezing = field(default_factory=PotFreezing)
    nights: ClearNights = field(default_factory=ClearNights)
    days: HardDayLimits = field(default_factory=HardDayLimits)
    season: SeasonLimits = field(default_factory=SeasonLimits)

    @classmethod
    def of(cls, practice: Practice) -> Self:
        """Return all groups as a practice file has them; `KeyError` as for `Figures.of`."""
        return cls(
            water=PotWater.of(practice),
            roots=RootCold.of(practice),
            hardening=Hardening.of(practice),
            thickening=Thickening.of(practice),
            freezing=PotFreezing.of(practice),
            nights=ClearNights.of(practice),
            days=HardDayLimits.of(practice),
            season=SeasonLimits.of(practice),
        )
