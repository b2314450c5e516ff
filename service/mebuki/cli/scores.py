"""``mebuki scores``: how well the readers of a garden were warned of frost."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import date, timedelta
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mebuki.errors import InputError

if TYPE_CHECKING:
    from mebuki.agenda.scored import Account, LevelRecord
    from mebuki.domain.garden import Garden

Span = tuple[date, date]

NAMED = 12
"""Gardens that an error names, at most."""

NOT_JUDGED = (
    "Not judged: cold at the roots (no thermometer stands in the pots), heat, wind, drying",
    "pots, wire and work in the garden: what came of them is not measured.",
)


def scores(
    garden: Annotated[str, typer.Argument(help="The id of the garden.")],
    *,
    begin: Annotated[
        str | None, typer.Option("--from", help="The first evening, YYYY-MM-DD.")
    ] = None,
    end: Annotated[str | None, typer.Option("--to", help="The last evening, YYYY-MM-DD.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    database: Annotated[
        str | None, typer.Option(help="A file or a URL; MEBUKI_DATABASE if left out.")
    ] = None,
) -> None:
    """Show how warnings of frost turned out: this season and the last one, level by level.

    Every judged night counts: what was measured against what each tree stood. For levels
    that nobody of the garden reads at, the figures say what they would have meant.
    """
    from mebuki.clock import SystemClock
    from mebuki.settings import read_settings
    from mebuki.storage.gardens import GardenStore
    from mebuki.storage.migrate import open_database
    from mebuki.storage.score_book import ScoreBook

    clock = SystemClock()
    with closing(open_database(database or read_settings().database)) as opened:
        store = GardenStore(opened, clock)
        known = store.ids()
        if garden not in known:
            msg = f"{garden}: there is no such garden in {opened.name}; {_there(known)}"
            raise InputError(msg)
        kept, book = store.load(garden), ScoreBook(opened)
        today = clock.now().astimezone(kept.site.zone).date()
        spans = _spans(kept, today, begin, end)
        found = [(span, book.account(garden, *span)) for span in spans]
    if as_json:
        periods = [_data(span, account, today) for span, account in found]
        typer.echo(json.dumps({"garden": garden, "periods": periods}, indent=2))
    else:
        typer.echo("\n".join(_text(kept, found, today)))


def _there(gardens: Sequence[str]) -> str:
    """Return in words which gardens there are."""
    if not gardens:
        return "there is none yet: mebuki trees import GARDEN.toml"
    named = ", ".join(gardens[:NAMED])
    more = len(gardens) - NAMED
    return f"there is {named}" + (f" and {more} more" if more > 0 else "")


def _spans(garden: Garden, today: date, begin: str | None, end: str | None) -> tuple[Span, ...]:
    """Return the spans asked for: this season and last, or from one day to another."""
    from mebuki.agenda.scored import this_season_and_last

    seasons = this_season_and_last(today, garden.site.southern)
    if begin is None and end is None:
        return seasons
    first = _day("--from", begin) if begin else seasons[-1][0]
    last = _day("--to", end) if end else today
    if last < first:
        msg = f"no evening lies between {first} and {last}"
        raise InputError(msg)
    return ((first, last),)


def _day(option: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        msg = f"{option} {text}: not a day; write it as YYYY-MM-DD, for example 2013-03-27"
        raise InputError(msg) from error


def _text(garden: Garden, found: list[tuple[Span, Account]], today: date) -> Iterator[str]:
    from mebuki.agenda.scored import level_records

    yield f"{garden.name}: warnings of frost against what the nights did"
    for (first, last), account in found:
        yield ""
        judged, unjudged = len(account.judged), _unjudged(account, today)
        yield f"{first} to {last}: {judged} nights judged, {unjudged} not judged"
        if not judged:
            yield "No night has been judged here."
            continue
        yield "           trees and nights                       nights"
        yield "level      POD   FAR  lead h  hits:misses  vain   harmful  told  calls  vain  mailed"
        for each in level_records(account):
            yield _line(each)
    yield ""
    yield "POD: share of trees and nights of harm that were told in time. FAR: share of trees"
    yield "and nights called that were in vain. lead: median hours to the coldest moment."
    yield "mailed: nights of which readers of the level had a mail; where it is 0, the line says"
    yield "what the level would have meant. Too little was measured of nights not judged."
    yield from NOT_JUDGED


def _line(each: LevelRecord) -> str:
    table = each.table
    lead = "-" if each.lead_hours is None else f"{each.lead_hours:.0f}"
    pair = f"{table.hits}:{table.misses}"
    return (
        f"{each.level:<9} {_two(table.pod)}  {_two(table.far)}  {lead:>6}  {pair:>11}"
        f"  {table.false_alarms:>4}  {each.harmful:>8}  {each.warned:>4}  {each.calls:>5}"
        f"  {each.vain:>4}  {each.mailed:>6}"
    )


def _two(value: float) -> str:
    return "   -" if math.isnan(value) else f"{value:4.2f}"


def _unjudged(account: Account, today: date) -> int:
    """Return the nights that were not judged, without the newest, which may not be over."""
    return account.unjudged(today - timedelta(days=1))


def _data(span: Span, account: Account, today: date) -> dict[str, Any]:
    from mebuki.agenda.scored import level_records

    return {
        "from": span[0].isoformat(),
        "to": span[1].isoformat(),
        "nights_judged": len(account.judged),
        "nights_not_judged": _unjudged(account, today),
        "levels": [_level(each) for each in level_records(account)],
    }


def _level(each: LevelRecord) -> dict[str, Any]:
    table = each.table
    return {
        "level": each.level,
        "told": each.mailed > 0,
        "pod": None if math.isnan(table.pod) else table.pod,
        "far": None if math.isnan(table.far) else table.far,
        "median_lead_hours": each.lead_hours,
        "hits": table.hits,
        "misses": table.misses,
        "false_alarms": table.false_alarms,
        "correct_negatives": table.correct_negatives,
        "nights_harmful": each.harmful,
        "nights_told_in_time": each.warned,
        "nights_called": each.calls,
        "nights_called_in_vain": each.vain,
        "nights_mailed": each.mailed,
        "nights_mail_failed": each.unsent,
    }
