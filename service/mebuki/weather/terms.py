"""What each weather service asks in return: credit, who may use it, keys, and how much.

The figures are the services' published terms and limits as read in 2026; an
operator is told them at set-up, and each place that shows weather shows the credit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil
from types import MappingProxyType

from mebuki.weather.conduct import Limits
from mebuki.weather.open_meteo import ENSEMBLE_DAYS, FORECAST_DAYS, PAST_DAYS, weight
from mebuki.weather.open_meteo_answers import FORECAST_COLUMNS
from mebuki.weather.past_years import YEARS

HELD_BACK = 0.9
"""Share of a limit that is used; others behind the same address need some too."""

UNLIMITED = Limits()

PULLS_A_DAY, ENSEMBLES_A_DAY = 24, 2
DAYS_A_YEAR = 365


@dataclass(frozen=True, slots=True)
class Terms:
    """The terms of one service.

    ``commercial`` tells whether a nursery or host may use it without a plan;
    ``needs`` what else must be there, in words.
    """

    title: str
    credit: str
    link: str
    commercial: bool
    needs: str
    limits: Limits = UNLIMITED


TERMS: Mapping[str, Terms] = MappingProxyType(
    {
        "open-meteo": Terms(
            title="Open-Meteo",
            credit="Weather data by Open-Meteo.com (CC BY 4.0), changed: joined, checked and "
            "brought to the garden's height",
            link="https://open-meteo.com/",
            commercial=False,
            needs="nothing for private and other non-commercial use; a nursery or a paid host "
            "needs the Professional plan's key (MEBUKI_OPEN_METEO_KEY) or a server of its own, "
            "since the Standard plan has no archive, season to date or ensemble",
            limits=Limits(minute=600 * HELD_BACK, hour=5000 * HELD_BACK, day=10_000 * HELD_BACK),
        ),
        "met-norway": Terms(
            title="MET Norway",
            credit="Data from MET Norway (CC BY 4.0), changed: drawn by the hour",
            link="https://www.met.no/en",
            commercial=True,
            needs="your address in MEBUKI_CONTACT, without which it refuses",
        ),
        "nws": Terms(
            title="US National Weather Service",
            credit="Forecast and warnings: NOAA/National Weather Service (public domain), changed",
            link="https://www.weather.gov/",
            commercial=True,
            needs="your address in MEBUKI_CONTACT; the United States only",
        ),
        "bright-sky": Terms(
            title="Deutscher Wetterdienst (Bright Sky)",
            credit="Datenbasis: Deutscher Wetterdienst (CC BY 4.0), by way of Bright Sky, changed",
            link="https://www.dwd.de/",
            commercial=True,
            needs="nothing; Germany only",
        ),
    }
)
"""By the word used in settings."""

_ERA5 = (
    "Past years: ERA5, contains modified Copernicus Climate Change Service information, "
    "by Open-Meteo.com (CC BY 4.0) https://open-meteo.com/"
)


def credit_of(title: str) -> str:
    """Return the credit line with its link for a source as it is named in a provenance."""
    if title.startswith("ERA5"):
        return _ERA5
    found = next((one for one in TERMS.values() if one.title == title), None)
    return f"{found.credit} {found.link}" if found else ""


def limits_by_provider(paid: Iterable[str] = ()) -> dict[str, Limits]:
    """Return the limits to keep; those with a paid plan or an own server are not counted."""
    free = set(TERMS) - set(paid)
    return {name: TERMS[name].limits for name in free}


def commercial_advice(order: Iterable[str], has_key: bool) -> tuple[str, ...]:
    """Return what a nursery or host must know of the services it has set."""
    said = []
    for name in order:
        terms = TERMS[name]
        if terms.commercial:
            said.append(f"{terms.title}: commercial use is allowed. Needs: {terms.needs}.")
        elif has_key:
            said.append(f"{terms.title}: a key is set; check that the plan is Professional.")
        else:
            said.append(f"{terms.title}: no commercial use without a plan. Needs: {terms.needs}.")
    return tuple(said)


@dataclass(frozen=True, slots=True)
class Calls:
    """What so many cells weigh at Open-Meteo.

    ``daily`` is the weight a day once all is set up, ``first`` what each new
    cell weighs once, ``days_to_set_up`` how long the first pulls take within
    the daily limit, ``advice`` what to do.
    """

    daily: float
    first: float
    days_to_set_up: int
    within: bool
    advice: str


def calls(cells: int, pulls_a_day: int = PULLS_A_DAY) -> Calls:
    """Return the arithmetic of the free limits for so many cells.

    >>> calls(10).within
    True
    """
    variables = len(FORECAST_COLUMNS)
    forecast = weight(variables, PAST_DAYS + FORECAST_DAYS)
    daily = cells * (pulls_a_day * forecast + ENSEMBLES_A_DAY * weight(2, ENSEMBLE_DAYS))
    season = weight(variables, DAYS_A_YEAR * 1.5)
    years = weight(3, YEARS * DAYS_A_YEAR)
    limit = TERMS["open-meteo"].limits.day
    left = limit - daily
    within = left > 0
    days = ceil(cells * (season + years) / left) if within else 0
    if within:
        said = f"{cells} cells weigh {daily:.0f} of {limit:.0f} a day: within the free limits."
        if days > 1:
            said += f" Past years of all cells take {days} days to gather."
    else:
        pulls = int((limit / cells - ENSEMBLES_A_DAY) / forecast)
        slower = f"look {pulls} times a day at most, " if pulls >= 1 else ""
        said = (
            f"{cells} cells weigh {daily:.0f} a day, the free limit is {limit:.0f}: {slower}"
            "take wider cells (MEBUKI_WEATHER_CELL), put MET Norway first, "
            "or set a plan's key or a server of your own."
        )
    return Calls(daily, season + years, days, within, said)
