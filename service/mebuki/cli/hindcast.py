"""``mebuki hindcast``: what our notices would have been worth in a past season."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mebuki.errors import InputError

if TYPE_CHECKING:
    from mebuki.domain.garden import Garden
    from mebuki.rounds.hindcast import Hindcast, LevelScore, Season
    from mebuki.weather.replay import ReplaySource

SPRING = ((3, 10), (5, 20))
"""Month and day on which a hindcast begins and ends if none is named, in the north."""

AUTUMN = ((9, 10), (11, 20))
"""The same in the south."""

DEMO_GARDEN, DEMO_HOURS = "hindcast.garden.toml", "nyc_jfk_hourly_2013.csv"
DEMO_DAYS, DEMO_LOCATION = "noaa_seattle_newyork_daily_2012_2015.csv", "New York"


def hindcast(
    *,
    garden: Annotated[
        Path | None, typer.Option(help="A garden file; an invented bench if none is named.")
    ] = None,
    weather: Annotated[
        Path | None, typer.Option(help="A measured hourly series (CSV); the demo year if unset.")
    ] = None,
    begin: Annotated[
        str | None, typer.Option("--from", help="The first evening, YYYY-MM-DD; else 10 March.")
    ] = None,
    end: Annotated[
        str | None, typer.Option("--to", help="The last evening, YYYY-MM-DD; else 20 May.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="The first seed of the forecast errors.")] = 1,
    seeds: Annotated[int, typer.Option(min=1, help="How many seeds, one season for each.")] = 1,
    bias: Annotated[
        float, typer.Option(min=-10, max=10, help="A hidden bias of the forecasts [°C].")
    ] = 0.0,
    learn: Annotated[
        int, typer.Option(min=0, max=60, help="Nights before that teach; 0 for no learning.")
    ] = 40,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Replay measured weather with forecast errors, and score the notices against it.

    For each level of notices: relative economic value beside that of the fixed
    threshold that was best with hindsight, share of harmful nights told (POD), share
    of calls in vain (FAR), hours left to act, and mails.
    """
    from mebuki.rounds.cases import Rules
    from mebuki.rounds.hindcast import level_scores
    from mebuki.rules.risk import cost_losses
    from mebuki.settings import read_settings

    rules, kept = _read(read_settings().config_dir, garden)
    sources = [_source(weather, number, bias) for number in range(seed, seed + seeds)]
    season = _season(kept, sources[0], (begin, end), learn)
    done = list(_run(kept, Rules(*rules), sources, season))
    scores = level_scores(done, cost_losses(rules[1].practice))
    if as_json:
        typer.echo(json.dumps([_data(each) for each in scores], indent=2))
    else:
        file = weather.name if weather else DEMO_HOURS
        typer.echo("\n".join(_text(kept, season, done, scores, file)))


def _read(config: Path | None, garden: Path | None) -> tuple[tuple[Any, Any], Garden]:
    from mebuki.rulebook import shipped_config
    from mebuki.rulebook.garden import read_garden
    from mebuki.rulebook.rules import read_rulebook
    from mebuki.rulebook.taxa import read_taxa_with_faults

    taxa, broken = read_taxa_with_faults(config)
    rulebook = read_rulebook(config)
    file = garden or shipped_config() / "demo" / DEMO_GARDEN
    kept = read_garden(file, taxa, substrates=rulebook.substrates, disabled=broken, lenient=True)
    if not kept.trees:
        msg = f"{file}: the garden has no trees, there is nothing to score"
        raise InputError(msg)
    return (taxa, rulebook), kept


def _source(weather: Path | None, seed: int, bias: float) -> ReplaySource:
    from mebuki.rulebook import shipped_config
    from mebuki.weather.replay import ReplaySource

    if weather is not None:
        return ReplaySource(weather, seed=seed, bias=bias)
    demo = shipped_config() / "demo"
    return ReplaySource(
        demo / DEMO_HOURS, demo / DEMO_DAYS, location=DEMO_LOCATION, seed=seed, bias=bias
    )


def _season(
    garden: Garden, source: ReplaySource, ends: tuple[str | None, str | None], learn: int
) -> Season:
    from mebuki.cli.days import read_day
    from mebuki.rounds.hindcast import LOOK_BACK, Season

    first, last = source.allowed_days(garden.site)
    usual = SPRING if garden.site.latitude >= 0 else AUTUMN
    starts, stops = (date(last.year, *part) for part in usual)
    begin, end = (read_day(text) if text else None for text in ends)
    opens, closes = max(begin or starts, first), min(end or stops, last - LOOK_BACK)
    if closes < opens:
        msg = f"no evening lies between {opens} and {closes}; the series allows {first} "
        msg += f"to {last - LOOK_BACK}"
        raise InputError(msg)
    return Season(opens, closes, learning=min(learn, (opens - first).days))


def _run(
    garden: Garden, rules: Any, sources: Sequence[ReplaySource], season: Season
) -> Iterator[Hindcast]:
    """Yield the hindcast of each seed, with a bar on a terminal."""
    from rich.console import Console
    from rich.progress import Progress

    from mebuki.rounds.hindcast import Hindcast, hindcast

    console = Console(stderr=True)
    rounds = len(sources) * len(season.days) * len(season.hours)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("Replaying days", total=rounds)
        for source in sources:
            for step in hindcast(garden, rules, source, season):
                if isinstance(step, Hindcast):
                    yield step
                else:
                    bar.advance(task)


def _text(
    garden: Garden,
    season: Season,
    done: Sequence[Hindcast],
    scores: Sequence[LevelScore],
    file: str,
) -> Iterator[str]:
    nights = sum(len(each.nights) for each in done)
    harmful = sum(night.harmed for each in done for night in each.nights)
    yield f"Frost on freshly repotted or leafing trees, {season.first} to {season.last}"
    taught = f"{season.learning} nights before taught" if season.learning else "nothing learned"
    seeds = "1 seed" if len(done) == 1 else f"{len(done)} seeds"
    yield f"{garden.name}, measured {file}, forecast errors of {seeds}, {taught}"
    yield f"{nights} nights of single trees that frost could harm, {harmful} of them harmful"
    yield ""
    yield "level      C/L   value  best  share   POD   FAR  lead h   calls  mails  of hits:misses"
    for each in scores:
        lead = "-" if each.lead_hours is None else f"{each.lead_hours:.0f}"
        count = len(done)
        yield (
            f"{each.level:<9} {each.cost_loss:5.2f}  {_two(each.value)}  {_two(each.best_value)}"
            f"  {_two(each.share)}  {_two(each.table.pod)}  {_two(each.table.far)}  {lead:>6}"
            f"  {each.calls / count:6.1f} {each.mails / count:6.1f}"
            f"  {each.table.hits}:{each.table.misses}"
        )
    yield ""
    yield "value: 1 for a perfect forecast, 0 for always or never acting. best: the fixed"
    yield "threshold that was best with hindsight on the same forecasts. POD: share of harmful"
    yield "nights told of. FAR: share of calls in vain. lead: median hours to the coldest"
    yield "moment. calls and mails: a season, the digest left out."


def _two(value: float) -> str:
    return "   -" if math.isnan(value) else f"{value:4.2f}".replace("-", "−")


def _data(score: LevelScore) -> dict[str, Any]:
    found = asdict(score) | {
        "share": score.share, "pod": score.table.pod, "far": score.table.far,
    }  # fmt: skip
    return {
        key: None if isinstance(value, float) and math.isnan(value) else value
        for key, value in found.items()
    }
