"""What the links in mails need, from settings: the key, the addresses, who wants mails."""

from __future__ import annotations

from dataclasses import dataclass

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
    """

    links: SignedLinks
    for_mails: SignedLinks | None
    doors: ConsentDoor
    asking: Asking


def link_signer(settings: Settings, database: Database, clock: Clock) -> Signer:
    """Return what signs links and reads them: by the key of the settings, else the database's.

    Raises
    ------
    InputError
        If the secret key of the settings cannot be used.
    FaultError
        If the database cannot be used.
    """
    return Signer(settings.link_secret or link_key(database, clock))


def link_parts(settings: Settings, database: Database, clock: Clock) -> LinkParts:
    """Return the parts over a database that is open and up to date.

    Raises
    ------
    InputError
        If the secret key of the settings cannot be used.
    FaultError
        If the database cannot be used.
    """
    links = SignedLinks(settings.base_url, link_signer(settings, database, clock))
    consents, outside = Consents(database), settings.reached_from_outside
    writer = ConfirmationWriter(settings.sender, settings.host_name, links, outside=outside)
    return LinkParts(
        links=links,
        for_mails=links if outside else None,
        doors=ConsentDoor(consents),
        asking=Asking(consents, DatabaseOutbox(database, clock), writer, AddressBook(database)),
    )
