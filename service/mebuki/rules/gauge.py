"""Which wire for which branch: a third as thick, in aluminium or in copper."""

from __future__ import annotations

import math
from collections.abc import Iterator

from mebuki.domain.advice import Case, Reason
from mebuki.domain.practice import WireSize
from mebuki.domain.wording import number_text
from mebuki.rules.risk import span_reason

TOO_THICK = 1.25
"""Wanted thickness over the thickest wire sold beyond which wire alone will not hold (default)."""

METRIC = "mm"
"""How the label of a wire in millimetres ends; gauges are named beside it."""


def gauge_reasons(case: Case, branch: float) -> tuple[Reason, ...]:
    """Return which wire suits a branch of a thickness [mm], with the practice behind it.

    The metal that the taxon file names comes first.
    """
    return tuple(_reasons(case, branch)) if branch > 0 else ()


def nearest(case: Case, metal: str, diameter: float) -> WireSize | None:
    """Return the wire of a metal whose thickness is nearest to a wanted one [mm], by ratio."""
    sizes = [each for each in case.rulebook.wire if each.metal == metal]
    metric = [each for each in sizes if each.label.endswith(METRIC)] or sizes
    return min(
        metric,
        key=lambda each: (abs(math.log(each.diameter_mm.value / diameter)), each.label),
        default=None,
    )


def _reasons(case: Case, branch: float) -> Iterator[Reason]:
    practice = case.rulebook.practice
    share = practice.figure("wire.branch_share")
    wanted = {
        "aluminium": branch * share.value,
        "copper": branch * share.value / practice.value("wire.copper_holding_factor"),
    }
    copper_first = "copper" in case.taxon.wiring.metal.value.split(" or ")[0]
    order = ("copper", "aluminium") if copper_first else ("aluminium", "copper")
    found = [(metal, nearest(case, metal, wanted[metal])) for metal in order]
    labels = [size.label for _, size in found if size is not None]
    if not labels:
        return
    told = f"{' or '.join(labels)} for a branch of {number_text(branch)} mm"
    if any(size and wanted[metal] > TOO_THICK * size.diameter_mm.value for metal, size in found):
        told += "; thicker than wire is sold: two wires side by side, or a guy wire"
    yield Reason("wire to use", told, share.source)
    low, high = share.low or share.value, share.high or share.value
    yield Reason(
        "wire over branch thickness", f"{share.value:g} ({low:g} to {high:g})", share.source
    )
    copper = practice.figure("wire.copper_holding_factor")
    yield span_reason("copper holds like aluminium thicker by", copper, "times")
    angle = practice.figure("wire.coil_angle_degrees")
    yield span_reason("coils lie at an angle of", angle, "degrees")
    yield span_reason("length of wire over branch", practice.figure("wire.length_factor"), "times")
    usual = case.taxon.wiring.metal
    yield Reason("usual metal", usual.value, usual.source)
