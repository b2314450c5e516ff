"""Weather series: time axes, units, and where each value comes from.

Time axes are integers, so that arithmetic is exact and daylight saving time
cannot enter: hours are counted since 1970-01-01T00Z, days are proleptic
ordinals (`datetime.date.toordinal`) of *local* days.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from mebuki.domain.lessons import ForecastLessons
from mebuki.domain.site import Site
from mebuki.domain.warning import OfficialWarning

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FRESH_HOURS = 6
BLIND_HOURS = 24
CALENDAR_DAYS = 366

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Origin(IntEnum):
    """How a value is known."""

    MISSING = 0
    MEASURED = 1
    FORECAST = 2
    CLIMATE = 3


class Freshness(StrEnum):
    """How old the newest measured value is: under 6 h, under 24 h, or more."""

    FRESH = "fresh"
    STALE = "stale"
    BLIND = "blind"


def hour_number(moment: datetime) -> int:
    """Return the whole hours since 1970-01-01T00Z of an aware moment."""
    return int((moment - _EPOCH).total_seconds() // 3600)


def hour_moment(hour: int) -> datetime:
    """Return the moment of an hour number, in UTC."""
    return _EPOCH + timedelta(hours=int(hour))


@dataclass(frozen=True, slots=True, eq=False)
class HourlySeries:
    """Hourly weather without holes in the time axis; NaN where a value is missing.

    Parameters
    ----------
    start
        Hour number of the first value.
    air_temperature, dew_point
        [°C] at the full hour.
    wind_speed
        At 10 m [m s-1].
    precipitation, snowfall
        Water equivalent of the hour that ends at the full hour [mm].
    global_radiation
        Mean of the hour that ends at the full hour [W m-2].
    cloud_cover
        [0..1].
    origin
        `Origin` of the air temperature of each hour.
    """

    start: int
    air_temperature: Floats
    dew_point: Floats
    wind_speed: Floats
    precipitation: Floats
    snowfall: Floats
    global_radiation: Floats
    cloud_cover: Floats
    origin: NDArray[np.int8]

    def __post_init__(self) -> None:
        lengths = {getattr(self, name).shape for name in (*COLUMNS, "origin")}
        if len(lengths) != 1:
            msg = f"columns differ in length: {sorted(lengths)}"
            raise ValueError(msg)

    @property
    def hours(self) -> Ints:
        """Hour numbers, one for each value."""
        return np.arange(self.start, self.start + len(self.origin), dtype=np.int64)

    @property
    def end(self) -> int:
        """Hour number after the last value."""
        return self.start + len(self.origin)

    def between(self, first: int, stop: int) -> HourlySeries:
        """Return the hours first <= hour < stop, clipped to what is there."""
        low = max(first - self.start, 0)
        high = max(stop - self.start, low)
        parts = {name: getattr(self, name)[low:high] for name in (*COLUMNS, "origin")}
        return HourlySeries(start=self.start + low, **parts)


COLUMNS = (
    "air_temperature",
    "dew_point",
    "wind_speed",
    "precipitation",
    "snowfall",
    "global_radiation",
    "cloud_cover",
)
"""The value columns of an `HourlySeries`, in order."""


@dataclass(frozen=True, slots=True, eq=False)
class DailySeries:
    """Local days without holes in the axis; NaN where a value is missing.

    ``start`` is the ordinal of the first day; ``minimum`` and ``maximum`` are
    air temperatures [°C], ``precipitation`` [mm], ``wind_speed`` at 10 m [m s-1].
    """

    start: int
    minimum: Floats
    maximum: Floats
    precipitation: Floats
    wind_speed: Floats
    origin: NDArray[np.int8]

    @property
    def days(self) -> Ints:
        """Ordinals, one for each day."""
        return np.arange(self.start, self.start + len(self.origin), dtype=np.int64)

    @property
    def end(self) -> int:
        """Ordinal after the last day."""
        return self.start + len(self.origin)


@dataclass(frozen=True, slots=True, eq=False)
class Climate:
    """Past years of the site by calendar day.

    Arrays have the shape (years, 366): slot 0 is 1 January, slot 59 is
    29 February, slot 365 is 31 December. In years without a 29 February its
    slot holds the mean of its neighbours.
    """

    years: tuple[int, ...]
    minimum: Floats
    maximum: Floats
    precipitation: Floats
    wind_speed: Floats


def calendar_slot(day: date) -> int:
    """Return the slot of a day in a `Climate` array.

    >>> calendar_slot(date(2013, 3, 1)), calendar_slot(date(2012, 3, 1))
    (60, 60)
    """
    return (date(2012, day.month, day.day) - date(2012, 1, 1)).days


@dataclass(frozen=True, slots=True)
class Rejected:
    """A value that failed a plausibility check: kept, shown, never used."""

    at: datetime
    quantity: str
    value: float
    rule: str


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a stretch of weather came from."""

    provider: str
    what: str
    first: datetime
    last: datetime
    run: datetime | None = None
    fetched: datetime | None = None
    credit: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class WeatherPicture:
    """All that is known of a site's weather at a moment.

    Parameters
    ----------
    at
        The nominal moment of the round.
    hourly
        Measured and forecast hours, up to 16 days ahead.
    daily
        Local days of the season to date *and* the forecast, one unbroken axis.
        It begins before the chill season of the running season.
    climate
        Past years for everything beyond the forecast.
    measured_until
        The newest measured hour, or none.
    remarks
        Plain sentences a person must know (few climate years, gaps, ...).
    warnings
        Official warnings in force or to come, verbatim; never part of a probability.
    disagreement
        Typical difference [K] between the air temperatures that two providers
        forecast for the next three days, or none where only one was asked.
    ensemble_spread
        Standard deviation [K] of the air temperature among the members of an
        ensemble, one value for each hour of ``hourly``, NaN where unknown; or none.
    lessons
        What past forecasts of the site's nights have taught, or none.
    fresh_hours, blind_hours
        Ages [h] of the newest measured value from which the picture is stale, and from
        which nothing can be seen with it.
    """

    site: Site
    at: datetime
    hourly: HourlySeries
    daily: DailySeries
    climate: Climate
    measured_until: datetime | None
    forecast_until: datetime | None
    provenance: tuple[Provenance, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    remarks: tuple[str, ...] = field(default=())
    warnings: tuple[OfficialWarning, ...] = ()
    disagreement: float | None = None
    ensemble_spread: Floats | None = None
    lessons: ForecastLessons | None = None
    fresh_hours: float = FRESH_HOURS
    blind_hours: float = BLIND_HOURS

    @property
    def credits_(self) -> tuple[str, ...]:
        """The thanks that are owed wherever this weather is shown, each once."""
        return tuple(dict.fromkeys(part.credit for part in self.provenance if part.credit))

    @property
    def age_hours(self) -> float:
        """Age of the newest measured value [h]; infinite if there is none."""
        if self.measured_until is None:
            return float("inf")
        return (self.at - self.measured_until).total_seconds() / 3600

    @property
    def freshness(self) -> Freshness:
        """How far the picture can be trusted."""
        if self.age_hours >= self.blind_hours:
            return Freshness.BLIND
        return Freshness.STALE if self.age_hours >= self.fresh_hours else Freshness.FRESH
