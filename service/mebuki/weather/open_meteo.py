"""Open-Meteo: the questions. Forecast, season to date, ensembles, archive, elevation, names.

Always in UTC, unix time and hours: a local answer has one offset for all its
days, also for those beyond a change of the clocks. What the free service
counts a call for is its published weight: per place, variables times members
by ten, and by fourteen days where there are more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import hour_moment
from mebuki.weather.answers import Answer, ProviderError
from mebuki.weather.asking import Request
from mebuki.weather.cells import Cell, plain
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.open_meteo_answers import (
    FORECAST_COLUMNS,
    Ensemble,
    parse_ensemble,
    parse_hourly,
)
from mebuki.weather.provider import Reading

NAME, TITLE = "open-meteo", "Open-Meteo"
PAST_DAYS, FORECAST_DAYS = 3, 16
ENSEMBLE_DAYS = 15
ARCHIVE_VARIABLES = ("temperature_2m", "precipitation", "wind_speed_10m")
ARCHIVE_MODEL = "era5_seamless"
MEAN_MODEL, MEMBERS_MODEL = "ecmwf_ifs025_ensemble_mean", "ncep_gefs_seamless"
MEMBERS = 31
HISTORY_SINCE = date(2022, 1, 1)
"""First day of which forecasts are kept for all models; before it only the archive has hours."""

KEEP = timedelta(minutes=50)
ENSEMBLE_KEEP = timedelta(hours=11)
ARCHIVE_PATIENCE = 120.0

_HOSTS = {
    "forecast": "https://api.open-meteo.com/v1/forecast",
    "history": "https://historical-forecast-api.open-meteo.com/v1/forecast",
    "archive": "https://archive-api.open-meteo.com/v1/archive",
    "ensemble": "https://ensemble-api.open-meteo.com/v1/ensemble",
    "elevation": "https://api.open-meteo.com/v1/elevation",
    "geocoding": "https://geocoding-api.open-meteo.com/v1/search",
}
_UNITS = (("timezone", "GMT"), ("timeformat", "unixtime"), ("wind_speed_unit", "ms"))


@dataclass(frozen=True, slots=True)
class Addresses:
    """Where each kind of question goes, and the key of a paid plan, if there is one.

    With a key and no address of one's own, questions go to the hosts for paying customers.
    """

    own: Mapping[str, str] = field(default_factory=dict)
    key: str = ""

    def of(self, kind: str) -> str:
        """Return the address for ``forecast``, ``history``, ``archive``, ..."""
        usual = _HOSTS[kind]
        paid = usual.replace("https://", "https://customer-")
        return self.own.get(kind) or (paid if self.key else usual)

    @property
    def secret(self) -> Mapping[str, str]:
        """The key as a parameter."""
        return {"apikey": self.key} if self.key else {}


def weight(variables: int, days: float, members: int = 1) -> float:
    """Return what a call for one place counts for.

    >>> round(weight(12, 16 + 7), 1), round(weight(10, 205), 1), weight(4, 16)
    (2.0, 14.6, 1.0)
    """
    tenth = variables * members / 10
    return max(1.0, tenth, tenth * days / 14)


def forecast_request(addresses: Addresses, cell: Cell) -> Request:
    """Return the question for the last 3 days and the next 16."""
    parameters = (
        ("hourly", ",".join(FORECAST_COLUMNS)),
        ("past_days", str(PAST_DAYS)),
        ("forecast_days", str(FORECAST_DAYS)),
    )
    heavy = weight(len(FORECAST_COLUMNS), PAST_DAYS + FORECAST_DAYS)
    return _hourly(addresses, "forecast", cell, parameters, heavy)


def history_request(addresses: Addresses, cell: Cell, first: date, last: date) -> Request:
    """Return the question for past days as the forecasts of then had their first hours."""
    parameters = (("hourly", ",".join(FORECAST_COLUMNS)), *_between(first, last))
    heavy = weight(len(FORECAST_COLUMNS), (last - first).days + 1)
    return _hourly(addresses, "history", cell, parameters, heavy, past=True)


def archive_request(
    addresses: Addresses, cell: Cell, first: date, last: date,
    variables: Sequence[str] = ARCHIVE_VARIABLES,
) -> Request:  # fmt: skip
    """Return the question for past years of the reanalysis, one model throughout."""
    parameters = (
        ("hourly", ",".join(variables)), *_between(first, last), ("models", ARCHIVE_MODEL),
    )  # fmt: skip
    heavy = weight(len(variables), (last - first).days + 1)
    return _hourly(addresses, "archive", cell, parameters, heavy, past=True)


def ensemble_request(addresses: Addresses, cell: Cell, members: bool = False) -> Request:
    """Return the question for an ensemble's mean and spread, or for its members."""
    columns = "temperature_2m" if members else "temperature_2m,temperature_2m_spread"
    parameters = (
        ("models", MEMBERS_MODEL if members else MEAN_MODEL),
        ("hourly", columns),
        ("forecast_days", str(FORECAST_DAYS if members else ENSEMBLE_DAYS)),
    )
    heavy = weight(1, FORECAST_DAYS, MEMBERS) if members else weight(2, ENSEMBLE_DAYS)
    return _hourly(addresses, "ensemble", cell, parameters, heavy, keep=ENSEMBLE_KEEP)


