"""Pots under every member of an ensemble: how cold and how dry, night by night.

All trees of a garden and some members at a time are stepped together as rows of
one array, and reduced to nights and days at once, so that the memory needed does
not grow with the members.

The rounds do not run this: a `WeatherPicture` carries the mean of an ensemble and its
spread, not its members, and the rules take chances from those. It is for whoever has
the members themselves, and it is what the benchmark measures.

References
----------
Wilks (2011) for the chance of an event among members (from memory); the models
are those of `root_temperature`, `frost` and `pot_water`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.site import Place, Site
from mebuki.domain.weather import Floats, HourlySeries, Ints
from mebuki.errors import RangeError
from mebuki.season.decision import ensemble_probability_below
from mebuki.season.evaporation_hours import reference_evaporation_hours
from mebuki.season.frost import NIGHT_BEGINS, NIGHT_ENDS, leaf_temperature
from mebuki.season.hardiness import RootLimit
from mebuki.season.local_time import local_clock, local_hour
from mebuki.season.places import at_place
from mebuki.season.pot_store import Leaves, Pots, basal_coefficient
from mebuki.season.pot_water import Course, counted_rain, water_trace
from mebuki.season.root_ball import RootBalls, Surroundings, surroundings
from mebuki.season.root_temperature import RootBallTemperatures, stepped
from mebuki.season.runs import longest_run
from mebuki.season.water_outlook import mornings_filled

ROWS = 4096
"""Rows stepped together: few enough for the processor's cache."""

