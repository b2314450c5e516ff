"""The growth of the year as a Gompertz clock, and when wire starts to bite."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.outlook import GrowthClock, StageOutlook
from mebuki.domain.taxon import Group, Taxon
from mebuki.domain.weather import Floats
from mebuki.errors import RangeError
from mebuki.season.parameters import Thickening

SHIPPED = Thickening()
"""The figures as they are shipped."""

LIKE: dict[Group, str] = {
    "deciduous-broadleaf": "deciduous",
    "deciduous-conifer": "deciduous",
    "evergreen-broadleaf": "evergreen",
    "needle-evergreen": "conifer",
    "scale-juniper": "conifer",
    "tropical": "evergreen",
}
"""Which span of `Thickening` a group has.

Design defaults: deciduous trees do about nine tenths of it in the two months
after leaf-out; pines and junipers begin before their buds open and go on into
late summer. For evergreen broadleaves no published span was found; theirs is a plain
default. Tropical trees grow with the warm nights (`mebuki.season.warm_nights`).
"""

LATEST_SHARE = 0.999
"""Growth share after which nothing more is expected in a year."""


def span_of(group: Group, figures: Thickening = SHIPPED) -> tuple[int, int]:
    """Return the days from bud break to 10 % and to 90 % of the year's radial growth."""
    start, span = {
        "deciduous": (figures.deciduous_start, figures.deciduous_span),
        "evergreen": (figures.evergreen_start, figures.evergreen_span),
        "conifer": (figures.conifer_start, figures.conifer_span),
    }[LIKE[group]]
    return round(start), round(start) + max(round(span), 1)


def clock_for(
    taxon: Taxon, bud_break: StageOutlook, figures: Thickening = SHIPPED
) -> GrowthClock | None:
    """Return the growth clock that follows from a predicted bud break.

    Parameters
    ----------
    taxon
        Its group sets the span of growth, see `span_of`.
    bud_break
        The distribution of bud break; its median is used.
    figures
        The spans of the practice file.

    Returns
    -------
    GrowthClock or None
        None where bud break is not foreseeable.

    References
    ----------
    Etzold et al. (2022, Ecology Letters 25, 427-439): growth falls on 29 to 77
    days with its peak before the solstice. Rossi et al. (2006, New Phytologist
    170, 301-310): conifers reach their greatest rate near the solstice. The
    day offsets are design defaults.
    """
    if bud_break.likely is None:
        return None
    ten, ninety = span_of(taxon.group, figures)
    source = figures.source(f"{LIKE[taxon.group]}_span")
    return GrowthClock(
        ten_percent=bud_break.likely + timedelta(days=ten),
        ninety_percent=bud_break.likely + timedelta(days=ninety),
        basis=(
            f"bud break {bud_break.likely}; {taxon.group} {ten:+d} and {ninety:+d} days ({source})"
        ),
    )


def growth_share(clock: GrowthClock, day: date) -> float:
    """Return the share [0..1] of the year's radial growth done by a day.

    References
    ----------
    Gompertz curve after Rossi et al. (2006, New Phytologist 170, 301-310),
    written by its days of 10 and 90 %.
    """
    return float(growth_shares(clock, day.toordinal()))


def growth_shares(clock: GrowthClock, days: ArrayLike) -> Floats:
    """Return the growth shares [0..1] of many days, given as ordinals; see `growth_share`."""
    rate, turn = _gompertz(clock)
    shares: Floats = np.exp(-np.exp(-rate * (np.asarray(days, dtype=np.float64) - turn)))
    return shares


def _gompertz(clock: GrowthClock) -> tuple[float, float]:
    """Return the rate [1/d] and the ordinal of fastest growth."""
    ten, ninety = clock.ten_percent.toordinal(), clock.ninety_percent.toordinal()
    if ninety <= ten:
        msg = "a growth clock must reach 90 % after 10 %"
        raise RangeError(msg)
    early, late = math.log(-math.log(0.1)), math.log(-math.log(0.9))
    rate = (early - late) / (ninety - ten)
    return rate, ten + early / rate


def bite_day(clock: GrowthClock, wired_on: date, ring_width: float, gap: float) -> date | None:
    """Return the day on which growth under wire has used up the gap that was left.

    Parameters
    ----------
    clock
        The growth clock of the year in which the wire was put on.
    wired_on
        The day the wire was put on.
    ring_width
        Radial growth expected in the year [mm].
    gap
        Radial growth that the wire can take before it marks the bark [mm].

    Returns
    -------
    date or None
        None if this year's growth never uses up the gap.

    Raises
    ------
    RangeError
        If ring width or gap is not above zero.

    Notes
    -----
    No publication gives a bite threshold: the day is a time to look, not to
    act. Growth is uneven between years and branches.
    """
    if ring_width <= 0.0 or gap <= 0.0:
        msg = f"ring width ({ring_width:g} mm) and gap ({gap:g} mm) must be above zero"
        raise RangeError(msg)
    share = growth_share(clock, wired_on) + gap / ring_width
    if share >= LATEST_SHARE:
        return None
    rate, turn = _gompertz(clock)
    return date.fromordinal(math.ceil(turn - math.log(-math.log(share)) / rate - 1e-9))
