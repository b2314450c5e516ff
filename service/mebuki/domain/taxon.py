"""The shape of a taxon file: every value with its source, unknown written as unknown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from mebuki.domain.figure import Figure, Frozen, Phrase, Source


def _unknown_is_none(value: object) -> object:
    return None if value == "unknown" else value


MaybeFigure = Annotated[Figure | None, BeforeValidator(_unknown_is_none)]
"""A figure, or the word ``unknown``, which is never filled in by guessing."""

MaybePhrase = Annotated[Phrase | None, BeforeValidator(_unknown_is_none)]

Group = Literal[
    "deciduous-broadleaf", "deciduous-conifer", "evergreen-broadleaf", "needle-evergreen",
    "scale-juniper", "tropical",
]  # fmt: skip

RepotCue = Literal[
    "bud-swell", "spring-growth-start", "before-growth", "late-spring", "after-flowering",
    "warm-nights", "early-autumn", "late-summer", "none",
]  # fmt: skip

MaintenanceCode = Literal[
    "clip", "pinch", "decandle", "single-flush", "let-run-then-cut", "after-flowering",
]  # fmt: skip

StructuralWindow = Literal[
    "winter", "late-winter", "late-winter-to-spring", "spring-to-early-summer", "late-spring",
    "after-flowering", "early-summer", "summer", "early-autumn", "leaf-fall", "active-growth",
]  # fmt: skip
"""Parts of the year in which branches may be cut; `mebuki.rules.prune_windows` reckons them."""


class ThermalClock(Frozen):
    """The heat a stage needs.

    Parameters
    ----------
    cwtt
        Requirement F [°C d] of chill-weighted thermal time.
    sigdl
        Requirement F of sigmoid forcing from a day length, in its own units.
    sd_ln
        Standard deviation of ln F before any date of one's own.
    """

    cwtt: Figure
    sigdl: MaybeFigure = None
    sd_ln: Figure
    quality: str = ""


class StageFraction(Frozen):
    """When a stage comes, as a fraction of the requirement for bud break."""

    value: float = Field(gt=0, lt=10)
    low: float = Field(gt=0)
    high: float = Field(gt=0)
    source: str = Field(min_length=3)


ClockModel = Literal["menzel", "alternating", "thermal-time", "photothermal"]

CLOCK_PARAMETERS: Mapping[ClockModel, frozenset[str]] = {
    "menzel": frozenset({"chill_below", "base", "a", "b"}),
    "alternating": frozenset({"start_day", "chill_below", "base", "a", "b", "r"}),
    "thermal-time": frozenset({"start_day", "base", "requirement"}),
    "photothermal": frozenset({"start_day", "base", "exponent", "requirement"}),
}
"""The parameters each further clock of bud break takes; `mebuki.season.alternatives` explains."""


class AlternativeClock(Frozen):
    """A further published clock of bud break, shown beside the default ones."""

    model: ClockModel
    parameters: Mapping[str, float]
    source: Source
    note: str = ""

    @model_validator(mode="after")
    def _complete(self) -> AlternativeClock:
        needed = CLOCK_PARAMETERS[self.model]
        if set(self.parameters) != needed:
            msg = f"{self.model} takes exactly the parameters {', '.join(sorted(needed))}"
            raise ValueError(msg)
        return self


class Phenology(Frozen):
    """The clocks of one taxon."""

    bud_break: ThermalClock
    flowering: ThermalClock | None = None
    chill_class: Phrase
    photoperiod_sensitive: bool = False
    base_temperature: Figure
    swell: StageFraction | None = None
    first_open: StageFraction | None = None
    unfolded: StageFraction | None = None
    grown: StageFraction | None = None
    alternatives: tuple[AlternativeClock, ...] = ()


class Repotting(Frozen):
    """When and how far to repot."""

    cue: RepotCue
    cue_note: str = ""
    alternative: RepotCue = "none"
    alternative_note: str = ""
    years_young: Figure
    years_mature: Figure
    root_share_max: Figure


class Wiring(Frozen):
    """How long wire may stay; weeks count only while the tree grows."""

    first_check_weeks: Figure
    recheck_weeks: Figure
    months_min: Figure
    months_max: Figure
    metal: Phrase
    thickening: Literal["slow", "medium", "fast"]


class Hardiness(Frozen):
    """What cold does to roots, shoots and new growth [°C]."""

    root_alert: MaybeFigure = None
    root_kill: MaybeFigure = None
    root_kill_young: MaybeFigure = None
    root_relative: MaybeFigure = None
    shoot: MaybeFigure = None
    new_growth_damage: MaybeFigure = None
    new_growth_half_kill: MaybeFigure = None
    keep_above: MaybeFigure = None
    shelter: Phrase


class Upkeep(Frozen):
    """Water, sun, feed, pruning, deadwood and dangers, as the rules need them."""

    water_class: Literal["low", "medium", "high"]
    water_source: str
    sun: Phrase
    shade_above: MaybeFigure = None
    feed_start_weeks: MaybeFigure = None
    feed_stop_weeks: MaybeFigure = None
    feed_note: MaybePhrase = None
    structural_pruning: MaybePhrase = None
    structural_windows: tuple[StructuralWindow, ...] = ()
    maintenance_code: MaintenanceCode | None = None
    maintenance: MaybePhrase = None
    decandle_weeks: MaybeFigure = None
    defoliation: MaybePhrase = None
    deadwood: MaybePhrase = None
    pests: MaybePhrase = None
    toxicity: MaybePhrase = None


class Taxon(Frozen):
    """One taxon file.

    ``id`` is the scientific name in lower case with hyphens and equals the
    file's name. ``leafing_rank`` runs from 1, very early, to 9, very late,
    within one garden.
    """

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    scientific_name: str
    common_name: str
    includes: str = ""
    group: Group
    nearest_relative: str | None = None
    zone_min: MaybePhrase = None
    zone_max: MaybePhrase = None
    leafing_rank: MaybeFigure = None
    phenology: Phenology
    repotting: Repotting
    wiring: Wiring
    hardiness: Hardiness
    upkeep: Upkeep
    note: str = ""

    @property
    def deciduous(self) -> bool:
        """Whether the tree stands leafless in winter."""
        return self.group.startswith("deciduous")

    @property
    def evergreen(self) -> bool:
        """Whether the tree keeps its leaves in winter."""
        return not self.deciduous
