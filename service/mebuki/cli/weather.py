"""``mebuki weather``: what is known of a garden's weather, from whom, and how old it is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from datetime import datetime

    from mebuki.domain.warning import OfficialWarning
    from mebuki.domain.weather import WeatherPicture

REJECTED_SHOWN = 10
NEXT_NIGHTS = 5


def weather(
    garden: Annotated[
        Path | None, typer.Option(help="A garden file; the example garden if none is set.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print all of it as JSON.")] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Print the requests; ask nobody.")
    ] = False,
) -> None:
    """Show what is known of the weather at a garden, from whom and how old it is."""
    from mebuki.clock import SystemClock
    from mebuki.rulebook import read_garden, read_rulebook, read_taxa, shipped_config
    from mebuki.settings import read_settings
    from mebuki.weather.live_setup import live_source

    settings = read_settings()
    taxa, rulebook = read_taxa(settings.config_dir), read_rulebook(settings.config_dir)
    file = garden or settings.garden_file or shipped_config() / "garden.example.toml"
    site = read_garden(file, taxa, substrates=rulebook.substrates).site
    now = SystemClock().now()
    if dry_run:
        from mebuki.weather.cells import cell_of
        from mebuki.weather.live_setup import providers

        cell = cell_of(site, settings.weather_cell)
        asked = [
            one.shown()
            for provider in providers(settings)
            if provider.serves(cell)
            for one in provider.requests(cell, now)
        ]
        typer.echo(json.dumps({"requests": asked}, indent=2) if as_json else "\n".join(asked))
        return
    picture = live_source(settings, SystemClock()).look(site, now)
    typer.echo(as_data(picture) if as_json else "\n".join(lines(picture)))


def lines(picture: WeatherPicture) -> Iterator[str]:
    """Yield the picture in words, a line each."""
    site = picture.site
    where = f"{site.latitude:.2f}, {site.longitude:.2f}, {site.elevation:g} m"
    yield f"Weather for {site.name} ({where})"
    if picture.measured_until is None:
        yield "  Nothing is measured: the coming nights cannot be seen."
    else:
        yield (
            f"  newest hour {_local(picture, picture.measured_until)}, "
            f"{picture.age_hours:.0f} h old: {picture.freshness}"
        )
    if picture.forecast_until is not None:
        yield f"  forecast until {_local(picture, picture.forecast_until)}"
    if picture.disagreement is not None:
        yield f"  two services differ by {picture.disagreement:.1f} °C"
    yield "Coming nights"
    yield from _nights(picture)
    yield "Official warnings"
    yield from _warnings(picture)
    yield "From"
    yield from _sources(picture)
    yield "Rejected"
    for rejected in picture.rejected[-REJECTED_SHOWN:]:
        moment = f"{rejected.at:%Y-%m-%d %H:%M} UTC"
        yield f"  {rejected.quantity} {rejected.value:g} at {moment}: {rejected.rule}"
    if not picture.rejected:
        yield "  nothing"
    yield "To know"
    for remark in picture.remarks:
        yield f"  {remark}"


def _sources(picture: WeatherPicture) -> Iterator[str]:
    for source in picture.provenance:
        days = f"{source.first:%Y-%m-%d} to {source.last:%Y-%m-%d}"
        fetched = f", fetched {_local(picture, source.fetched)}" if source.fetched else ""
        yield f"  {source.what}: {source.provider}, {days}{fetched}"
        if source.credit:
            yield f"    {source.credit}"


def _nights(picture: WeatherPicture) -> Iterator[str]:
    from datetime import date

    today = picture.at.astimezone(picture.site.zone).date().toordinal()
    first = max(today - picture.daily.start, 0)
    for day, low in list(zip(picture.daily.days, picture.daily.minimum, strict=True))[
        first : first + NEXT_NIGHTS
    ]:
        known = "not known" if isnan(low) else f"lowest {low:.1f} °C".replace("-", "−")
        yield f"  {date.fromordinal(int(day)):%a %d %b}: {known}"


def _warnings(picture: WeatherPicture) -> Iterator[str]:
    for one in picture.warnings:
        begins = _local(picture, one.onset) if one.onset else "now"
        end = one.ends or one.expires
        span = f"{begins} to {_local(picture, end) if end else 'an open end'}"
        yield f"  {one.event} ({one.issuer}, issued {_local(picture, one.sent)}): {span}"
        for text in (one.headline, one.link):
            if text:
                yield f"    {text}"
    if not picture.warnings:
        yield "  none known; that is no promise of mild nights"


def _local(picture: WeatherPicture, at: datetime) -> str:
    return f"{at.astimezone(picture.site.zone):%d %b %H:%M}"


def as_data(picture: WeatherPicture) -> str:
    """Return the picture's state as JSON."""
    data = {
        "site": picture.site.name,
        "at": picture.at.isoformat(),
        "freshness": picture.freshness,
        "age_hours": None if picture.measured_until is None else round(picture.age_hours, 2),
        "measured_until": _stamp(picture.measured_until),
        "forecast_until": _stamp(picture.forecast_until),
        "disagreement": picture.disagreement,
        "climate_years": list(picture.climate.years),
        "provenance": [
            {
                "provider": one.provider,
                "what": one.what,
                "first": _stamp(one.first),
                "last": _stamp(one.last),
                "run": _stamp(one.run),
                "fetched": _stamp(one.fetched),
                "credit": one.credit,
            }
            for one in picture.provenance
        ],
        "rejected": [
            {"at": _stamp(o.at), "quantity": o.quantity, "value": o.value, "rule": o.rule}
            for o in picture.rejected
        ],
        "warnings": [_warning(one) for one in picture.warnings],
        "remarks": list(picture.remarks),
    }
    return json.dumps(data, indent=2, ensure_ascii=False)


def _warning(one: OfficialWarning) -> dict[str, object]:
    words = ("key", "issuer", "event", "headline", "description", "instruction", "area",
             "severity", "urgency", "certainty", "link")  # fmt: skip
    found: dict[str, object] = {name: getattr(one, name) for name in words}
    for name in ("sent", "onset", "ends", "expires"):
        found[name] = _stamp(getattr(one, name))
    return found


def _stamp(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()
