"""The season as an ensemble: measured so far, forecast, then each past year of the place.

References
----------
Past years appended to the state of today: Day (1985, Journal of Water Resources
Planning and Management 111, 157-170); for phenology Taylor and White (2020,
Ecological Applications 30, e02025). The days of blending and the longest gap
are design defaults.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from mebuki.domain.site import Place
from mebuki.domain.weather import Climate, DailySeries, Floats, Ints, Origin
from mebuki.season.seasons import calendar_slots, season_days

BLEND_FROM = 7
BLEND_UNTIL = 15
"""Lead [days] between which a forecast fades into each climate year, linearly."""

LONGEST_GAP = 3
"""Missing days in a row that are filled by interpolation; more end the prediction."""


@dataclass(frozen=True, slots=True, eq=False)
class Members:
    """Whole spans of daily extremes, one row for each climate year.

    Parameters
    ----------
    start
        Ordinal of the first day.
    minimum, maximum
        [°C], shape (members, days); NaN where nothing can be said.
    on
        Ordinal of the day on which they were made.
    known_until
        Ordinal of the last day that was measured or forecast; the day before
        ``start`` if there is none.
    remark
        What a person must know of gaps, or empty.
    """

    start: int
    minimum: Floats
    maximum: Floats
    on: int
    known_until: int
    remark: str = ""

    @property
    def mean(self) -> Floats:
        """Daily mean as half the sum of the extremes [°C]."""
        return (self.minimum + self.maximum) / 2

    @property
    def days(self) -> Ints:
        """Ordinals of the days."""
        return np.arange(self.start, self.start + self.minimum.shape[1], dtype=np.int64)


@dataclass(frozen=True, slots=True)
class FeltHere:
    """What a place does to the daily extremes of the site's air.

    Parameters
    ----------
    offset
        Added to the air temperature [°C].
    minimum_held
        Air temperature [°C] that a building keeps, or none.
    range_share
        Share of the day's range that is left behind walls or glass [0..1].
    """

    offset: float = 0.0
    minimum_held: float | None = None
    range_share: float = 1.0

    @classmethod
    def at(cls, place: Place) -> FeltHere:
        """Return what a place of the garden does.

        A lag leaves 1 / √(1 + (ωτ)²) of the daily wave, as of a first-order
        system under a sine.
        """
        left = 1.0 / np.hypot(1.0, 2.0 * np.pi / 24.0 * place.lag_hours)
        return cls(place.temperature_offset, place.minimum_held, float(left))

    def of(self, minimum: Floats, maximum: Floats) -> tuple[Floats, Floats]:
        """Return the extremes felt at the place [°C]; NaN stays NaN."""
        middle = (minimum + maximum) / 2 + self.offset
        half = (maximum - minimum) / 2 * self.range_share
        low, high = middle - half, middle + half
        if self.minimum_held is None:
            return low, high
        return np.maximum(low, self.minimum_held), np.maximum(high, self.minimum_held)


OPEN_AIR = FeltHere()
"""A place that leaves the site's air as it is."""


def season_members(
    daily: DailySeries,
    climate: Climate,
    season: int,
    southern: bool,
    on: date,
    offset: float = 0.0,
    minimum_held: float | None = None,
) -> Members:
    """Return the members of a whole season as seen on a day.

    Parameters
    ----------
    daily
        Local days measured so far and forecast.
    climate
        Past years of the site.
    season
        Calendar year of the spring.
    southern
        Whether the site lies south of the equator.
    on
        The local day of the round: lead time counts from here.
    offset, minimum_held
        What the place does to the air, see `FeltHere`.

    Returns
    -------
    Members
        One row for each climate year, or one row of known days alone.
    """
    felt = FeltHere(offset, minimum_held)
    return span_members(daily, climate, season_days(season, southern), on, felt)


def span_members(
    daily: DailySeries, climate: Climate, span: range, on: date, felt: FeltHere = OPEN_AIR
) -> Members:
    """Return the members of any span of days; see `season_members`."""
    days = np.arange(span.start, span.stop, dtype=np.int64)
    known, remark = _known(daily, days, on.toordinal())
    slots = calendar_slots(days)
    weight = _known_weight(daily, days, on.toordinal())
    weight[np.isnan(known).any(axis=0) & (days > on.toordinal())] = 0.0
    minimum, maximum = (
        _joined(row, _years(years, climate, slots), weight)
        for row, years in zip(known, (climate.minimum, climate.maximum), strict=True)
    )
    minimum, maximum = felt.of(minimum, maximum)
    last = min(daily.end, span.stop) - 1
    return Members(
        start=span.start,
        minimum=minimum,
        maximum=maximum,
        on=on.toordinal(),
        known_until=max(last, span.start - 1),
        remark=remark,
    )


