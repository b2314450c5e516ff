"""What the links in mails need, from settings: the key, the addresses, who wants mails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.routing import Route

from mebuki.clock import Clock
from mebuki.mail.confirmation import ConfirmationWriter
from mebuki.mail.links import SignedLinks, Signer
from mebuki.schedule.asking import Asking
from mebuki.settings import Settings
from mebuki.storage.bounces import AddressBook
from mebuki.storage.consents import ConsentDoor, Consents
from mebuki.storage.database import Database
from mebuki.storage.keys import link_key
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.web.links_desk import LinkDesk
from mebuki.web.links_routes import link_routes


@dataclass(frozen=True, slots=True)
class LinkParts:
    """The parts that links are made of.

    Parameters
    ----------
    links
        The addresses under which the pages are reached.
    for_mails
        The same for the writer of mails; none where only this machine could open them.
    doors
        For the exits of rounds: who wants mails.
    asking
        For rounds: asks those who have not said so yet.
    routes
        For the application: the pages behind the links.
    """

    links: SignedLinks
    for_mails: SignedLinks | None
    doors: ConsentDoor
    asking: Asking
    routes: Sequence[Route]


def link_parts(settings: Settings, database: Database, clock: Clock) -> LinkParts:
    """Return the parts over a database that is open and up to date.

    Raises
    ------
    InputError
        If the secret key of the settings cannot be used.
    FaultError
        If the database cannot be used.
    """
    signer = Signer(settings.link_secret or link_key(database, clock))
    links = SignedLinks(settings.base_url, signer)
    consents, outside = Consents(database), settings.reached_from_outside
    writer = ConfirmationWriter(settings.sender, settings.host_name, links, outside=outside)
    return LinkParts(
        links=links,
        for_mails=links if outside else None,
        doors=ConsentDoor(consents),
        asking=Asking(consents, DatabaseOutbox(database, clock), writer, AddressBook(database)),
        routes=link_routes(LinkDesk(database, signer, clock)),
    )
