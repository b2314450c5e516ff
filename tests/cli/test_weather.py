"""``mebuki weather`` and ``mebuki place``: what is known, what would be asked, and where one is."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
import stamina
import typer
from typer.testing import CliRunner, Result

from mebuki.cli.place import candidates, choose, confirm, place
from mebuki.cli.weather import weather
from mebuki.clock import SystemClock
from mebuki.errors import FilesError, InputError
from mebuki.settings import Settings, read_settings
from mebuki.weather.live_setup import live_source, order
from mebuki.weather.open_meteo_places import parse_places
from tests.weather.invented_services import KINDS, Services
from tests.weather.loopback import Asked, Told, loopback
from tests.weather.provider_samples import SetClock, sample

APP = typer.Typer()
APP.command("weather")(weather)
APP.command("place")(place)


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Work in an empty folder, without pauses between tries."""
    monkeypatch.chdir(tmp_path)
    with stamina.set_testing(True, attempts=2, cap=True):
        yield


def run(*words: str, typed: str = "", **env: str) -> Result:
    """Run a command with some settings."""
    variables: dict[str, str | None] = {f"MEBUKI_{name}": value for name, value in env.items()}
    return CliRunner().invoke(APP, words, input=typed, env=variables)


def urls(address: str) -> dict[str, str]:
    """Return the settings that lead to invented services on loopback."""
    found = {f"OPEN_METEO_{kind.upper()}_URL": f"{address}/{kind}" for kind in KINDS}
    return found | {
        "MET_NORWAY_URL": f"{address}/met", "NWS_URL": f"{address}/nws",
        "BRIGHT_SKY_URL": f"{address}/sky", "CONTACT": "keeper@example.org",
    }  # fmt: skip


def test_a_dry_run_prints_the_requests_and_asks_nobody() -> None:
    """Hosts, paths and parameters are those the services document; no contact is needed."""
    found = run("weather", "--dry-run")
    assert found.exit_code == 0, found.output
    requests = [line.removeprefix("GET ") for line in found.output.splitlines()]
    parts = [urlsplit(one) for one in requests]
    assert [f"{one.netloc}{one.path}" for one in parts] == [
        "api.open-meteo.com/v1/forecast",
        "historical-forecast-api.open-meteo.com/v1/forecast",
        "ensemble-api.open-meteo.com/v1/ensemble",
        "archive-api.open-meteo.com/v1/archive",
        "api.met.no/weatherapi/locationforecast/2.0/complete",
        "api.weather.gov/points/40.65,-73.8",
        "api.weather.gov/alerts/active",
    ]
    forecast = {name: values[0] for name, values in parse_qs(parts[0].query).items()}
    assert forecast == {
        "latitude": "40.65", "longitude": "-73.8", "elevation": "0",
        "hourly": "temperature_2m,dew_point_2m,relative_humidity_2m,wind_speed_10m,"
        "precipitation,snowfall,shortwave_radiation,cloud_cover",
        "past_days": "3", "forecast_days": "16", "timezone": "GMT", "timeformat": "unixtime",
        "wind_speed_unit": "ms",
    }  # fmt: skip
    ensemble = parse_qs(parts[2].query)
    assert ensemble["models"] == ["ecmwf_ifs025_ensemble_mean"]
    assert ensemble["hourly"] == ["temperature_2m,temperature_2m_spread"]
    assert parse_qs(parts[3].query)["models"] == ["era5_seamless"]
    assert parse_qs(parts[4].query) == {"lat": ["40.65"], "lon": ["-73.8"], "altitude": ["0"]}
    assert parse_qs(parts[6].query) == {"point": ["40.65,-73.8"]}


def test_a_dry_run_hides_the_key_and_uses_the_hosts_of_the_plan() -> None:
    """With a key the questions go to the hosts for customers; the key is dots."""
    found = run("weather", "--dry-run", "--json", OPEN_METEO_KEY="s3cret")
    requests = json.loads(found.output)["requests"]
    assert requests[0].startswith("GET https://customer-api.open-meteo.com/v1/forecast?")
    assert requests[0].endswith("&apikey=…")
    assert "s3cret" not in found.output


def test_what_is_known_is_told_with_its_source_and_age() -> None:
    """From invented services: age, nights, sources with credits, nothing rejected."""
    services = Services(SetClock(SystemClock().now()))
    with loopback(services.answer) as address:
        told = run("weather", **urls(address))
        data = run("weather", "--json", **urls(address))
    assert told.exit_code == 0, told.exception
    assert re.search(r"newest hour .*, [01] h old: fresh", told.output)
    assert "forecast: Open-Meteo" in told.output
    assert "https://open-meteo.com/" in told.output
    assert "Rejected\n  nothing" in told.output
    assert "none known; that is no promise of mild nights" in told.output
    found = json.loads(data.output)
    assert found["freshness"] == "fresh"
    assert len(found["climate_years"]) >= 20
    assert found["provenance"][0]["provider"] == "Open-Meteo"