def _known(daily: DailySeries, days: Ints, on: int) -> tuple[Floats, str]:
    """Return minimum and maximum on a span's days, small gaps filled, and what to say."""
    extremes = np.full((2, len(days)), np.nan)
    inside = (days >= daily.start) & (days < daily.end)
    at = days[inside] - daily.start
    extremes[:, inside] = daily.minimum[at], daily.maximum[at]
    extremes[:, inside] = np.where(daily.origin[at] == Origin.MISSING, np.nan, extremes[:, inside])
    past = days <= min(on, daily.end - 1)
    filled, remark = fill_gaps(days[past], extremes[:, past])
    extremes[:, past] = filled
    return extremes, remark


def fill_gaps(days: Ints, extremes: Floats) -> tuple[Floats, str]:
    """Fill gaps of up to `LONGEST_GAP` days by interpolation and name all gaps.

    Parameters
    ----------
    days
        Ordinals without holes.
    extremes
        [°C], quantities by days; a day is missing if any of its values is.

    Returns
    -------
    tuple
        The values, NaN left in longer gaps, and one sentence for each kind of
        gap (empty if there is none).
    """
    missing: NDArray[np.bool_] = np.asarray(np.isnan(extremes).any(axis=0))
    if not missing.any():
        return extremes, ""
    filled = extremes.copy()
    filled[:, missing] = np.nan
    short: list[str] = []
    long: list[str] = []
    for first, stop in _runs(missing):
        whole = stop - first > LONGEST_GAP or stop - first == len(days)
        (long if whole else short).append(_span_text(days[first], days[stop - 1]))
        if not whole:
            for row in filled:
                row[first:stop] = _across(row, first, stop)
    return filled, _gap_text(short, long)


def _across(row: Floats, first: int, stop: int) -> Floats:
    """Interpolate one gap from its neighbours; at an end of the series hold the neighbour."""
    before = row[first - 1] if first else row[stop]
    after = row[stop] if stop < len(row) else before
    steps = np.arange(1, stop - first + 1) / (stop - first + 1)
    across: Floats = before + (after - before) * steps
    return across


def _runs(missing: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return (first, stop) of every unbroken run of true values."""
    padded = np.concatenate(([0], missing.astype(np.int8), [0]))
    turns = np.flatnonzero(np.diff(padded))
    return [(int(first), int(stop)) for first, stop in turns.reshape(-1, 2)]


def _span_text(first: int, last: int) -> str:
    begins, ends = date.fromordinal(int(first)), date.fromordinal(int(last))
    return f"{begins}" if first == last else f"{begins} to {ends}"


def _gap_text(short: list[str], long: list[str]) -> str:
    parts = []
    if short:
        parts.append(f"Temperature of {', '.join(short)} was missing and was interpolated.")
    if long:
        parts.append(
            f"Temperature of {', '.join(long)} is missing, more than {LONGEST_GAP} days in a row: "
            "dates that depend on it are not predicted."
        )
    return " ".join(parts)


def _known_weight(daily: DailySeries, days: Ints, on: int) -> Floats:
    """Return how far each day is taken from what is known: 1 fully, 0 from the climate."""
    share = np.clip((BLEND_UNTIL - (days - on)) / (BLEND_UNTIL - BLEND_FROM), 0.0, 1.0)
    return np.where(days < daily.end, share, 0.0)


def _years(values: Floats, climate: Climate, slots: Ints) -> Floats | None:
    """Return a past year's values on a span's days, a missing slot filled from other years."""
    if not climate.years:
        return None
    taken = values[:, slots]
    holes = np.isnan(taken)
    if holes.any():
        count = (~holes).sum(axis=0)
        with np.errstate(invalid="ignore"):
            mean = np.where(holes, 0.0, taken).sum(axis=0) / np.where(count, count, np.nan)
        taken = np.where(holes, mean, taken)
    return taken


def _joined(known: Floats, years: Floats | None, weight: Floats) -> Floats:
    """Blend one known row into each past year; without past years it stands alone."""
    if years is None:
        return known[np.newaxis, :].copy()
    return np.where(weight > 0.0, weight * known + (1.0 - weight) * years, years)
