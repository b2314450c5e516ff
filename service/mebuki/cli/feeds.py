"""``mebuki feeds``: the calendar feeds of a garden's readers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing, contextmanager
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.errors import InputError

if TYPE_CHECKING:
    from mebuki.domain.feed import FeedChoice
    from mebuki.settings import Settings
    from mebuki.storage.feed_book import FeedBook, HeldFeed, NewFeed

app = typer.Typer(help="Calendar feeds, each with a secret address.", no_args_is_help=True)

GardenArgument = Annotated[str, typer.Argument(help="The id of the garden.")]
FeedArgument = Annotated[str, typer.Argument(help="The id of the feed: mebuki feeds list.")]
DatabaseOption = Annotated[
    str | None, typer.Option(help="A file or a URL; MEBUKI_DATABASE if left out.")
]


class Preset(StrEnum):
    """Choices with a name."""

    MUST_NOT_MISS = "must-not-miss"


@app.command("list")
def list_(
    garden: GardenArgument,
    database: DatabaseOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the feeds as JSON.")] = False,
) -> None:
    """Show the feeds of a garden; their addresses are kept nowhere and cannot be shown."""
    with _book(database) as (book, _):
        held = book.held(garden)
    if as_json:
        typer.echo(json.dumps([_row(each) for each in held], indent=1, ensure_ascii=False))
    elif not held:
        typer.echo(f"{garden} has no feeds; make one with: mebuki feeds add {garden} NAME")
    for each in () if as_json else held:
        made = f"{each.made_at:%Y-%m-%d}"
        typer.echo(f"{each.variant}  {each.holder}, since {made}: {_told(each.choice)}")


@app.command("add")
def add(
    garden: GardenArgument,
    holder: Annotated[str, typer.Argument(help="Whose feed it is: a name or a mail address.")],
    *,
    name: Annotated[str, typer.Option(help="What calendar programs call it.")] = "",
    kinds: Annotated[str, typer.Option(help="Care kinds, with commas: frost,repot.")] = "",
    places: Annotated[str, typer.Option(help="Ids of places, with commas.")] = "",
    trees: Annotated[str, typer.Option(help="Ids of trees, with commas.")] = "",
    preset: Annotated[
        Preset | None, typer.Option(help="must-not-miss: cold nights and repotting.")
    ] = None,
    alarms: Annotated[bool, typer.Option(help="Whether entries may ring.")] = True,
    tasks: Annotated[bool, typer.Option("--tasks", help="As tasks instead of events.")] = False,
    database: DatabaseOption = None,
) -> None:
    """Make a feed and print its addresses, once."""
    from mebuki.domain.feed import MUST_NOT_MISS

    if preset is not None and kinds:
        msg = "--preset and --kinds exclude each other"
        raise InputError(msg)
    asked = frozenset(kind.value for kind in MUST_NOT_MISS) if preset else _set(kinds)
    form = "tasks" if tasks else "events"
    with _book(database) as (book, settings):
        choice = _choice(name, asked, (_set(places), _set(trees)), alarms, form)
        _print_addresses(settings, book.add(garden, holder, choice))


@app.command("revoke")
def revoke(garden: GardenArgument, feed: FeedArgument, database: DatabaseOption = None) -> None:
    """End a feed: whoever asks for it is told that it is gone."""
    with _book(database) as (book, _):
        book.revoke(garden, feed)
    typer.echo(f"{feed}: ended")


@app.command("replace")
def replace(garden: GardenArgument, feed: FeedArgument, database: DatabaseOption = None) -> None:
    """Give a feed a new address; what it holds stays, and the old address ends."""
    with _book(database) as (book, settings):
        _print_addresses(settings, book.replace(garden, feed))


@contextmanager
def _book(address: str | None) -> Iterator[tuple[FeedBook, Settings]]:
    from mebuki.bootstrap.feeding import make_feed_book
    from mebuki.clock import SystemClock
    from mebuki.settings import read_settings
    from mebuki.storage.migrate import open_database

    settings = read_settings()
    with closing(open_database(address or settings.database)) as database:
        yield make_feed_book(settings, database, SystemClock()), settings


def _set(text: str) -> frozenset[str] | None:
    return frozenset(part.strip() for part in text.split(",") if part.strip()) or None


def _choice(
    name: str,
    kinds: frozenset[str] | None,
    where: tuple[frozenset[str] | None, frozenset[str] | None],
    alarms: bool,
    form: str,
) -> FeedChoice:
    from pydantic import ValidationError

    from mebuki.domain.advice import CareKind
    from mebuki.domain.feed import FeedChoice

    unknown = sorted((kinds or frozenset()) - {kind.value for kind in CareKind})
    if unknown:
        msg = f"{unknown[0]}: not a care kind; there are {', '.join(CareKind)}"
        raise InputError(msg)
    given = {"name": name, "kinds": kinds, "places": where[0], "trees": where[1]}
    try:
        return FeedChoice.model_validate({**given, "alarms": alarms, "form": form})
    except ValidationError as error:
        msg = f"--name: {error.errors()[0]['msg']}"
        raise InputError(msg) from error


def _print_addresses(settings: Settings, feed: NewFeed) -> None:
    from mebuki.feeds.links import KEEP_SECRET, PLAN_NOT_ALARM, WAYS, feed_links

    links = feed_links(settings.base_url, feed.token)
    typer.echo(f"Feed {feed.variant}. Its addresses are shown this once:")
    typer.echo(f"  {links.copied}")
    typer.echo(f"  {links.opened}")
    for line in (KEEP_SECRET, PLAN_NOT_ALARM, ""):
        typer.echo(line)
    for way in WAYS:
        typer.echo(f"{way.program}: {' '.join(way.steps)}")


def _told(choice: FeedChoice) -> str:
    parts = [
        f"{what} {', '.join(sorted(chosen))}"
        for what, chosen in (
            ("kinds", choice.kinds),
            ("places", choice.places),
            ("trees", choice.trees),
        )
        if chosen
    ] or ["everything"]
    quiet = [] if choice.alarms else ["without alarms"]
    return "; ".join([*parts, *quiet, f"as {choice.form}"])


def _row(feed: HeldFeed) -> dict[str, object]:
    return {
        "feed": feed.variant,
        "holder": feed.holder,
        "made_at": feed.made_at.isoformat(),
        **feed.choice.model_dump(mode="json"),
    }
