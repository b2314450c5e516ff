"""What past nights did to the trees of a garden: measured minima against what each tree stood.

Looked at afterwards, with the weather measured and the stages as the season turned out.
A tree counts on nights on which frost could harm it: its roots are fresh, its wood was
bent in autumn or winter, or its buds have begun to move and its leaves are not hardened yet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from mebuki.agenda.judged import TreeNight
from mebuki.domain.garden import Garden
from mebuki.domain.outlook import Milestone, Night, TreeOutlook
from mebuki.domain.site import Place
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import RecordKind, Tree
from mebuki.domain.weather import HourlySeries, Origin, WeatherPicture, hour_number
from mebuki.rounds.cases import Rules, sound_garden
from mebuki.rules.bends import COLD_MONTHS
from mebuki.rules.frost import STAGES
from mebuki.season.frost import (
    CORE_BEGINS,
    CORE_ENDS,
    MISSING_ALLOWED,
    NIGHT_ENDS,
    coming_nights,
)
from mebuki.season.frost_thresholds import CriticalTemperature, bud_stage, critical_temperature
from mebuki.season.learned_place import learned_place
from mebuki.season.local_time import local_hour
from mebuki.season.outlook import Stock, outlooks
from mebuki.season.parameters import BudLimits, Parameters
from mebuki.season.places import at_place
from mebuki.season.radiation import with_sky


@dataclass(frozen=True, slots=True)
class _Past:
    """A tree looked back at: what it is, and when its milestones came."""

    tree: Tree
    taxon: Taxon
    outlook: TreeOutlook
    rules: Rules
    southern: bool

    def limits(self, evening: date) -> Iterator[tuple[float, bool]]:
        """Yield what the tree stands on a night [°C], and whether that is told of its leaves."""
        practice = self.rules.rulebook.practice
        repotted = self._newest("repotted", evening)
        fresh = timedelta(weeks=practice.value("repot.frost_free_weeks"))
        if repotted is not None and evening <= repotted + fresh:
            yield practice.value("repot.root_frost_limit"), False
        bent = self._newest("major-bend", evening)
        guarded = timedelta(weeks=practice.value("wire.frost_guard_weeks"))
        cold = bent is not None and bent.month in COLD_MONTHS[self.southern]
        if bent is not None and cold and evening <= bent + guarded:
            yield practice.value("wire.bend_frost_limit"), False
        stage = self._stage(evening)
        limit = None if stage is None else self._bears(stage)
        if limit is not None:
            yield limit.ten_percent, True

    def dormant_limit(self) -> float | None:
        """Return what its buds stand [°C] when they begin to move; before that they stand more."""
        limit = self._bears(Milestone.SWELL)
        return None if limit is None else limit.ten_percent

    def _newest(self, kind: RecordKind, evening: date) -> date | None:
        days = (each.on for each in self.tree.records if each.kind == kind)
        return max((day for day in days if day <= evening), default=None)

    def _stage(self, evening: date) -> Milestone | None:
        hardened = self._likely(Milestone.GROWN)
        firm = self.rules.rulebook.practice.value("frost.hardened_days")
        if hardened is not None and evening >= hardened + timedelta(days=firm):
            return None
        reached = [stage for stage, _ in STAGES if _by(self._likely(stage), evening)]
        return reached[-1] if reached else None

    def _bears(self, stage: Milestone) -> CriticalTemperature | None:
        limits = BudLimits.of(self.rules.rulebook.practice)
        return critical_temperature(self.taxon, bud_stage(stage), limits)

    def _likely(self, milestone: Milestone) -> date | None:
        stage = self.outlook.stage(milestone, self.outlook.season)
        return stage.likely if stage else None


def tree_nights(
    garden: Garden, rules: Rules, measured: WeatherPicture, evenings: Sequence[date]
) -> tuple[TreeNight, ...]:
    """Return what the nights that began on some evenings did to the trees that frost could harm.

    Nights with too few measured hours are left out, and trees where frost is kept out.

    Parameters
    ----------
    garden
        With all its records.
    measured
        A picture from after the last night and within its season, so that every hour
        of the nights is measured.
    """
    if not evenings:
        return ()
    trusted = sound_garden(garden)
    on = measured.at.astimezone(garden.site.zone).date()
    book = rules.rulebook
    parameters = Parameters.of(book.practice)
    stock = Stock(trusted.trees, garden.places, rules.taxa, book.substrates, parameters)
    seen = outlooks(stock, measured, on)
    return looked_back(trusted, rules, measured, seen, evenings)


def looked_back(
    garden: Garden,
    rules: Rules,
    measured: WeatherPicture,
    seen: Mapping[str, TreeOutlook],
    evenings: Sequence[date],
    *,
    called: Collection[str] = frozenset(),
) -> tuple[TreeNight, ...]:
    """Return the same as `tree_nights` from outlooks that are there already.

    Parameters
    ----------
    garden
        With sound records alone, each tree where it stood on these nights.
    measured
        The picture that the outlooks were made with, or a later one of the season.
    seen
        By tree id.
    called
        Trees that are judged even where frost could not harm them: a call to bring them
        in was in vain.
    """
    on = measured.at.astimezone(garden.site.zone).date()
    found = []
    for place in garden.places:
        trees = [tree for tree in garden.trees if tree.place == place.id]
        if place.sheltered or not trees:
            continue
        felt = learned_place(place, trees, measured, on)
        nights = _measured_nights(garden, felt, measured, evenings)
        for tree in trees:
            taxon = rules.taxa[tree.taxon]
            past = _Past(tree, taxon, seen[tree.id], rules, garden.site.southern)
            told = tree.id in called
            found += [each for night in nights.values() if (each := _judged(past, night, told))]
    return tuple(sorted(found, key=lambda each: (each.evening, each.tree)))


def well_measured(measured: WeatherPicture, evening: date) -> bool:
    """Return whether a night is over and measured well enough to be judged.

    Measured to its end at 10 h, with no more than two hours missing between 22 h and 8 h.
    """
    zone, hourly = measured.site.zone, measured.hourly
    morning = evening + timedelta(days=1)
    if measured.measured_until is None:
        return False
    if hour_number(measured.measured_until) < local_hour(morning, NIGHT_ENDS, zone):
        return False
    dark, light = local_hour(evening, CORE_BEGINS, zone), local_hour(morning, CORE_ENDS, zone)
    core = _as_measured(hourly.between(dark, light + 1))
    missing = light - dark + 1 - int(np.isfinite(core.air_temperature).sum())
    return missing <= MISSING_ALLOWED


def _as_measured(hourly: HourlySeries) -> HourlySeries:
    """Return a series in which no air temperature stands that was not measured."""
    air = np.where(hourly.origin == Origin.MEASURED, hourly.air_temperature, np.nan)
    return replace(hourly, air_temperature=air)


def _measured_nights(
    garden: Garden, place: Place, measured: WeatherPicture, evenings: Iterable[date]
) -> Mapping[date, Night]:
    ordered = sorted(evenings)
    first = measured.at - timedelta(
        days=measured.at.date().toordinal() - ordered[0].toordinal() + 3
    )
    until = hour_number(measured.measured_until or measured.at)
    known = _as_measured(measured.hourly.between(hour_number(first), until + 1))
    here = at_place(with_sky(known, garden.site).series, place)
    found = {}
    for evening in ordered:
        nights = coming_nights(here, garden.site, place, evening).nights
        if nights and nights[0].evening == evening:
            found[evening] = nights[0]
    return found


def _judged(past: _Past, night: Night, called: bool) -> TreeNight | None:
    """Return the harm that comes nearest; none if frost could not harm the tree that night."""
    ways = [
        (night.leaf_minimum if leaf else night.air_minimum, limit)
        for limit, leaf in past.limits(night.evening)
    ]
    if not ways:
        limit = past.dormant_limit() if called else None
        if limit is None:
            return None
        lowest = night.leaf_minimum
        return TreeNight(past.tree.id, night.evening, False, lowest, limit, night.minimum_at)
    lowest, limit = min(ways, key=lambda way: way[0] - way[1])
    return TreeNight(past.tree.id, night.evening, lowest <= limit, lowest, limit, night.minimum_at)


def _by(day: date | None, evening: date) -> bool:
    return day is not None and day <= evening
