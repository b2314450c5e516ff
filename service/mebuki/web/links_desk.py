"""What the links in mails do: look, acknowledge, record, leave, confirm.

Looking changes nothing. Everything that changes something may be done twice with the
effect of once, since people press twice and mailers try again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, get_args

from mebuki.agenda.audience import for_reader
from mebuki.agenda.entry import Notice
from mebuki.agenda.scored import Account, this_season_and_last
from mebuki.clock import Clock
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.history import contradictions
from mebuki.domain.text import one_line
from mebuki.domain.tree import Record, RecordKind, Tree
from mebuki.errors import InputError
from mebuki.mail.links import LinkError, Purpose, Signer, Ticket, last_day
from mebuki.rounds.ports import Picture
from mebuki.storage.acknowledgements import NoticeBook, Seen
from mebuki.storage.bounces import AddressBook
from mebuki.storage.consents import Consent, Consents
from mebuki.storage.database import Database
from mebuki.storage.deeds import Deed, DeedBook
from mebuki.storage.gardens import GardenStore
from mebuki.storage.score_book import ScoreBook
from mebuki.web.links_forms import Form
from mebuki.web.links_picture import picture_in

DEEDS: Final[dict[RecordKind, str]] = {
    "repotted": "Repotted",
    "wired": "Wired",
    "wire-removed": "Wire taken off",
    "fed": "Fed",
    "watered": "Watered",
    "moved": "Moved to",
}
"""What can be recorded from a mail, in the words of the page."""

LONGEST_AGO: Final = timedelta(days=365)
"""How long ago a deed may be that is recorded from a mail (design default)."""


@dataclass(frozen=True, slots=True)
class Visit:
    """Somebody with a good link: who it is, in which garden, for what."""

    ticket: Ticket
    garden: Garden
    reader: Subscriber
    at: datetime

    @property
    def today(self) -> date:
        """The day in the garden."""
        return self.at.astimezone(self.garden.site.zone).date()


@dataclass(frozen=True, slots=True)
class Shown:
    """A notice as its reader sees it; none where its words are not kept."""

    notice: Notice | None
    seen: Sequence[Seen]


@dataclass(frozen=True, slots=True)
class Entered:
    """What was recorded: the deed, the names of its trees, and for how many it was new."""

    deed: Deed
    names: tuple[str, ...]
    new: int


class DeedError(InputError):
    """A deed cannot be recorded as it was given; the message is for the one who gave it."""


class LinkDesk:
    """Sees to the links of the gardens of a database."""

    def __init__(self, database: Database, signer: Signer, clock: Clock) -> None:
        self._signer = signer
        self._clock = clock
        self._gardens = GardenStore(database, clock)
        self._notices = NoticeBook(database)
        self._consents = Consents(database)
        self._addresses = AddressBook(database)
        self._deeds = DeedBook(database, clock)
        self._scores = ScoreBook(database)

    def ticket(self, purpose: Purpose, token: str) -> Ticket:
        """Return the ticket of a token, without asking the database.

        Raises
        ------
        LinkError
            If the token is not good, or no longer.
        """
        return self._signer.read(purpose, token, self._clock.now())

    def visit(self, ticket: Ticket) -> Visit:
        """Return who comes with a ticket.

        Raises
        ------
        LinkError
            If the garden or the reader is there no more. To leave is still possible for
            a reader who was taken out of the garden.
        """
        gone = "the garden or the address is not there any more"
        try:
            garden = self._gardens.load(ticket.garden)
        except InputError as error:
            raise LinkError(gone, expired=True) from error
        for reader in garden.subscribers:
            if self._signer.reader(garden.id, reader.email) == ticket.reader:
                return Visit(ticket, garden, reader, self._clock.now())
        if ticket.purpose is Purpose.LEAVE:
            for address in self._consents.of_garden(garden.id):
                if self._signer.reader(garden.id, address) == ticket.reader:
                    former = Subscriber.model_construct(name=address, email=address)
                    return Visit(ticket, garden, former, self._clock.now())
        raise LinkError(gone, expired=True)

    def shown(self, visit: Visit) -> Shown:
        """Return the notice that a link is about, with who saw it."""
        key = visit.ticket.about
        notice = self._notices.told(visit.garden.id, key)
        if notice is not None:
            notice = for_reader(notice, visit.reader, visit.garden.site.zone) or notice
        return Shown(notice, self._notices.seen(visit.garden.id, key))

    def picture(self, visit: Visit, notice: Notice) -> Picture | None:
        """Return the picture that the reader was sent with a notice; none where it is not kept."""
        return picture_in(self._notices.mail(visit.garden.id, notice, visit.reader.email))

    def token(self, visit: Visit, purpose: Purpose, notice: Notice) -> str | None:
        """Return the token for another thing that the same reader may do; none if too late."""
        last = last_day(purpose, notice.at)
        ticket = Ticket(purpose, visit.garden.id, visit.ticket.reader, notice.told, last)
        token = self._signer.sign(ticket)
        try:
            self.ticket(purpose, token)
        except LinkError:
            return None
        return token

    def acknowledge(self, visit: Visit) -> None:
        """Note that the reader saw the notice."""
        self._notices.acknowledge(visit.garden.id, visit.ticket.about, visit.reader, visit.at)

    def trees(self, visit: Visit) -> tuple[Tree, ...]:
        """Return the trees that a deed may be recorded for: those of the notice, or all."""
        shown = self.shown(visit)
        lines = () if shown.notice is None else shown.notice.lines
        named = {tree for line in lines for tree in line.ids}
        trees = visit.garden.trees
        return tuple(tree for tree in trees if tree.id in named) or trees

    def record(self, visit: Visit, form: Form) -> Entered:
        """Record what a form says was done.

        Raises
        ------
        DeedError
            If something is missing in the form, or cannot be.
        """
        deed = self._deed(visit, form)
        _no_contradiction(visit, deed)
        try:
            new = self._deeds.enter(visit.garden.id, deed)
        except InputError as error:
            raise DeedError(str(error)) from error
        names = {tree.id: tree.name for tree in visit.garden.trees}
        return Entered(deed, tuple(names[tree] for tree in deed.trees), new)

    def scores(self, visit: Visit) -> tuple[tuple[date, Account], ...]:
        """Return how this season's nights and those of the last one turned out.

        Each with the day on which the season began.
        """
        seasons = this_season_and_last(visit.today, visit.garden.site.southern)
        return tuple(
            (first, self._scores.account(visit.garden.id, first, last)) for first, last in seasons
        )

    def consent(self, visit: Visit) -> Consent:
        """Return what the reader said about mails so far."""
        return self._consents.state(visit.garden.id, visit.reader.email)

    def leave(self, visit: Visit, kind: str) -> None:
        """Take the reader off the mails of a kind, or (empty) of the garden."""
        self._consents.leave(visit.garden.id, visit.reader.email, visit.at, kind)

    def rejoin(self, visit: Visit, kind: str) -> None:
        """Put the reader on the mails of a kind, or (empty) of the garden, again."""
        self._consents.rejoin(visit.garden.id, visit.reader.email, visit.at, kind)

    def confirm(self, visit: Visit) -> bool:
        """Confirm the reader's address; False if the reader left in the meantime."""
        if not self._consents.confirm(visit.garden.id, visit.reader.email, visit.at):
            return False
        self._addresses.cleared(visit.reader.email)
        return True

    def _deed(self, visit: Visit, form: Form) -> Deed:
        kind = next((each for each in get_args(RecordKind) if each == form.one("kind")), None)
        if kind is None or kind not in DEEDS:
            msg = "Say what was done."
            raise DeedError(msg)
        mine = [tree.id for tree in self.trees(visit)]
        trees = tuple(tree for tree in mine if tree in form.all("tree"))
        if not trees:
            msg = "Choose at least one tree."
            raise DeedError(msg)
        place = form.one("place") if kind == "moved" else None
        if kind == "moved" and place not in {each.id for each in visit.garden.places}:
            msg = "Say where the trees were moved to."
            raise DeedError(msg)
        return Deed(kind, _day(visit, form.one("day")), trees, place)


def _no_contradiction(visit: Visit, deed: Deed) -> None:
    """Refuse a deed that could not be so beside what stands on record of one of its trees.

    Only what contradicts records of the same kind is refused: whichever of two repottings
    is wrong, it is the one that is being written down that can still be put right here.
    """
    record = Record(on=deed.on, kind=deed.kind, place=deed.place)
    for tree in visit.garden.trees:
        same = any(
            (r.on, r.kind, r.place) == (deed.on, deed.kind, deed.place) for r in tree.records
        )
        if tree.id not in deed.trees or same:
            continue
        known = set(contradictions(tree))
        then = tree.model_copy(update={"records": (*tree.records, record)})
        for each in contradictions(then):
            if each not in known and each.record.kind == deed.kind:
                msg = (
                    f"{one_line(tree.name)}: {each}. Nothing was recorded. Give another day, "
                    "or leave this tree out."
                )
                raise DeedError(msg)


def _day(visit: Visit, text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        msg = "Give the day as year, month and day, such as 2013-03-27."
        raise DeedError(msg) from error
    if not visit.today - LONGEST_AGO <= day <= visit.today:
        msg = "The day must lie in the last twelve months, and not after today."
        raise DeedError(msg)
    return day
