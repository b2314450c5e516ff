"""A measured series with a movable "now": the weather source of demo, tests and hindcasts.

What lies after "now" is seen only through the error of `replayed_forecast`,
and what lies before it is checked as it could have been checked then.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from pathlib import Path

import numpy as np

from mebuki.domain.site import Site
from mebuki.domain.weather import (
    Climate,
    HourlySeries,
    Provenance,
    WeatherPicture,
    hour_moment,
    hour_number,
)
from mebuki.errors import InputError, TableError
from mebuki.weather.gaps import append_hours, bridge
from mebuki.weather.local_days import (
    daily_from_hourly,
    from_day,
    lay_over,
    local_midnights,
    missing_days,
)
from mebuki.weather.plausibility import check
from mebuki.weather.replayed_forecast import HORIZON, Skill, forecast, run_of
from mebuki.weather.replayed_truth import Stage, set_stage
from mebuki.weather.series_file import DailyFile, HourlyFile, read_daily, read_hourly

ENOUGH_YEARS = 20
"""Past years from which a spread is believed without a word."""

LOOK_BACK_DAYS = 460
"""Days before "now" that a picture holds at least, where the files have them."""


class ReplaySource:
    """A `WeatherSource` over recorded files.

    Parameters
    ----------
    hourly_file
        Measured hours (`read_hourly`).
    daily_file, location
        Measured local days and the place in them, for the season before the
        hours begin, the days after they end and the climate; or none.
    seed
        The same seed (0 or more) gives the same forecasts.
    bias, scale
        For trials: what is added to the air temperature of every forecast hour
        [K], and by which its other errors are multiplied.

    Raises
    ------
    mebuki.errors.TableError
        If a file cannot be used.
    """

    def __init__(
        self,
        hourly_file: Path,
        daily_file: Path | None = None,
        location: str = "",
        seed: int = 1,
        *,
        bias: float = 0.0,
        scale: float = 1.0,
    ) -> None:
        self._hourly = read_hourly(hourly_file)
        self._daily: DailyFile | None = read_daily(daily_file, location) if daily_file else None
        self._seed = seed
        self._skill = Skill(bias, scale)
        _usable(self._hourly)
        self._stages: dict[str, Stage] = {}

    def allowed_days(self, site: Site) -> tuple[date, date]:
        """Return the first and the last local day for which a picture can be had.

        From the first day of the hours to the day after their last: on that
        day the newest measured hour is old, and the picture says so.
        """
        stage = self._stage(site)
        return date.fromordinal(stage.first_day), date.fromordinal(stage.last_day)

    def look(self, site: Site, at: datetime) -> WeatherPicture:
        """Return what was known at a moment; see `mebuki.rounds.ports.WeatherSource`.

        Raises
        ------
        mebuki.errors.InputError
            If the local day of the moment lies outside `allowed_days`.
        """
        stage = self._stage(site)
        today = at.astimezone(site.zone).date().toordinal()
        if not stage.first_day <= today <= stage.last_day:
            first, last = self.allowed_days(site)
            msg = (
                f"{date.fromordinal(today)} lies outside the weather series {self._hourly.name}; "
                f"allowed days are {first} to {last} ({site.time_zone})"
            )
            raise InputError(msg)
        begin = min(
            date(date.fromordinal(today).year - 1, 1, 1).toordinal(), today - LOOK_BACK_DAYS
        )
        opens = int(local_midnights(begin, begin, site.zone)[0])
        now = hour_number(at)
        known, rejected = check(self._hourly.series.between(opens, now + 1))
        measured, gap_remarks = bridge(_to_newest(known))
        run = run_of(now)
        valid = (measured.end, now + HORIZON + 1)
        ahead = forecast(stage.truth, stage.climate_mean, stage.errors, valid, run, self._skill)
        hourly = append_hours(measured, ahead)
        base = self._daily.series if self._daily else None
        daily = from_day(lay_over(daily_from_hourly(hourly, site.zone), base, today), begin)
        newest = hour_moment(measured.end - 1) if len(measured.origin) else None
        furthest = hour_moment(ahead.end - 1) if len(ahead.origin) else None
        count = len(rejected)
        doubts = (f"Measured values rejected as not possible: {count}.",) if count else ()
        return WeatherPicture(
            site=site,
            at=at,
            hourly=hourly,
            daily=daily,
            climate=stage.climate,
            measured_until=newest,
            forecast_until=furthest,
            provenance=self._provenance(measured, ahead, run),
            rejected=rejected,
            remarks=(
                *_on_climate(stage.climate),
                *self._on_forecast(ahead),
                *self._hourly.remarks,
                *(self._daily.remarks if self._daily else ()),
                *doubts,
                *gap_remarks,
                *missing_days(daily),
            ),
        )

    def _stage(self, site: Site) -> Stage:
        if site.time_zone not in self._stages:
            days = self._daily.series if self._daily else None
            self._stages[site.time_zone] = set_stage(
                self._hourly.series, days, site.zone, self._seed
            )
        return self._stages[site.time_zone]

    def _provenance(
        self, measured: HourlySeries, ahead: HourlySeries, run: int
    ) -> tuple[Provenance, ...]:
        sources = []
        if self._daily:
            days, file = self._daily.series, self._daily
            first, last = (
                datetime.combine(date.fromordinal(day), time(), UTC)
                for day in (days.start, days.end - 1)
            )
            what = f"measured days of {file.location}, season to date and past years"
            sources.append(Provenance(file.name, what, first, last, credit=file.credit))
        for part, what, made in ((measured, "measured hours", None), (ahead, "forecast", run)):
            if len(part.origin):
                first, last = hour_moment(part.start), hour_moment(part.end - 1)
                name = self._hourly.name if made is None else f"replay of {self._hourly.name}"
                moment = None if made is None else hour_moment(made)
                credit = self._hourly.credit
                sources.append(Provenance(name, what, first, last, moment, credit=credit))
        return tuple(sources)

    def _on_forecast(self, ahead: HourlySeries) -> tuple[str, ...]:
        end = self._hourly.series.end
        if not len(ahead.origin):
            return ("The series ends here: there is no forecast.",)
        said = "The forecast is replayed: the measured series with an error that grows with lead."
        if ahead.end <= end or not self._daily:
            return (said,)
        last = f"{hour_moment(end - 1):%Y-%m-%d %H:%M} UTC"
        drawn = f"Hours after {last} are drawn from the daily extremes of {self._daily.name}."
        return (said, drawn)


def _usable(file: HourlyFile) -> None:
    known = int(np.isfinite(file.series.air_temperature).sum())
    checked, _ = check(file.series, doubt_newest=False)
    left = int(np.isfinite(checked.air_temperature).sum())
    if left * 2 < known:
        msg = (
            f"{file.name}, column temp_c: {known - left} of {known} values cannot be "
            "air temperatures; degrees Celsius from a sound instrument are needed"
        )
        raise TableError(msg)


def _to_newest(known: HourlySeries) -> HourlySeries:
    """Cut the hours after the newest one with an air temperature; a forecast stands there."""
    there = np.flatnonzero(np.isfinite(known.air_temperature))
    newest = int(there[-1]) + 1 if len(there) else 0
    return known.between(known.start, known.start + newest)


def _on_climate(climate: Climate) -> tuple[str, ...]:
    count = len(climate.years)
    if not count:
        return ("There are no past years: nothing is known beyond the forecast.",)
    if count >= ENOUGH_YEARS:
        return ()
    years = ", ".join(str(year) for year in climate.years)
    noun = "year" if count == 1 else "years"
    return (f"Only {count} past {noun} ({years}): the spread is a rough one.",)
