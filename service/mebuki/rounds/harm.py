"""What past nights did to the trees of a garden: measured minima against what each tree stood.

Looked at afterwards, with the weather measured and the stages as the season turned out.
A tree counts on nights on which frost could harm it: its roots are fresh, or its buds
have begun to move and its leaves are not hardened yet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.agenda.judged import TreeNight
from mebuki.domain.garden import Garden
from mebuki.domain.outlook import Milestone, Night, TreeOutlook
from mebuki.domain.site import Place
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.weather import WeatherPicture, hour_number
from mebuki.rounds.cases import Rules, sound_garden
from mebuki.rules.frost import STAGES
from mebuki.season.frost import coming_nights
from mebuki.season.frost_thresholds import CriticalTemperature, bud_stage, critical_temperature
from mebuki.season.learned_place import learned_place
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

    def limits(self, evening: date) -> Iterator[tuple[float, bool]]:
        """Yield what the tree stands on a night [°C], and whether that is told of its leaves."""
        practice = self.rules.rulebook.practice
        fresh = timedelta(weeks=practice.value("repot.frost_free_weeks"))
        before = [
            record.on
            for record in self.tree.records
            if record.kind == "repotted" and record.on <= evening
        ]
        if before and evening <= max(before) + fresh:
            yield practice.value("repot.root_frost_limit"), False
        stage = self._stage(evening)
        limit = None if stage is None else self._bears(stage)
        if limit is not None:
            yield limit.ten_percent, True

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
    found = []
    for place in garden.places:
        if place.sheltered:
            continue
        trees = [tree for tree in trusted.trees if tree.place == place.id]
        felt = learned_place(place, trees, measured, on)
        nights = _measured_nights(garden, felt, measured, evenings) if trees else {}
        for tree in trees:
            past = _Past(tree, rules.taxa[tree.taxon], seen[tree.id], rules)
            found += [each for night in nights.values() if (each := _judged(past, night))]
    return tuple(sorted(found, key=lambda each: (each.evening, each.tree)))


def _measured_nights(
    garden: Garden, place: Place, measured: WeatherPicture, evenings: Iterable[date]
) -> Mapping[date, Night]:
    ordered = sorted(evenings)
    first = measured.at - timedelta(
        days=measured.at.date().toordinal() - ordered[0].toordinal() + 3
    )
    until = hour_number(measured.measured_until or measured.at)
    known = measured.hourly.between(hour_number(first), until + 1)
    here = at_place(with_sky(known, garden.site).series, place)
    found = {}
    for evening in ordered:
        nights = coming_nights(here, garden.site, place, evening).nights
        if nights and nights[0].evening == evening:
            found[evening] = nights[0]
    return found


def _judged(past: _Past, night: Night) -> TreeNight | None:
    """Return the harm that comes nearest; none if frost could not harm the tree that night."""
    ways = [
        (night.leaf_minimum if leaf else night.air_minimum, limit)
        for limit, leaf in past.limits(night.evening)
    ]
    if not ways:
        return None
    lowest, limit = min(ways, key=lambda way: way[0] - way[1])
    return TreeNight(past.tree.id, night.evening, lowest <= limit, lowest, limit, night.minimum_at)


def _by(day: date | None, evening: date) -> bool:
    return day is not None and day <= evening
