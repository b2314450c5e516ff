"""Checks against series that may be read but not redistributed.

The series come with packages under the GPL: Klein-Altendorf, Tudela and
Winters (chillR), Göttingen and Menzel's dates (vegperiod), Esparto (degday).
They stay out of the repository; with a folder that holds them the checks run::

    ./deploy/test tests tests/season/test_withheld_series.py --check-data FOLDER
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from mebuki.domain.weather import Floats
from mebuki.season.alternatives import Setting, menzel
from mebuki.season.bud_break import CWTT
from mebuki.season.chill import chill_portions, chilling_hours, utah_units
from mebuki.season.crossing import event_days
from mebuki.season.degree_days import Cutoff, Method, degree_days
from mebuki.season.hours import hourly_temperature
from tests.season.clock_tables import rows_of

LATITUDE = 50.4
"""Of Klein-Altendorf [degrees]."""

GOETTINGEN = {
    135: (82, 88, 73, 76, 85, 91, 87),
    218: (103, 99, 87, 92, 96, 103, 99),
    300: (118, 114, 106, 106, 110, 116, 114),
    400: (133, 127, 123, 124, 127, 127, 127),
}
"""Day of year of the event in 2002 to 2008 by requirement, from an independent calculation."""

MENZEL = {
    "Larix decidua": (7, 3, 1372, -246),
    "Picea abies (frueh)": (9, 4, 1848, -317),
    "Picea abies (spaet)": (9, 5, 1616, -274),
    "Picea abies (noerdl.)": (9, 4, 2084, -350),
    "Picea omorika": (7, 3, 2833, -484),
    "Pinus sylvestris": (9, 5, 1395, -223),
    "Betula pubescens": (9, 5, 1438, -261),
    "Quercus robur": (9, 4, 1748, -298),
    "Quercus petraea": (9, 3, 1741, -282),
    "Fagus sylvatica": (9, 6, 1922, -348),
}
"""Menzel (1997): chill below, base [°C], a, b [°C d] by species, as vegperiod names them."""


@pytest.fixture(scope="module")
def folder(request: pytest.FixtureRequest) -> Path:
    """Return the folder of withheld series, or skip."""
    given = request.config.getoption("--check-data")
    if given is None:
        pytest.skip("needs --check-data: the series may not be redistributed")
    return Path(given)


def _column(rows: list[dict[str, str]], name: str) -> Floats:
    return np.array([float(row[name] if row[name] not in ("", "NA") else "nan") for row in rows])


@pytest.mark.parametrize(
    "name",
    [
        "chill_real_KA_2008_09_hourly_expected.csv",
        "chill_real_Tudela_2004_05_hourly_expected.csv",
        "chill_real_hourly_Winters2008.csv",
    ],
)
def test_chill_agrees_hour_by_hour_with_chillr(folder: Path, name: str) -> None:
    """Chilling hours and Utah units exactly, portions within 0.01 (chillR 0.77)."""
    rows = rows_of(folder / name)
    temperature = _column(rows, "Temp")
    np.testing.assert_allclose(chilling_hours(temperature), _column(rows, "CH_cum"), atol=1e-9)
    np.testing.assert_allclose(utah_units(temperature), _column(rows, "Utah_cum"), atol=1e-9)
    expected = _column(rows, "CP_cum_chilling")
    np.testing.assert_allclose(chill_portions(temperature), expected, atol=0.01)


def test_chill_of_eleven_winters_from_daily_extremes(folder: Path) -> None:
    """Klein-Altendorf, 1 November to 1 March: portions within 1.5, hours and units near chillR."""
    rows = rows_of(folder / "klein_altendorf_daily_1998_2010.csv")
    days = [date(int(row["Year"]), int(row["Month"]), int(row["Day"])) for row in rows]
    of_year = np.array([day.timetuple().tm_yday for day in days])
    hours = hourly_temperature(_column(rows, "Tmin"), _column(rows, "Tmax"), of_year, LATITUDE)
    for row in rows_of(folder / "check_KA_seasons_chilling_305_60.csv"):
        end = int(row["End_year"])
        first = days.index(date(end - 1, 11, 1))
        # day 305 of a leap year is 31 October, day 60 is 29 February
        first -= (end - 1) % 4 == 0
        winter = hours[first : first + int(row["Season_days"])].ravel()
        portions = float(chill_portions(winter)[-1])
        assert portions == pytest.approx(float(row["Chill_portions"]), abs=1.5), end
        total = float(chilling_hours(winter)[-1])
        assert total == pytest.approx(float(row["Chilling_Hours"]), rel=0.015), end


@pytest.mark.parametrize("requirement", GOETTINGEN)
def test_bud_break_in_goettingen_to_the_day(folder: Path, requirement: int) -> None:
    """Chill-weighted thermal time on daily means of 2001 to 2008."""
    rows = rows_of(folder / "goettingen_daily_mean_2001_2008.csv")
    mean = _column(rows, "t")
    start = date(2001, 1, 1).toordinal()
    for season, expected in zip(range(2002, 2009), GOETTINGEN[requirement], strict=True):
        progress = CWTT.read(mean[np.newaxis], start, season, 51.5)
        day = start + int(event_days(progress, [requirement])[0, 0])
        assert date.fromordinal(day).timetuple().tm_yday == expected, season


def test_menzels_dates_in_goettingen_to_the_day(folder: Path) -> None:
    """Ten taxa in seven years, as the package vegperiod gives them."""
    mean = _column(rows_of(folder / "goettingen_daily_mean_2001_2008.csv"), "t")
    start = date(2001, 1, 1).toordinal()
    compared = 0
    for row in rows_of(folder / "menzel1997_goettingen_expected.csv"):
        chill_below, base, a, b = MENZEL[row["species"]]
        season = int(row["year"])
        parameters = {"chill_below": chill_below, "base": base, "a": a, "b": b}
        margin = menzel(mean, Setting(start, season, 51.5), parameters)
        day = date.fromordinal(start + int(np.argmax(margin >= 0)))
        assert day.timetuple().tm_yday == int(row["start"]), row
        compared += 1
    assert compared == 70


def test_degree_days_of_a_year_in_esparto(folder: Path) -> None:
    """Every method on 366 days, thresholds 55 and 87 °F, horizontal (degday)."""
    rows = rows_of(folder / "degday_esparto2020_F_55_87_horizontal.csv")
    methods = {
        "simp_avg": Method.AVERAGE,
        "sng_tri": Method.SINGLE_TRIANGLE,
        "sng_sine": Method.SINGLE_SINE,
        "dbl_tri": Method.DOUBLE_TRIANGLE,
        "dbl_sine": Method.DOUBLE_SINE,
    }
    extremes = (_column(rows, "tmin"), _column(rows, "tmax"))
    tomorrow = _column(rows, "next_tmin")
    tomorrow = np.where(np.isnan(tomorrow), extremes[0], tomorrow)
    for column, method in methods.items():
        found = degree_days(*extremes, 55, 87, method, Cutoff.HORIZONTAL, next_minimum=tomorrow)
        np.testing.assert_allclose(found, _column(rows, column), atol=1e-5)
