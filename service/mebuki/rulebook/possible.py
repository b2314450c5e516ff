"""Values of practice figures that no rule or model could use, told before one does."""

from __future__ import annotations

ABOVE_ZERO = frozenset(
    {
        "wire.bite_gap", "wire.ring_width_weak", "wire.ring_width_normal",
        "wire.ring_width_strong", "wire.copper_holding_factor", "wire.branch_share",
        "growth.span_deciduous_days", "growth.span_evergreen_days", "growth.span_conifer_days",
        "deadwood.widen_share_per_year", "winter.hardening_hours",
        "winter.softening_degree_days", "frost.notice_balanced", "pot.latent_heat_share",
        "water.leaf_ramp_days", "water.roots_one_year", "water.roots_bound", "water.class_low",
        "water.class_medium", "water.class_high",
    }
)  # fmt: skip
"""Figures that something is divided by, or that are a size."""

BEFORE_BUDS = (
    "growth.start_deciduous_days", "growth.start_evergreen_days", "growth.start_conifer_days",
)  # fmt: skip
"""Days counted from bud break, below 0 before it."""

LARGEST = 10_000.0
"""Beyond this no figure makes sense, and days of the calendar would run out."""

SHARES = ("threshold_", "notice_", "share", "roots_", "radiation_cloud")
"""What stands in the keys of figures from 0 to 1."""

AMOUNTS = (
    "days", "weeks", "months", "hours", "years", "share", "factor", "mass", "mm", "kpa", "above",
    "fast", "medium", "slow", "frost",
)  # fmt: skip
"""Last words of the keys of figures that are never below 0."""


def impossible(key: str, value: float) -> str | None:
    """Return what is allowed for a figure if its value cannot be; none if it can.

    Temperatures are not looked at: their rules hold for any.

    >>> impossible("repot.window_weeks", -1)
    'must not be below 0'
    >>> impossible("frost.bend_minimum", -4) is None
    True
    """
    name = key.split(".", maxsplit=1)[-1]
    if (key in ABOVE_ZERO or name.startswith("crop_")) and value <= 0:
        return "must be above 0"
    if abs(value) > LARGEST:
        return f"must not be beyond {LARGEST:g}"
    if any(word in name for word in SHARES) and not 0 <= value <= 1:
        return "is a share: must be from 0 to 1"
    amount = name.rsplit("_", maxsplit=1)[-1] in AMOUNTS and name != "hard_frost"
    if amount and key not in BEFORE_BUDS and value < 0:
        return "must not be below 0"
    return None