def test_without_a_contact_live_weather_does_not_start() -> None:
    """The error says which setting is missing."""
    found = run("weather")
    assert isinstance(found.exception, InputError)
    assert "MEBUKI_CONTACT" in str(found.exception)


def _places(asked: Asked) -> Told:
    name = "elevation" if "/elevation" in asked.path else "geocoding"
    if name == "elevation":
        return Told(200, b'{"elevation": [41.0]}')
    empty = "name=Nowhere" in asked.path
    return Told(200, sample(f"open_meteo_geocoding{'_empty' if empty else ''}.json"))


def test_a_place_is_found_and_confirmed() -> None:
    """The height is that of the ground; the lines for the garden file follow."""
    with loopback(_places) as address:
        found = run("place", "Tokyo", typed="1\nyes\n", **urls(address))
    assert found.exit_code == 0, found.exception
    assert " 1  Tokyo, Tokyo, Japan: 35.6895, 139.6917, 44 m, Asia/Tokyo" in found.output
    assert "41 m" in found.output
    assert "latitude = 35.69\nlongitude = 139.69\nelevation = 41" in found.output
    assert 'time_zone = "Asia/Tokyo"' in found.output


@pytest.mark.parametrize("typed", ["2\n", "x\n", "1\nno\n", "0\n"])
def test_a_place_that_is_not_confirmed_is_not_used(typed: str) -> None:
    """A wrong hill is worse than no hill."""
    with loopback(_places) as address:
        found = run("place", "Tokyo", typed=typed, **urls(address))
    assert isinstance(found.exception, InputError)
    assert "[site]" not in found.output


def test_places_as_json_ask_nothing() -> None:
    """A program may choose by itself."""
    with loopback(_places) as address:
        found = run("place", "Tokyo", "--json", **urls(address))
        nothing = run("place", "Nowhere", "--json", **urls(address))
    assert json.loads(found.output)[0]["elevation"] == 44.0
    assert isinstance(nothing.exception, InputError)
    assert "no place is called Nowhere" in str(nothing.exception)


def test_candidates_are_numbered_and_chosen_by_number() -> None:
    """Without a terminal too."""
    found = parse_places(sample("open_meteo_geocoding.json")) * 2
    assert [line[:2] for line in candidates(found)] == [" 1", " 2"]
    assert choose(found, lambda _: " 2 ") is found[1]
    confirm(found[0], lambda question: "y" if "35.6895" in question else "n")


def test_a_business_may_not_use_a_service_that_forbids_it() -> None:
    """Named with what to do; a key or another order lifts it."""
    with pytest.raises(InputError, match="no commercial use without a plan"):
        order(Settings(commercial=True))
    assert order(Settings(commercial=True, weather_providers="met-norway")) == ("met-norway",)
    assert "open-meteo" in order(
        Settings.model_validate({"commercial": True, "open_meteo_key": "k"})
    )


def test_the_order_of_providers_is_a_setting() -> None:
    """Each once, in the order named."""
    settings = Settings(contact="a@b.cd", weather_providers="nws, met-norway,nws")
    assert [one.name for one in live_source(settings, SystemClock()).providers] == [
        "nws", "met-norway",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("WEATHER_PROVIDERS", "open-meteo,unknown"),
        ("WEATHER_CELL", "5"),
        ("NWS_URL", "ftp://x.y"),
        ("MET_NORWAY_URL", "https://x.y/?key=1"),
    ],
)
def test_a_wrong_setting_is_named(name: str, value: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the variable and what was found."""
    monkeypatch.setenv(f"MEBUKI_{name}", value)
    with pytest.raises(FilesError, match=f"MEBUKI_{name}"):
        read_settings()


def test_the_key_may_come_from_a_file(tmp_path: Path) -> None:
    """Without its line end; an unreadable file is named; the key itself is never printed."""
    file = tmp_path / "key"
    file.write_text("s3cret\n")
    found = Settings(open_meteo_key_file=file).open_meteo_secret
    assert found + "\n" == file.read_text()
    assert "s3cret" not in repr(Settings.model_validate({"open_meteo_key": "s3cret"}))
    with pytest.raises(FilesError, match="MEBUKI_OPEN_METEO_KEY_FILE"):
        _ = Settings(open_meteo_key_file=tmp_path / "none").open_meteo_secret