def elevation_request(addresses: Addresses, latitude: float, longitude: float) -> Request:
    """Return the question for the height of a place, its coordinates rounded."""
    parameters = (("latitude", plain(latitude)), ("longitude", plain(longitude)))
    url = addresses.of("elevation")
    return Request(NAME, "elevation", url, parameters, addresses.secret, keep=timedelta(days=1))


def geocoding_request(addresses: Addresses, name: str, language: str = "en") -> Request:
    """Return the question for places of a name."""
    parameters = (("name", name), ("count", "10"), ("language", language), ("format", "json"))
    url = addresses.of("geocoding")
    return Request(NAME, "places by name", url, parameters, addresses.secret, stored=False)


def _between(first: date, last: date) -> tuple[tuple[str, str], ...]:
    return (("start_date", first.isoformat()), ("end_date", last.isoformat()))


def _hourly(
    addresses: Addresses, kind: str, cell: Cell, parameters: tuple[tuple[str, str], ...],
    heavy: float, *, past: bool = False, keep: timedelta = KEEP,
) -> Request:  # fmt: skip
    place = (
        ("latitude", plain(cell.latitude)),
        ("longitude", plain(cell.longitude)),
        ("elevation", plain(cell.elevation)),
    )
    return Request(
        NAME, f"{kind} for {cell.name}", addresses.of(kind), (*place, *parameters, *_UNITS),
        addresses.secret, keep=keep, weight=heavy, stored=not past,
        patience=ARCHIVE_PATIENCE if past else 60.0,
    )  # fmt: skip


class OpenMeteo:
    """The provider: all quantities, past and future, the whole globe; terms in `terms`."""

    name, title = NAME, TITLE

    def __init__(self, addresses: Addresses | None = None) -> None:
        self.addresses = addresses or Addresses()

    def serves(self, cell: Cell) -> bool:
        """Everywhere."""
        return True

    def requests(self, cell: Cell, at: datetime) -> tuple[Request, ...]:
        """Return forecast, season to date, ensemble and one part of the archive."""
        today = at.astimezone(UTC).date()
        season = date(today.year - 1, 1, 1)
        years = date(today.year - 5, 1, 1), date(today.year - 1, 12, 31)
        return (
            forecast_request(self.addresses, cell),
            history_request(self.addresses, cell, season, today - timedelta(days=1)),
            ensemble_request(self.addresses, cell),
            archive_request(self.addresses, cell, *years),
        )

    def current(self, client: WeatherClient, cell: Cell, at: datetime) -> Reading:
        """Return the last three days and the forecast."""
        request = forecast_request(self.addresses, cell)
        got = client.get(request, lambda content: parse_hourly(content, (cell,))[0])
        return Reading(got.value, got.snapshot.fetched, got.snapshot.checked, got.problem)

    def past(self, client: WeatherClient, cell: Cell, first: int, stop: int) -> tuple[Answer, ...]:
        """Return past hours: of kept forecasts where there are any, else of the archive."""
        begin, end = hour_moment(first).date(), hour_moment(stop - 1).date()
        answers = []
        if end >= HISTORY_SINCE:
            request = history_request(self.addresses, cell, max(begin, HISTORY_SINCE), end)
            try:
                answers.append(
                    client.get(request, lambda body: parse_hourly(body, (cell,))[0]).value
                )
            except ProviderError:
                return (self._reanalysis(client, cell, begin, end),)
        if begin < HISTORY_SINCE:
            last = min(end, HISTORY_SINCE + timedelta(days=90))
            answers.insert(0, self._reanalysis(client, cell, begin, last))
        return tuple(answers)

    def _reanalysis(self, client: WeatherClient, cell: Cell, first: date, last: date) -> Answer:
        answer = self.archive(client, cell, first, last, tuple(FORECAST_COLUMNS))
        said = f"Hours from {first} to {last} come from the reanalysis, not from forecasts kept."
        return replace(answer, remarks=(*answer.remarks, said))

    def archive(
        self, client: WeatherClient, cell: Cell, first: date, last: date,
        variables: Sequence[str] = ARCHIVE_VARIABLES,
    ) -> Answer:  # fmt: skip
        """Return hours of the reanalysis.

        Raises
        ------
        ProviderError
            If there is no good answer.
        """
        request = archive_request(self.addresses, cell, first, last, variables)
        return client.get(request, lambda content: parse_hourly(content, (cell,))[0]).value

    def ensemble(self, client: WeatherClient, cell: Cell, members: bool = False) -> Ensemble:
        """Return how far an ensemble spreads.

        Raises
        ------
        ProviderError
            If there is no good answer.
        """
        request = ensemble_request(self.addresses, cell, members)
        return client.get(request, lambda content: parse_ensemble(content, cell)).value

    def warnings(
        self,
        client: WeatherClient,
        cell: Cell,
        at: datetime,
    ) -> tuple[OfficialWarning, ...] | None:
        """Return none: it issues no warnings."""
        return None
