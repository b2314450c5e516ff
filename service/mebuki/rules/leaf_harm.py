"""How long a night's frost lies on buds and leaves, and what is published on it, for rules."""

from __future__ import annotations

import math

from mebuki.domain.advice import Case, Reason, Severity
from mebuki.domain.outlook import Night
from mebuki.domain.wording import count_text, temperature_text
from mebuki.rules.risk import severity_of, span_reason
from mebuki.season.decision import LIKELY
from mebuki.season.frost_hours import EXPOSURE, BudHarm, FrostHours, frost_hours
from mebuki.season.frost_thresholds import BudStage, CriticalTemperature
from mebuki.season.leaf_studies import growth_range

RISING = (Severity.MINOR, Severity.MODERATE, Severity.SEVERE, Severity.EXTREME)
"""What is at stake, the least first."""


def leaf_frost(night: Night, limit: CriticalTemperature) -> FrostHours | None:
    """Return how long a night's frost lies on leaves; none where an hour is unknown."""
    if len(night.leaf_hours) <= 1 or any(math.isnan(hour) for hour in night.leaf_hours):
        return None
    return frost_hours(night.leaf_hours, limit)


def below_text(hours: float) -> str:
    """Return for how long something is below its limit, in words.

    >>> below_text(0.2), below_text(1.2), below_text(6.0), below_text(0.0)
    ('under half an hour below it', '1 hour below it', '6 hours below it', 'not below it')
    """
    if hours <= 0:
        return "not below it"
    if hours < EXPOSURE:
        return "under half an hour below it"
    return f"{count_text(max(round(hours), 1), 'hour')} below it"


def worse(severity: Severity) -> Severity:
    """Return the next class of severity; the worst stays."""
    return RISING[min(RISING.index(severity) + 1, len(RISING) - 1)]


def severity_by_hours(case: Case, chance: float, frost: FrostHours | None) -> Severity:
    """Return what is at stake on buds and leaves: by the chance, the tree and the hours.

    A dip of under half an hour is moderate however likely; a night that kills half of
    the buds, or lies on them for two hours, is a class worse than a short frost.
    """
    usual = severity_of(case, chance)
    if frost is None or chance < LIKELY:
        return usual
    harm = int(frost.severity)
    if harm == BudHarm.NONE:
        return min(usual, Severity.MODERATE, key=RISING.index)
    return worse(usual) if harm >= BudHarm.MANY else usual


def growth_reasons(
    case: Case, stage: BudStage, name: str, limit: CriticalTemperature
) -> tuple[Reason, ...]:
    """Return the limit of buds or leaves, and the range of what is published on it."""
    own = case.taxon.hardiness.new_growth_damage
    told = f"{name}, first damage"
    first = Reason(told, temperature_text(limit.ten_percent), limit.source)
    if own is not None and stage in (BudStage.UNFOLDING, BudStage.FLOWERING):
        first = span_reason(told, own, "°C")
    found = growth_range(case.taxon, stage)
    if found is None:
        return (first,)
    span = f"from {temperature_text(found.warmest)} to {temperature_text(found.coldest)}"
    return (first, Reason(f"what {found.what}", f"{span}, {found.why}", found.source))


def hours_reasons(frost: FrostHours | None) -> tuple[Reason, ...]:
    """Return for how long leaves are below their limit; nothing where it is unknown."""
    if frost is None:
        return ()
    hours = below_text(float(frost.hours_first_damage))
    return (Reason("leaves and their limit", hours, "energy balance, hour by hour"),)
