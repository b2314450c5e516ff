"""Which season a day belongs to, and where chill and forcing begin in it.

A season is named by the calendar year of its spring. Northern season 2013 runs
from 1 November 2012 to 31 October 2013; southern season 2013 from 1 May 2013
to 30 April 2014. All bounds are calendar dates, so leap years need no care.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from mebuki.domain.weather import Ints

CHILL_START = {False: (11, 1), True: (5, 1)}
"""Month and day on which chill begins to count, by ``southern``."""

FORCING_START = {False: (2, 8), True: (8, 9)}
"""Month and day from which warmth counts in chill-weighted thermal time."""

SOLSTICE = {False: (12, 22), True: (6, 21)}
"""The winter solstice, the first day on which a day length may start a clock."""

MIDWINTER = {False: (1, 15), True: (7, 15)}
"""The usual coldest day, from which warmth undoes hardening."""

MIDSUMMER = {False: (7, 15), True: (1, 15)}
"""The usual warmest day: frost before it is spring frost, after it autumn frost."""


def season_start(season: int, southern: bool) -> int:
    """Return the ordinal of the first day of a season, which is the first of its chill.

    >>> date.fromordinal(season_start(2013, southern=False))
    datetime.date(2012, 11, 1)
    >>> date.fromordinal(season_start(2013, southern=True))
    datetime.date(2013, 5, 1)
    """
    year = season if southern else season - 1
    return date(year, *CHILL_START[southern]).toordinal()


def season_days(season: int, southern: bool) -> range:
    """Return the ordinals of all days of a season (365 or 366)."""
    return range(season_start(season, southern), season_start(season + 1, southern))


def season_of(day: date, southern: bool) -> int:
    """Return the season to which a day belongs.

    >>> season_of(date(2012, 11, 1), southern=False), season_of(date(2014, 4, 30), southern=True)
    (2013, 2013)
    """
    begun = (day.month, day.day) >= CHILL_START[southern]
    if southern:
        return day.year if begun else day.year - 1
    return day.year + 1 if begun else day.year


def forcing_start(season: int, southern: bool) -> int:
    """Return the ordinal of the day from which warmth counts (8 February, 9 August)."""
    return date(season, *FORCING_START[southern]).toordinal()


def solstice(season: int, southern: bool) -> int:
    """Return the ordinal of the winter solstice of a season (22 December, 21 June)."""
    year = season if southern else season - 1
    return date(year, *SOLSTICE[southern]).toordinal()


def midwinter(season: int, southern: bool) -> int:
    """Return the ordinal of the usual coldest day of a season (15 January, 15 July)."""
    return date(season, *MIDWINTER[southern]).toordinal()


def midsummer(season: int, southern: bool) -> int:
    """Return the ordinal of the usual warmest day of a season (15 July, 15 January)."""
    year = season + 1 if southern else season
    return date(year, *MIDSUMMER[southern]).toordinal()


def spring_frost_days(season: int, southern: bool) -> range:
    """Return the days in which the last spring frost is sought: midwinter to midsummer."""
    return range(midwinter(season, southern), midsummer(season, southern))


def autumn_frost_days(season: int, southern: bool) -> range:
    """Return the days in which the first autumn frost is sought: midsummer to midwinter.

    They run past the end of the season, for in mild places the first frost
    comes after it.
    """
    return range(midsummer(season, southern), midwinter(season + 1, southern))


def days_of_year(ordinals: Ints) -> Ints:
    """Return the day of the year (1 to 366) of each ordinal."""
    days = np.asarray(ordinals, dtype=np.int64)
    # numpy counts days from 1970-01-01, whose proleptic ordinal is 719163
    dates = (days - 719_163).astype("datetime64[D]")
    years = dates.astype("datetime64[Y]").astype("datetime64[D]")
    passed: Ints = (dates - years).astype(np.int64)
    return passed + 1


def calendar_slots(ordinals: Ints) -> Ints:
    """Return the slot of each day in a `mebuki.domain.weather.Climate` (0 to 365).

    The same as `mebuki.domain.weather.calendar_slot`, for many days at once.
    """
    days = np.asarray(ordinals, dtype=np.int64)
    past = days_of_year(days) - 1
    years = (days - 719_163).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970
    leap = (years % 4 == 0) & ((years % 100 != 0) | (years % 400 == 0))
    slots: Ints = past + (~leap & (past >= 59))
    return slots
