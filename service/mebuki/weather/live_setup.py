"""Builds live weather from plain settings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Protocol

from mebuki.clock import Clock
from mebuki.errors import InputError
from mebuki.weather.bright_sky import BrightSky
from mebuki.weather.http_client import WeatherClient
from mebuki.weather.live import LiveSource, Parts
from mebuki.weather.met_norway import MetNorway
from mebuki.weather.nws import Nws
from mebuki.weather.open_meteo import Addresses, OpenMeteo
from mebuki.weather.provider import Provider
from mebuki.weather.snapshots import FileSnapshots, SnapshotStore
from mebuki.weather.terms import commercial_advice, limits_by_provider


class LiveSettings(Protocol):
    """The settings that live weather reads; see `mebuki.settings.Settings`."""

    @property
    def contact(self) -> str: ...  # noqa: D102 (described in Settings, as are those below)
    @property
    def weather_providers(self) -> str: ...  # noqa: D102
    @property
    def commercial(self) -> bool: ...  # noqa: D102
    @property
    def cache_dir(self) -> Path: ...  # noqa: D102
    @property
    def weather_cell(self) -> float: ...  # noqa: D102
    @property
    def open_meteo_secret(self) -> str: ...  # noqa: D102
    @property
    def open_meteo_forecast_url(self) -> str: ...  # noqa: D102
    @property
    def open_meteo_history_url(self) -> str: ...  # noqa: D102
    @property
    def open_meteo_archive_url(self) -> str: ...  # noqa: D102
    @property
    def open_meteo_ensemble_url(self) -> str: ...  # noqa: D102
    @property
    def open_meteo_elevation_url(self) -> str: ...  # noqa: D102
    @property
    def open_meteo_geocoding_url(self) -> str: ...  # noqa: D102
    @property
    def met_norway_url(self) -> str: ...  # noqa: D102
    @property
    def nws_url(self) -> str: ...  # noqa: D102
    @property
    def bright_sky_url(self) -> str: ...  # noqa: D102


def addresses(settings: LiveSettings) -> Addresses:
    """Return where Open-Meteo's questions go."""
    own = {
        "forecast": settings.open_meteo_forecast_url,
        "history": settings.open_meteo_history_url,
        "archive": settings.open_meteo_archive_url,
        "ensemble": settings.open_meteo_ensemble_url,
        "elevation": settings.open_meteo_elevation_url,
        "geocoding": settings.open_meteo_geocoding_url,
    }
    return Addresses({kind: url for kind, url in own.items() if url}, settings.open_meteo_secret)


def order(settings: LiveSettings) -> tuple[str, ...]:
    """Return the services' words in the order they are tried, each once.

    Raises
    ------
    InputError
        If a business would use a service that does not allow it.
    """
    words = tuple(dict.fromkeys(one.strip() for one in settings.weather_providers.split(",")))
    if settings.commercial and "open-meteo" in words and not _paid(settings):
        advice = "\n".join(f"  {line}" for line in commercial_advice(words, has_key=False))
        msg = f"MEBUKI_COMMERCIAL is set; take open-meteo out or give its key:\n{advice}"
        raise InputError(msg)
    return words


def providers(settings: LiveSettings) -> tuple[Provider, ...]:
    """Return the providers in the order they are tried."""
    makers: Mapping[str, Callable[[], Provider]] = {
        "open-meteo": lambda: OpenMeteo(addresses(settings)),
        "met-norway": lambda: MetNorway(settings.met_norway_url),
        "nws": lambda: Nws(settings.nws_url),
        "bright-sky": lambda: BrightSky(settings.bright_sky_url),
    }
    return tuple(makers[word]() for word in order(settings))


def weather_client(settings: LiveSettings, clock: Clock, snapshots: SnapshotStore) -> WeatherClient:
    """Return the client with the limits that hold for this install.

    Raises
    ------
    InputError
        If there is no contact.
    """
    paid = ("open-meteo",) if _paid(settings) else ()
    return WeatherClient(settings.contact, snapshots, clock, limits_by_provider(paid))


def snapshot_folder(settings: LiveSettings) -> FileSnapshots:
    """Return the store under the cache folder."""
    return FileSnapshots(settings.cache_dir / "weather")


def live_source(
    settings: LiveSettings, clock: Clock, snapshots: SnapshotStore | None = None
) -> LiveSource:
    """Return live weather.

    Raises
    ------
    InputError
        If there is no contact, or a business would use a service that does not allow it.
    """
    store = snapshots or snapshot_folder(settings)
    chosen = providers(settings)
    archive = next((one for one in chosen if isinstance(one, OpenMeteo)), None)
    client = weather_client(settings, clock, store)
    return LiveSource(
        chosen, client, store, clock, Parts(archive=archive), cell_degrees=settings.weather_cell
    )


def _paid(settings: LiveSettings) -> bool:
    own = addresses(settings)
    return bool(own.key or own.own.get("forecast"))
