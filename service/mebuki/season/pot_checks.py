"""What keepers found in their pots, beside the water reckoned since the last watering.

"It was dry" and "still wet" say how much a pot holds, if it is known when it was
filled: findings without a recorded watering in the days before are left out, and so
are those of another root-ball or of days without weather.

References
----------
Allen et al. (1998), FAO-56, for the use; Hargreaves and Samani (1985) for reference
evaporation of days long past, of which extremes alone are kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from mebuki.domain.practice import Substrate
from mebuki.domain.site import Site
from mebuki.domain.tree import Tree
from mebuki.domain.weather import DailySeries, Floats
from mebuki.season.evaporation import hargreaves
from mebuki.season.pot_calibration import (
    PLAUSIBLE_SHARE,
    EasyWater,
    checked_water,
    doubtful_weighings,
    dry_checks,
)
from mebuki.season.pot_store import Leaves, Pots, basal_coefficient, easy_water_range
from mebuki.season.pot_water import daily_use, top_coefficient
from mebuki.season.radiation import daily_extraterrestrial
from mebuki.season.seasons import days_of_year

FILLED_WITHIN = timedelta(days=10)
"""Longest time between a recorded watering and a finding that counts (default)."""

FINDINGS_COUNT = timedelta(days=150)
"""How long a finding counts: the leaves are those of the growing season (default)."""

FOUND_AT = 0.5
"""Share of a day's use gone when somebody looks: the time of day is not recorded (default)."""

SURPRISING = 2.0
"""Spreads from what sizes or weighings say at which findings are doubted (default)."""


@dataclass(frozen=True, slots=True, eq=False)
class PotDays:
    """What pots used and caught on past days without stress [L], shape (pots, days)."""

    start: int
    use: Floats
    rain: Floats

    @classmethod
    def of(cls, here: DailySeries, site: Site, pots: Pots, leaves: Leaves) -> PotDays:
        """Return the days of pots at a place.

        Parameters
        ----------
        here
            Local days as the place has them, see `places.daily_at_place`.
        site
            For its latitude.
        pots, leaves
            One value a tree, in the same order.
        """
        sun = daily_extraterrestrial(site.latitude, days_of_year(here.days))
        reference = hargreaves(here.minimum, here.maximum, sun)
        basal = basal_coefficient(leaves, here.days)
        areas = (pots.canopy_area[:, None], pots.top_area[:, None])
        caught = np.nan_to_num(here.precipitation) * pots.figures.capture_factor
        return cls(
            start=here.start,
            use=daily_use(reference, basal, top_coefficient(basal, pots), areas),
            rain=caught * pots.top_area[:, None],
        )

    def used(self, pot: int, filled: date, found: date) -> float:
        """Return the water used from one day's watering until another day's look [L].

        NaN where a day is outside the series or its weather unknown.
        """
        first, last = filled.toordinal() - self.start, found.toordinal() - self.start
        if first < 0 or last >= self.use.shape[1]:
            return float("nan")
        gone = 0.0
        for day in range(first, last):
            net = float(self.use[pot, day] - self.rain[pot, day])
            # not max(): unknown must stay unknown
            gone = 0.0 if gone + net < 0 else gone + net
        return gone + FOUND_AT * float(self.use[pot, last])


def known_pots(
    trees: Sequence[Tree],
    pots: Pots,
    leaves: Leaves,
    substrates: Mapping[str, Substrate],
    weather: tuple[DailySeries, Site, date],
) -> tuple[Pots, tuple[EasyWater, ...]]:
    """Return pots that hold what weighings and findings say, and how sure that is.

    Parameters
    ----------
    trees
        With their records.
    pots, leaves
        Of the trees, in the same order.
    substrates
        By id.
    weather
        Local days as the place has them, the site, and the local day of the round.

    References
    ----------
    Own design.
    """
    here, site, on = weather
    held = [easy_water_range(tree, substrates[tree.substrate], on, pots.figures) for tree in trees]
    days: PotDays | None = None
    for pot, tree in enumerate(trees):
        held[pot] = replace(held[pot], doubt=doubtful_weighings(tree))
        if tree.last("dry-seen", "wet-seen") is not None:
            days = PotDays.of(here, site, pots, leaves) if days is None else days
            held[pot] = _learned(tree, held[pot], days, (pot, on))
    litres = np.array([water.litres for water in held])
    return replace(pots, easy_water=litres), tuple(held)


def _learned(tree: Tree, before: EasyWater, days: PotDays, at: tuple[int, date]) -> EasyWater:
    pot, on = at

    def used(found: date) -> float:
        filled = filled_before(tree, found)
        if filled is None or not on - FINDINGS_COUNT <= found <= on:
            return float("nan")
        return days.used(pot, filled, found)

    return believed(before, tree, checked_water(before, dry_checks(tree, used)))


def filled_before(tree: Tree, found: date) -> date | None:
    """Return the last recorded watering before the day of a finding, or none of late."""
    waterings = [
        record.on
        for record in tree.records
        if record.kind == "watered" and found - FILLED_WITHIN <= record.on < found
    ]
    return max(waterings, default=None)


def believed(before: EasyWater, tree: Tree, after: EasyWater) -> EasyWater:
    """Return what findings say a pot holds if that can be; else what was known, with a doubt.

    Doubted is less than 2 % or more than 60 % of the pot's volume, and what lies two
    spreads from what sizes or weighings say: then sizes or records are wrong.

    References
    ----------
    Own design.
    """
    low, high = (share * tree.pot.volume for share in PLAUSIBLE_SHARE)
    spread = np.log(before.high / before.low) / 2
    far = abs(np.log(after.litres / before.litres)) > SURPRISING * max(spread, 0.02)
    if low <= after.litres <= high and not far:
        return after
    doubt = (
        f"by being found dry or wet it would hold {after.litres:.2f} L, "
        f"else {before.low:.2f} to {before.high:.2f} L"
    )
    return replace(before, doubt=before.doubt or doubt)
