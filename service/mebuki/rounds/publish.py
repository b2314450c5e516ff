"""Publish: keep what is about to be shown, then show it.

The order makes the step repeatable. Letters come first: one that is kept
already is left as it is, so a round that was cut before its state was saved
finds them there and doubles nothing. The state comes next, the feed last: a
feed that is missing is written again by the same round.

Where there is a ledger, it keeps all of them in one step instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from mebuki.agenda.audience import (
    for_reader,
    held_back,
    not_before,
    notice_kind,
    useful_until,
)
from mebuki.agenda.entry import Notice, Published
from mebuki.domain.feed import WHOLE_FEED
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.quantity import Units
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import (
    AgendaStore,
    CalendarWriter,
    Door,
    Doorkeeper,
    FeedShelf,
    Illustrator,
    Ledger,
    Letter,
    LetterWriter,
    Outbox,
    PastForecasts,
    Picture,
)
from mebuki.rounds.prepare import Calendar, prepare_feeds
from mebuki.season.night_minima import night_forecasts


@dataclass(frozen=True, slots=True)
class Exits:
    """The ways out of a round.

    Parameters
    ----------
    ledger
        Takes state, letters and feed in one step, in the place of ``store``,
        ``outbox`` and ``shelf``; none for files.
    past
        What was forecast before, to learn from; the ledger keeps the new
        forecasts where there is one. None where nothing is learned.
    pictures
        Draws what goes with notices; none where mails go without pictures.
    doors
        Knows who wants mails; none where everybody named in the garden gets them.
    """

    store: AgendaStore
    calendar: CalendarWriter
    letters: LetterWriter
    outbox: Outbox
    shelf: FeedShelf
    ledger: Ledger | None = None
    past: PastForecasts | None = None
    pictures: Illustrator | None = None
    doors: Doorkeeper | None = None


def publish(plan: Plan, before: Published, exits: Exits) -> tuple[Letter, ...]:
    """Store and show one plan; return the letters that were put out.

    Doing it twice for one plan changes nothing.
    """
    letters = tuple(_letters(plan, exits))
    published = plan.published(before)
    choices = exits.ledger.choices(plan.garden.id) if exits.ledger is not None else {}
    feeds = prepare_feeds(Calendar.of(plan), choices, exits.calendar)
    if exits.ledger is not None:
        return letters if exits.ledger.commit(plan, published, letters, feeds) else ()
    exits.outbox.put(letters)
    exits.store.save(plan.garden.id, published)
    if exits.past is not None:
        exits.past.remember(plan.garden.id, night_forecasts(plan.picture))
    exits.shelf.put(plan.garden.id, feeds[WHOLE_FEED])
    return letters


def _letters(plan: Plan, exits: Exits) -> Iterator[Letter]:
    """Yield the letters of a plan; a picture is drawn once for all who read the same units."""
    door = None if exits.doors is None else exits.doors.of(plan.garden.id)
    for notice in plan.notices:
        drawn: dict[Units, Picture | None] = {}
        for reader, mine in readers_of(notice, plan.garden, door):
            if exits.pictures is not None and reader.units not in drawn:
                drawn[reader.units] = exits.pictures.draw(plan, notice, reader.units)
            picture = drawn.get(reader.units)
            yield letter_to(reader, mine, plan.garden, exits.letters, picture)


def readers_of(
    notice: Notice, garden: Garden, door: Door | None
) -> Iterator[tuple[Subscriber, Notice]]:
    """Yield the readers of a garden who want a notice, each with what it is to them."""
    for reader in garden.subscribers:
        mine = for_reader(notice, reader, garden.site.zone)
        if mine is not None and (door is None or door.may(reader, notice_kind(notice))):
            yield reader, mine


def letter_to(
    reader: Subscriber,
    mine: Notice,
    garden: Garden,
    letters: LetterWriter,
    picture: Picture | None = None,
) -> Letter:
    """Return the letter of a notice as it is to a reader, put off by quiet hours."""
    waits = not_before(mine, reader, garden.site.zone, mine.at)
    letter = letters.write(garden, held_back(mine, waits), reader, picture)
    return replace(letter, not_before=waits, useful_until=useful_until(mine, waits))
