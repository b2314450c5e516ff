"""One round of one garden over the database: look, plan, publish; a fault stays in its garden."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Final, Literal

from mebuki.clock import Clock
from mebuki.domain.garden import Garden
from mebuki.domain.practice import Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import WeatherPicture
from mebuki.errors import FaultError, MebukiError
from mebuki.rounds.judging import JUDGED_BACK, verdicts
from mebuki.rounds.look import look
from mebuki.rounds.plan import plan_garden
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import WeatherSource
from mebuki.rounds.publish import Exits, letter_to, publish, readers_of
from mebuki.schedule.asking import Asking
from mebuki.schedule.timetable import Due
from mebuki.schedule.trouble import trouble_notice
from mebuki.storage.acknowledgements import NoticeBook
from mebuki.storage.garden_states import StateBook
from mebuki.storage.gardens import GardenStore
from mebuki.storage.minimum_readings import read_garden_minima
from mebuki.storage.observations import ObservationBook
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.picture_bytes import snapshots_of
from mebuki.storage.round_book import PLAN, RoundBook, RoundId
from mebuki.storage.score_book import ScoreBook
from mebuki.storage.snapshots import SnapshotStore

log = logging.getLogger(__name__)

ATTEMPTS: Final = 3
"""How often a round is begun that takes its process down (design default)."""

UNSENT_FOR: Final = timedelta(days=1)
"""How far back a digest names mails that could not be sent: since the digest before."""

Outcome = Literal["done", "again", "failed", "put off"]


@dataclass(frozen=True, slots=True)
class Bench:
    """All that rounds over a database work with.

    Parameters
    ----------
    exits
        With a ledger over the same database as the books.
    readings
        Of thermometers.
    outbox
        Where letters are kept, and which of them could not be sent.
    scores
        Where it is kept how notices turned out.
    asking
        Asks readers who have not confirmed their address; none where nobody needs to.
    notices
        Keeps the words of what is told outside a plan, for the page behind its link.
    """

    taxa: Mapping[str, Taxon]
    rulebook: Rulebook
    weather: WeatherSource
    exits: Exits
    gardens: GardenStore
    rounds: RoundBook
    states: StateBook
    snapshots: SnapshotStore
    clock: Clock
    readings: ObservationBook
    outbox: DatabaseOutbox
    scores: ScoreBook
    asking: Asking | None = None
    notices: NoticeBook | None = None


def garden_round(bench: Bench, due: Due) -> Outcome:
    """Run one round; whatever goes wrong is noted for the garden and stays there.

    Returns
    -------
    str
        ``done``; ``again`` if it was done before; ``failed`` if something in
        the garden stands in the way; ``put off`` if the database does, so that
        the round is tried again.
    """
    try:
        return _run(bench, due)
    except FaultError:
        log.exception("the round of %s at %s is put off", due.garden, due.at)
        return "put off"
    except Exception as error:  # a poison garden must not stop the others
        log.exception("the round of %s at %s failed", due.garden, due.at)
        return _failed(bench, due, error)


def _run(bench: Bench, due: Due) -> Outcome:
    attempt = bench.rounds.attempt(RoundId(PLAN, due.garden, due.at))
    if attempt is None:
        return "again"
    if attempt > ATTEMPTS:
        msg = f"it was begun {ATTEMPTS} times and never finished"
        raise RuntimeError(msg)
    kept = bench.gardens.load(due.garden)
    garden = read_garden_minima(bench.readings, kept, due.at)
    before = bench.exits.store.load(due.garden)
    picture = look(bench.weather, garden.site, due.at, bench.exits.past, garden.id)
    _keep(bench, due, picture)
    plan = plan_garden(
        garden,
        bench.taxa,
        bench.rulebook,
        picture,
        before,
        due.on,
        digest_hours=due.digest_hours,
        unsent=_unsent(bench, garden, due),
    )
    publish(plan, before, bench.exits)
    _judge(bench, plan)
    if bench.asking is not None:
        bench.asking.ask(garden, due.at)
    return "done"


def _keep(bench: Bench, due: Due, picture: WeatherPicture) -> None:
    """Keep the weather before it is used."""
    for snapshot in snapshots_of(picture, due.cell):
        bench.snapshots.put(snapshot)


def _judge(bench: Bench, plan: Plan) -> None:
    """Judge the last nights; a fault here is noted and stops no round: a later one judges them."""
    try:
        nights = bench.scores.open_nights(plan.garden.id, plan.on - JUDGED_BACK, plan.on)
        bench.scores.settle(plan.garden, verdicts(plan, nights), plan.at)
    except Exception:  # what readers are told of is out already
        log.exception("the last nights of %s are not judged", plan.garden.id)


def _unsent(bench: Bench, garden: Garden, due: Due) -> tuple[str, ...]:
    """Return a line for each mail of the last day that could not be sent, where a digest is due."""
    if not due.digest_hours:
        return ()
    names = {person.email: person.name for person in garden.subscribers}
    return tuple(
        f"A mail to {names.get(each.recipient, 'a reader')} could not be sent: {each.subject}"
        for each in bench.outbox.unsent(garden.id, due.at - UNSENT_FOR)
    )


def _failed(bench: Bench, due: Due, error: Exception) -> Outcome:
    """Note a failure, and tell the garden's readers once a day that nobody watches for them."""
    reason = str(error) if isinstance(error, MebukiError) else type(error).__name__
    which = RoundId(PLAN, due.garden, due.at)
    try:
        bench.rounds.finish(which, f"failed: {reason}")
        bench.states.failed(due.garden, due.at, reason)
        _tell(bench, bench.gardens.load(due.garden), due)
    except Exception:  # what is left is the log and the health page
        log.exception("nobody could be told of the failure in %s", due.garden)
    return "failed"


def _tell(bench: Bench, garden: Garden, due: Due) -> None:
    notice = trouble_notice(due.on, due.at)
    door = None if bench.exits.doors is None else bench.exits.doors.of(garden.id)
    readers = readers_of(notice, garden, door)
    letters = bench.exits.letters
    bench.outbox.put([letter_to(each, mine, garden, letters) for each, mine in readers])
    if bench.notices is not None:
        bench.notices.keep(garden.id, notice)
