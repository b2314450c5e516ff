"""Notices become messages: one recipient each, plain text and HTML, the same bytes each time.

Identities are made from what the message is about, never from the clock or by
chance, so that a message can be made again and recognised. The messages of one
danger share an anchor in References, which no message bears itself: mail
programs then show them together whichever step came first.
"""

from __future__ import annotations

import html
import re
from collections import OrderedDict
from dataclasses import dataclass
from email.headerregistry import Address
from typing import Final
from urllib.parse import quote

from mebuki.agenda.audience import notice_kind
from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.quantity import Units
from mebuki.domain.text import one_line
from mebuki.mail.addresses import mail_address
from mebuki.mail.draft import (
    ACKNOWLEDGE,
    LEAVE_ALL,
    LEAVE_KIND,
    RECORD,
    SCORES,
    SEE,
    Draft,
    Frame,
    write_draft,
)
from mebuki.mail.heads import address_head, digest, host_in_ascii, list_head, text_head, token_head
from mebuki.mail.links import Links
from mebuki.mail.notice_page import Reading
from mebuki.mail.parts import holder, picture_part, text_part
from mebuki.mail.phrases import phrases
from mebuki.rounds.ports import Letter, Picture

DRAFTS_KEPT: Final = 16
"""Notices are written for one garden after another: few drafts are needed at a time."""

PICTURE_NAME: Final = "nights.png"
_MARK: Final = re.compile("\x01[0-5]\x02")


@dataclass(frozen=True, slots=True)
class _Kept:
    """A draft as it goes into messages; the garden is held so that its id stays its own."""

    garden: Garden
    draft: Draft
    picture: bytes
    cid: str


class MailWriter:
    """Writes the message of one notice for one subscriber.

    Parameters
    ----------
    sender
        The address in From.
    host
        The name behind the @ of message identities and in the list's name.
    links
        Who knows the pages that a reader may go to; none where there are no pages.

    Raises
    ------
    InputError
        If the sender is not an address, or the host no name of a host.
    """

    def __init__(self, sender: str, host: str, links: Links | None = None) -> None:
        self._sender = mail_address("Mebuki", sender)
        self._host = host_in_ascii(host)
        self._links = links
        self._drafts: OrderedDict[tuple[object, ...], _Kept] = OrderedDict()

    def write(
        self, garden: Garden, notice: Notice, to: Subscriber, picture: Picture | None = None
    ) -> Letter:
        """Return the rendered message; what is given alike gives the same bytes.

        The subject of the letter itself, for logs and the digest, stays metric.

        Raises
        ------
        InputError
            If the subscriber's address cannot be used.
        """
        recipient = mail_address(one_line(to.name), to.email)
        identity = self._identity(garden, to, f"{notice.key}#{notice.revision}")
        kept = self._kept(garden, notice, (to.units, to.language), picture)
        pages = {} if self._links is None else _pages(self._links, garden, notice, to)
        content = (
            self._heads(garden, notice, to, (recipient, identity), kept.draft)
            + self._list(garden, notice, pages)
            + b"Auto-Submitted: auto-generated\r\nX-Auto-Response-Suppress: All\r\n"
            + b"MIME-Version: 1.0\r\n"
            + _body(kept, pages, digest(identity))
        )
        return Letter(
            key=f"{garden.id}:{notice.key}:{notice.revision}",
            recipient=recipient.addr_spec,
            message_id=identity,
            subject=one_line(notice.subject),
            content=content,
            useful_until=notice.useful_until,
            garden=garden.id,
            kind=notice_kind(notice),
        )

    def _kept(
        self,
        garden: Garden,
        notice: Notice,
        reads: tuple[Units, str],
        picture: Picture | None,
    ) -> _Kept:
        key = (id(garden), notice, reads, picture)
        found = self._drafts.get(key)
        if found is None:
            cid = f"{digest(garden.id, notice.key, reads[0])}@{self._host}"
            frame = Frame(
                sender=self._sender.addr_spec,
                stop=f"stop {garden.id}",
                linked=self._links is not None,
                cid=cid,
            )
            reading = Reading(reads[0], phrases(reads[1]))
            draft = write_draft(garden, notice, reading, frame, picture)
            shown = b"" if picture is None else picture_part(picture.png, cid, PICTURE_NAME)
            found = self._drafts[key] = _Kept(garden, draft, shown, cid)
            while len(self._drafts) > DRAFTS_KEPT:
                self._drafts.popitem(last=False)
        return found

    def _identity(self, garden: Garden, to: Subscriber, about: str) -> str:
        return f"<{digest(garden.id, about, to.email)}@{self._host}>"

    def _heads(
        self,
        garden: Garden,
        notice: Notice,
        to: Subscriber,
        who: tuple[Address, str],
        draft: Draft,
    ) -> bytes:
        recipient, identity = who
        utf8 = not (recipient.username.isascii() and self._sender.username.isascii())
        name = f"Mebuki, {one_line(garden.name)}"
        sender = Address(name, self._sender.username, self._sender.domain)
        return (
            address_head("From", sender)
            + address_head("To", recipient)
            + text_head("Subject", draft.subject, utf8=utf8)
            + text_head("Date", draft.date)
            + token_head("Message-ID", identity)
            + self._thread(garden, notice, to)
        )

    def _thread(self, garden: Garden, notice: Notice, to: Subscriber) -> bytes:
        related, heads = [], b""
        if notice.thread and notice.step is not NoticeStep.DIGEST:
            related.append(self._identity(garden, to, f"{notice.thread}#thread"))
        if notice.revision > 0:
            first = self._identity(garden, to, f"{notice.key}#0")
            heads = token_head("In-Reply-To", first)
            related.append(first)
        return heads + (token_head("References", *related) if related else b"")

    def _list(self, garden: Garden, notice: Notice, pages: dict[str, str]) -> bytes:
        """Return the list's name and how to leave it: the topic of the notice, in one click."""
        sender = f"{quote(self._sender.username)}@{self._sender.domain}"
        leave = f"<mailto:{sender}?subject={quote(f'stop {garden.id}')}>"
        told = list_head(garden.id, garden.name, self._host)
        if not pages:
            return told + token_head("List-Unsubscribe", leave)
        page = pages[LEAVE_KIND]
        told += token_head("List-Unsubscribe", f"<{page}>", leave, between=", ")
        if page.startswith("https://"):  # one click is for https alone (RFC 8058, 3.1)
            told += b"List-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n"
        return told


def _pages(links: Links, garden: Garden, notice: Notice, to: Subscriber) -> dict[str, str]:
    """Return a reader's own addresses by the marks that stand for them."""
    return {
        SEE: links.see(garden, notice, to),
        ACKNOWLEDGE: links.acknowledge(garden, notice, to),
        RECORD: links.record(garden, notice, to),
        SCORES: links.scores(garden, notice, to),
        LEAVE_KIND: links.leave(garden, to, notice_kind(notice)),
        LEAVE_ALL: links.leave(garden, to),
    }


def _body(kept: _Kept, pages: dict[str, str], seed: str) -> bytes:
    """Return content type and body: plain text first, then HTML with its picture."""
    plain = _MARK.sub(lambda mark: pages[mark[0]], kept.draft.plain)
    marked = _MARK.sub(lambda mark: html.escape(pages[mark[0]]), kept.draft.html)
    rich = text_part("html", marked)
    if kept.picture:
        rich = holder("related", f"=_r{seed}", rich, kept.picture)
    return holder("alternative", f"=_{seed}", text_part("plain", plain), rich)