MEMBER_NIGHTS = 16
"""Nights ahead that an ensemble is reduced to."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """The trees of one place, one value a tree, in one order."""

    place: Place
    balls: RootBalls
    limits: Sequence[RootLimit]
    pots: Pots
    leaves: Leaves


@dataclass(frozen=True, slots=True, eq=False)
class MemberExtremes:
    """What each night and day does to each tree in each member.

    All arrays have the shape (members, trees, nights), trees in the order of their
    stands; NaN where an hour is unknown.

    Parameters
    ----------
    evenings
        Ordinals of the local days on which the nights begin, shape (nights,).
    root_minimum, wall_minimum, leaf_minimum
        Lowest temperature of a night [°C].
    hours_below
        Longest stretch [h] of a night at or below the limit of mature roots.
    use
        Water used on the local day of the evening [L].
    least_share
        Lowest share of the easily available water on that day; 0 or less is dry.
    """

    evenings: Ints
    root_minimum: Floats
    wall_minimum: Floats
    leaf_minimum: Floats
    hours_below: Floats
    use: Floats
    least_share: Floats

    def root_chance(self, limit: ArrayLike) -> Floats:
        """Return the chance [0..1] of root-balls below limits [°C] (one a tree)."""
        return ensemble_probability_below(np.asarray(limit)[..., None], self.root_minimum)

    def wall_chance(self, limit: ArrayLike) -> Floats:
        """Return the chance [0..1] of pot walls below limits [°C] (one a tree)."""
        return ensemble_probability_below(np.asarray(limit)[..., None], self.wall_minimum)

    def leaf_chance(self, limit: ArrayLike) -> Floats:
        """Return the chance [0..1] of leaves below limits [°C] (one a tree)."""
        return ensemble_probability_below(np.asarray(limit)[..., None], self.leaf_minimum)

    def lasting_chance(self, hours: float) -> Floats:
        """Return the chance [0..1] of so many hours on end below the limit of the roots."""
        return ensemble_probability_below(0.5 - hours, -self.hours_below)

    def dry_chance(self) -> Floats:
        """Return the chance [0..1] that the easily available water is used up on a day."""
        return ensemble_probability_below(1e-9, self.least_share)


def member_extremes(
    members: Sequence[HourlySeries],
    site: Site,
    stands: Sequence[Stand],
    on: date,
    nights: int = MEMBER_NIGHTS,
) -> MemberExtremes:
    """Return what the members of an ensemble do to the trees of a garden.

    Parameters
    ----------
    members
        The open site's weather, a series a member, all of the same hours; with
        radiation and cloud (see `radiation.with_sky`), and with some measured days
        before, in which root-balls settle and the ground takes its temperature.
    site
        For latitude, elevation and local days.
    stands
        The trees, place by place.
    on
        The local day of the first evening.
    nights
        How many.

    Raises
    ------
    RangeError
        If there is no member or no tree, or members differ in their hours.

    Notes
    -----
    About 0.4 µs a tree, hour and member. Memory is that of some 4,000 rows, about
    0.25 GiB for 16 days; beyond 4,000 trees it grows with the trees: give a larger
    garden in parts.

    References
    ----------
    As for the models it steps.
    """
    if not members or not stands:
        msg = f"{len(members)} members and {len(stands)} stands: there must be one of each"
        raise RangeError(msg)
    if len({(member.start, member.end) for member in members}) > 1:
        msg = "the members of an ensemble must have the same hours"
        raise RangeError(msg)
    batch = _Batch.of(members[0].hours, site, stands)
    trees = len(batch.limits)
    each = max(ROWS // trees, 1)
    spans = _Spans.of(members[0], site, on, nights)
    parts = [
        _reduced(members[first : first + each], site, stands, batch, spans)
        for first in range(0, len(members), each)
    ]
    evenings = np.arange(on.toordinal(), on.toordinal() + nights, dtype=np.int64)
    return MemberExtremes(evenings, *(np.concatenate(rows) for rows in zip(*parts, strict=True)))


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """The trees of all stands, and what is the same for all members."""

    balls: RootBalls
    pots: Pots
    limits: Floats
    stand: Ints
    basal: Floats
    filled: np.ndarray

    @classmethod
    def of(cls, hours: Ints, site: Site, stands: Sequence[Stand]) -> _Batch:
        pots = Pots.joined([stand.pots for stand in stands])
        days, _ = local_clock(hours, site.zone)
        axis = np.arange(days[0], days[-1] + 1)
        basal = [basal_coefficient(stand.leaves, axis) for stand in stands]
        counts = [len(stand.limits) for stand in stands]
        return cls(
            balls=RootBalls.joined([stand.balls for stand in stands]),
            pots=pots,
            limits=np.array([limit.mature for stand in stands for limit in stand.limits]),
            stand=np.repeat(np.arange(len(stands)), counts),
            basal=np.concatenate(basal)[:, days - days[0]].T,
            filled=mornings_filled(pots, hours, site).T,
        )


@dataclass(frozen=True, slots=True)
class _Spans:
    """Nights and local days as stretches of the hours there are, none where cut off."""

    nights: tuple[slice | None, ...]
    days: tuple[slice | None, ...]

    @classmethod
    def of(cls, series: HourlySeries, site: Site, on: date, nights: int) -> _Spans:
        def span(first: tuple[date, int], last: tuple[date, int], skip: int) -> slice | None:
            low = local_hour(*first, site.zone) - series.start + skip
            high = local_hour(*last, site.zone) - series.start
            return slice(low, high + 1) if low >= 0 and high < len(series.origin) else None

        evenings = [on + timedelta(days=ahead) for ahead in range(nights)]
        morrow = timedelta(days=1)
        return cls(
            tuple(span((day, NIGHT_BEGINS), (day + morrow, NIGHT_ENDS), 0) for day in evenings),
            tuple(span((day, 0), (day + morrow, 0), 1) for day in evenings),
        )


def _reduced(
    members: Sequence[HourlySeries],
    site: Site,
    stands: Sequence[Stand],
    batch: _Batch,
    spans: _Spans,
) -> tuple[Floats, ...]:
    weather = [at_place(member, stand.place) for member in members for stand in stands]
    skies = [stand.place.sky_share for _ in members for stand in stands]
    row = (np.arange(len(members))[:, None] * len(stands) + batch.stand).ravel()
    count = len(members)
    around = [surroundings(here, sky) for here, sky in zip(weather, skies, strict=True)]
    roots = stepped(
        Surroundings(
            *(_rows([getattr(one, each.name) for one in around], row) for each in fields(around[0]))
        ),
        batch.balls.repeated(count),
    )
    days, _ = local_clock(members[0].hours, site.zone)
    course = Course(
        evaporation=_rows([reference_evaporation_hours(one, site).hours for one in weather], row),
        rain=_rows([counted_rain(one, days, batch.pots.figures) for one in weather], row),
        basal=np.tile(batch.basal, (1, count)).T,
        liquid=1 - np.nan_to_num(roots.frozen_share),
        filled=np.tile(batch.filled, (1, count)).T,
    )
    pots = batch.pots.repeated(count)
    trace = water_trace(pots, course)
    share = 1 - (pots.total_water[:, None] - trace.left) / pots.easy_water[:, None]
    leaves = [
        leaf_temperature(here, site, stand.place)
        for here, stand in zip(weather, [*stands] * count, strict=True)
    ]
    leaf = _over(np.stack(leaves), spans.nights, _lowest)[row]
    found = (
        *_cold(roots, np.tile(batch.limits, count), spans.nights, leaf),
        _over(trace.use, spans.days, lambda use: use.sum(axis=1)),
        _over(share, spans.days, _lowest),
    )
    return tuple(values.reshape(count, len(batch.limits), -1) for values in found)


def _rows(series: Sequence[Floats], row: Ints) -> Floats:
    """Return a series for each row, with the hours of all rows together in memory."""
    return np.asarray(np.stack(series, axis=1)[:, row].T)


def _cold(
    roots: RootBallTemperatures, limits: Floats, nights: Sequence[slice | None], leaf: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    def lasting(mean: Floats) -> Floats:
        hours = longest_run(mean <= limits[:, None]).astype(np.float64)
        return np.where(np.isnan(mean).any(axis=1), np.nan, hours)

    return (
        _over(roots.mean, nights, _lowest),
        _over(roots.wall, nights, _lowest),
        leaf,
        _over(roots.mean, nights, lasting),
    )


def _lowest(values: Floats) -> Floats:
    return np.asarray(values.min(axis=1))


def _over(
    values: Floats, spans: Sequence[slice | None], reduce: Callable[[Floats], Floats]
) -> Floats:
    """Return one value for each row and span; NaN for spans that are cut off."""
    unknown = np.full(len(values), np.nan)
    found = [unknown if span is None else reduce(values[:, span]) for span in spans]
    return np.stack(found, axis=1)
