"""Measured years for whole journeys: what a replay reads, for north and mirrored south.

New York 2013 was measured hour by hour. Of the other years only local days were
measured (lowest and highest air temperature, rain, mean wind): **their course within
the day is constructed**, so that the whole line can run on them:

- air temperature: the curve of Linvill (1990, HortScience 25, 14-16) through the
  measured extremes, on hours of local mean solar time;
- dew point: the day's minimum, never above the air (Allen et al. 1998, FAO-56 eq. 48);
- wind: the day's mean in every hour;
- rain: the day's sum at no more than `HARDEST_RAIN` an hour, in one shower of at least
  `SHORTEST_SHOWER` hours that begins at an hour given by the number of the day;
- sun and cloud are left out: the season's models take them from the temperature range
  of the day (FAO-56 eq. 50).

The southern years are the northern ones half a year later, with their hours drawn for
the southern sun. Where past years would be lacking, the four measured years stand a
second time four years earlier: they serve as past years, the running one among them.
No skill of a prediction is judged on them.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.weather import Floats
from mebuki.rulebook import shipped_config
from mebuki.season.hours import hourly_temperature
from mebuki.weather.replay import ReplaySource
from tests.builders import a_site

DEMO = shipped_config() / "demo"
DAILY = DEMO / "noaa_seattle_newyork_daily_2012_2015.csv"

HALF_A_YEAR = timedelta(days=182)
"""Days by which a northern year is shifted to serve the south."""

TO_SOUTHERN_CLOCKS = timedelta(hours=-15)
"""From the sun of New York to that of Melbourne, in UTC."""

FOUR_YEARS = timedelta(days=1461)

HARDEST_RAIN, SHORTEST_SHOWER = 1.5, 2
"""Of the constructed showers [mm h-1, h]."""

COLD, COLD_AHEAD = 2.0, 1
"""Minimum [°C] from which a day is looked at for its own sake, if it comes in so many days."""

NEW_YEAR = ((12, 31), (1, 1))
"""Month and day of the days that are always taken."""

SEATTLE: Mapping[str, Any] = {
    "name": "Seattle", "latitude": 47.4, "longitude": -122.3, "elevation": 130,
    "time_zone": "America/Los_Angeles",
}  # fmt: skip


@dataclass(frozen=True)
class Measured:
    """A measured stretch of weather: its place and years, and its hours where there are any."""

    location: str
    first_year: int
    years: int = 1
    hours: Path | None = None

    def __str__(self) -> str:
        last = self.first_year + self.years - 1
        return f"{self.location} {self.first_year}{f'-{last}' if self.years > 1 else ''}"

    @property
    def first(self) -> date:
        """The first day of the stretch, in the north."""
        return date(self.first_year, 1, 1)

    @property
    def end(self) -> date:
        """The day after its last, in the north."""
        return date(self.first_year + self.years, 1, 1)


NEW_YORK_2013 = Measured("New York", 2013, hours=DEMO / "nyc_jfk_hourly_2013.csv")
NEW_YORK_2014 = Measured("New York", 2014)
SEATTLE_2015 = Measured("Seattle", 2015)
NEW_YORK_LONG = Measured("New York", 2012, years=4)


@dataclass(frozen=True)
class Day:
    """One measured local day, on the date that it serves."""

    on: date
    rain: float
    maximum: float
    minimum: float
    wind: float


def site(measured: Measured, southern: bool) -> Site:
    """Return where the weather was measured, or its mirror near the longitude of Melbourne."""
    north = a_site(**SEATTLE) if measured.location == "Seattle" else a_site()
    if not southern:
        return north
    return a_site(
        latitude=-north.latitude, longitude=145.0, time_zone="Australia/Melbourne",
        elevation=north.elevation,
    )  # fmt: skip


def source(measured: Measured, southern: bool, folder: Path) -> ReplaySource:
    """Return the weather of a stretch; files that must be made are written into a folder."""
    shift = HALF_A_YEAR if southern else timedelta()
    days = [_moved(day, shift) for day in measured_days(measured.location)]
    hourly = measured.hours
    if hourly is None:
        own = [day for day in days if measured.first <= day.on - shift < measured.end]
        hourly = folder / "hours.csv"
        _write_hours(own, site(measured, southern), hourly)
    elif southern:
        hourly = _half_a_year_later(hourly, folder / "hours.csv")
    if not southern and measured.years == 1:
        return ReplaySource(hourly, DAILY, location=measured.location)
    before = [_moved(day, -FOUR_YEARS) for day in days]
    _write_days([*before, *days], measured.location, folder / "days.csv")
    return ReplaySource(hourly, folder / "days.csv", location=measured.location)


def measured_days(location: str) -> list[Day]:
    """Return the measured days of a place, in order."""
    lines = [line for line in DAILY.read_text("utf-8").splitlines() if not line.startswith("#")]
    return [
        Day(date.fromisoformat(row["date"]), float(row["precip_mm"]), float(row["temp_max_c"]),
            float(row["temp_min_c"]), float(row["wind_ms"]))
        for row in csv.DictReader(lines)
        if row["location"] == location
    ]  # fmt: skip


def steps(measured: Measured, southern: bool, every: int) -> Iterator[date]:
    """Yield each day before which or on which cold nights are near, and every so many others.

    No night of frost is stepped over: each day is taken that has a minimum of `COLD`
    or less on it or on the day after it. Both sides of new year are taken, too.
    """
    shift = HALF_A_YEAR if southern else timedelta()
    lows = {day.on + shift: day.minimum for day in measured_days(measured.location)}
    day, last = measured.first + shift + timedelta(days=1), measured.end + shift
    while day < last - timedelta(days=2):
        near = (lows.get(day + timedelta(days=lead), COLD) for lead in range(COLD_AHEAD + 1))
        turn = (day.month, day.day) in NEW_YEAR
        if turn or min(near) <= COLD or day.toordinal() % every == 0:
            yield day
        day += timedelta(days=1)


def _moved(day: Day, shift: timedelta) -> Day:
    return Day(day.on + shift, day.rain, day.maximum, day.minimum, day.wind)


def hours_of(days: list[Day], where: Site) -> Iterator[tuple[datetime, Floats]]:
    """Yield each full hour (UTC) with air, dew point [°C], wind [m s-1] and rain [mm]."""
    low, high, wind = (
        np.array([getattr(day, name) for day in days]) for name in ("minimum", "maximum", "wind")
    )
    numbers = np.array([day.on.timetuple().tm_yday for day in days])
    air = hourly_temperature(low, high, numbers, where.latitude)
    dew = np.minimum(low[:, None], air)
    behind = timedelta(hours=round(where.longitude / 15))
    for row, day in enumerate(days):
        midnight = datetime.combine(day.on, time(), UTC) - behind
        rain = _shower(day)
        for hour in range(24):
            values = np.array([air[row, hour], dew[row, hour], wind[row], rain[hour]])
            yield midnight + timedelta(hours=hour), values


def _shower(day: Day) -> Floats:
    """Return the rain of each hour of a day [mm], its sum kept."""
    length = int(np.clip(np.ceil(day.rain / HARDEST_RAIN), SHORTEST_SHOWER, 24))
    begins = 7 * day.on.toordinal() % (25 - length)
    rain = np.zeros(24)
    rain[begins : begins + length] = day.rain / length
    return rain


def _write_hours(days: list[Day], where: Site, target: Path) -> None:
    rows = ["time_utc,temp_c,dew_point_c,wind_ms,precip_mm"]
    for moment, (air, dew, wind, rain) in hours_of(days, where):
        rows.append(f"{moment:%Y-%m-%dT%H:%M:%SZ},{air:.2f},{dew:.2f},{wind:.1f},{rain:.3f}")
    target.write_text("\n".join(rows) + "\n", "utf-8")


def _write_days(days: list[Day], location: str, target: Path) -> None:
    rows = ["location,date,precip_mm,temp_max_c,temp_min_c,wind_ms"]
    rows += [
        f"{location},{day.on},{day.rain},{day.maximum},{day.minimum},{day.wind}" for day in days
    ]
    target.write_text("\n".join(rows) + "\n", "utf-8")


def _half_a_year_later(given: Path, target: Path) -> Path:
    """Write measured hours as they would be half a year later under the southern sun."""
    lines = given.read_text("utf-8").splitlines()
    top = next(index for index, line in enumerate(lines) if not line.startswith("#"))
    column = lines[top].split(",").index("time_utc")
    out = [*lines[: top + 1]]
    for line in lines[top + 1 :]:
        cells = line.split(",")
        moment = datetime.fromisoformat(cells[column].replace("Z", "+00:00"))
        cells[column] = f"{moment + HALF_A_YEAR + TO_SOUTHERN_CLOCKS:%Y-%m-%dT%H:%M:%SZ}"
        out.append(",".join(cells))
    target.write_text("\n".join(out) + "\n", "utf-8")
    return target
