"""Which figures of the practice file the water balance of a pot was reckoned with."""

from __future__ import annotations

from collections.abc import Mapping

from mebuki.domain.advice import Case, Reason
from mebuki.domain.taxon import Group
from mebuki.rules.risk import share_reason, span_reason

CROP: Mapping[Group, str] = {
    "deciduous-broadleaf": "water.crop_deciduous",
    "deciduous-conifer": "water.crop_deciduous",
    "evergreen-broadleaf": "water.crop_evergreen_broadleaf",
    "needle-evergreen": "water.crop_conifer",
    "scale-juniper": "water.crop_conifer",
    "tropical": "water.crop_evergreen_broadleaf",
}
"""The figure of a group in full leaf."""


def model_reasons(case: Case) -> tuple[Reason, ...]:
    """Return what the tree is taken to use, and which rain is counted."""
    practice, need = case.rulebook.practice, case.taxon.upkeep.water_class
    return (
        span_reason("crop coefficient in full leaf", practice.figure(CROP[case.taxon.group])),
        span_reason(f"taxon of {need} need, times", practice.figure(f"water.class_{need}")),
        share_reason("forecast rain counted", practice.figure("water.forecast_rain_share")),
        span_reason(
            "a day's forecast rain counts from", practice.figure("water.rain_minimum_mm"), "mm"
        ),
    )
