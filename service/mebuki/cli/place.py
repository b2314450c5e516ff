"""``mebuki place NAME``: find a place by name; the keeper confirms coordinates and height."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from mebuki.weather.http_client import WeatherClient
    from mebuki.weather.open_meteo import Addresses
    from mebuki.weather.open_meteo_places import FoundPlace


def place(
    name: Annotated[str, typer.Argument(help="A town or village, three letters or more.")],
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the candidates as JSON; ask nothing.")
    ] = False,
    terms: Annotated[
        bool, typer.Option("--terms", help="Also tell what each weather service asks in return.")
    ] = False,
) -> None:
    """Find a place by name and print the lines for the garden file once it is confirmed."""
    from mebuki.clock import SystemClock
    from mebuki.errors import InputError
    from mebuki.settings import read_settings
    from mebuki.weather.live_setup import addresses, snapshot_folder, weather_client
    from mebuki.weather.open_meteo import geocoding_request
    from mebuki.weather.open_meteo_places import parse_places

    settings = read_settings()
    client = weather_client(settings, SystemClock(), snapshot_folder(settings))
    found = client.get(geocoding_request(addresses(settings), name), parse_places).value
    if not found:
        msg = f"no place is called {name}; try a larger town near it"
        raise InputError(msg)
    if as_json:
        typer.echo(json.dumps([as_data(one) for one in found], indent=2, ensure_ascii=False))
        return
    typer.echo("\n".join(candidates(found)))
    chosen = measured_height(choose(found, _prompt), client, addresses(settings))
    confirm(chosen, _prompt)
    typer.echo("\n".join(("", "Put this into your garden file:", "", *site_lines(chosen))))
    if terms:
        from mebuki.weather.terms import TERMS

        typer.echo("")
        for one in TERMS.values():
            business = "businesses may use it" if one.commercial else "not for businesses"
            typer.echo(f"{one.title}: {business}; needs {one.needs}. {one.credit} {one.link}")


def candidates(found: Sequence[FoundPlace]) -> list[str]:
    """Return a numbered line for each place."""
    return [
        f"{number:>2}  {', '.join(filter(None, (one.name, one.region, one.country)))}: "
        f"{_where(one)}, {one.time_zone or 'zone unknown'}"
        for number, one in enumerate(found, start=1)
    ]


def choose(found: Sequence[FoundPlace], ask: Callable[[str], str]) -> FoundPlace:
    """Return the place whose number is given.

    Raises
    ------
    mebuki.errors.InputError
        If the answer is no number of the list.
    """
    from mebuki.errors import InputError

    answer = ask(f"Which one (1 to {len(found)})").strip()
    if not (answer.isascii() and answer.isdigit() and 1 <= int(answer[:4]) <= len(found)):
        msg = f"{answer:.20} is no number of the list"
        raise InputError(msg)
    return found[int(answer[:4]) - 1]


def confirm(chosen: FoundPlace, ask: Callable[[str], str]) -> None:
    """Return if the keeper agrees to coordinates and height.

    Raises
    ------
    mebuki.errors.InputError
        If not.
    """
    from mebuki.errors import InputError

    sure = ask(f"Are the trees near {_where(chosen)}? A hill or a valley makes degrees (yes/no)")
    if sure.strip().lower() not in {"y", "yes"}:
        msg = "not confirmed; put the coordinates and the height of your garden in by hand"
        raise InputError(msg)


def measured_height(chosen: FoundPlace, client: WeatherClient, addresses: Addresses) -> FoundPlace:
    """Return the place with the height of the ground there, as far as it can be had."""
    from dataclasses import replace

    from mebuki.weather.answers import ProviderError
    from mebuki.weather.open_meteo import elevation_request
    from mebuki.weather.open_meteo_places import parse_elevation

    # The height needs the place itself: 0.01 degrees, about a kilometre, leave the house.
    request = elevation_request(addresses, round(chosen.latitude, 2), round(chosen.longitude, 2))
    try:
        (height,) = client.get(request, parse_elevation).value
    except ProviderError:
        return chosen
    return replace(chosen, elevation=height)


def site_lines(one: FoundPlace) -> list[str]:
    """Return the lines of the garden file, coordinates rounded to about a kilometre."""
    height = 0 if math.isnan(one.elevation) else round(one.elevation)
    return [
        "[site]",
        f"name = {json.dumps(one.name, ensure_ascii=False)}",
        f"latitude = {one.latitude:.2f}",
        f"longitude = {one.longitude:.2f}",
        f"elevation = {height}",
        f'time_zone = "{one.time_zone or "Etc/UTC"}"',
    ]


def as_data(one: FoundPlace) -> dict[str, object]:
    """Return a place for JSON."""
    return {
        "name": one.name,
        "region": one.region,
        "country": one.country,
        "latitude": one.latitude,
        "longitude": one.longitude,
        "elevation": None if math.isnan(one.elevation) else one.elevation,
        "time_zone": one.time_zone,
    }


def _height(one: FoundPlace) -> str:
    return "height unknown" if math.isnan(one.elevation) else f"{one.elevation:.0f} m"


def _where(one: FoundPlace) -> str:
    return f"{one.latitude:.4f}, {one.longitude:.4f}, {_height(one)}"


def _prompt(question: str) -> str:
    return str(typer.prompt(question))
