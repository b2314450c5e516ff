"""Notices become messages: one recipient each, plain text and HTML, the same bytes each time.

Identities are made from what the message is about, never from the clock or by
chance, so that a message can be made again and recognised. The messages of one
danger share an anchor in References, which no message bears itself: mail
programs then show them together whichever step came first.
"""

from __future__ import annotations

import hashlib
import re
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP, EmailPolicy
from email.utils import format_datetime
from functools import lru_cache
from itertools import groupby
from typing import Final
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.text import one_line, plain
from mebuki.mail.addresses import mail_address
from mebuki.rounds.ports import Letter

STEP_WORDS: Final = {
    NoticeStep.PREPARE: "Prepare",
    NoticeStep.ACT: "Act today",
    NoticeStep.OVER: "Over",
    NoticeStep.BLIND: "No clear view",
    NoticeStep.DIGEST: "The day’s work",
}


class MailWriter:
    """Writes the message of one notice for one subscriber.

    Parameters
    ----------
    sender
        The address in From.
    host
        The name behind the @ of message identities and in the list's name.

    Raises
    ------
    InputError
        If the sender is not an address.
    """

    def __init__(self, sender: str, host: str) -> None:
        self._sender = mail_address("Mebuki", sender)
        self._host = host

    def write(self, garden: Garden, notice: Notice, to: Subscriber) -> Letter:
        """Return the rendered message; the same notice and subscriber give the same bytes.

        Raises
        ------
        InputError
            If the subscriber's address cannot be used.
        """
        recipient = mail_address(one_line(to.name), to.email)
        message = EmailMessage(policy=_policy(recipient, self._sender))
        subject = one_line(notice.subject)
        identity = self._identity(garden, to, f"{notice.key}#{notice.revision}")
        message["From"] = Address(
            f"Mebuki, {one_line(garden.name)}", self._sender.username, self._sender.domain
        )
        message["To"] = recipient
        message["Subject"] = subject
        message["Date"] = format_datetime(notice.at.astimezone(garden.site.zone))
        message["Message-ID"] = identity
        self._thread(message, garden, notice, to)
        self._list(message, garden)
        page = _page(garden, notice, self._sender.addr_spec)
        message.set_content(render("notice.txt.j2", page), cte="quoted-printable")
        message.add_alternative(
            render("notice.html.j2", page), subtype="html", cte="quoted-printable"
        )
        for part in message.iter_parts():
            del part["MIME-Version"]
        message.set_boundary("=_" + _digest(identity))
        return Letter(
            key=f"{garden.id}:{notice.key}:{notice.revision}",
            recipient=recipient.addr_spec,
            message_id=identity,
            subject=subject,
            content=message.as_bytes(),
            useful_until=notice.useful_until,
            garden=garden.id,
            kind=str(notice.kind or notice.step),
        )

    def _identity(self, garden: Garden, to: Subscriber, about: str) -> str:
        return f"<{_digest(garden.id, about, to.email)}@{self._host}>"

    def _thread(
        self, message: EmailMessage, garden: Garden, notice: Notice, to: Subscriber
    ) -> None:
        related = []
        if notice.thread and notice.step is not NoticeStep.DIGEST:
            related.append(self._identity(garden, to, f"{notice.thread}#thread"))
        if notice.revision > 0:
            first = self._identity(garden, to, f"{notice.key}#0")
            message["In-Reply-To"] = first
            related.append(first)
        if related:
            message["References"] = " ".join(related)

    def _list(self, message: EmailMessage, garden: Garden) -> None:
        name = " ".join(re.findall(r"[\w-]+", garden.name))
        leave = quote(f"stop {garden.id}")
        message["List-ID"] = f"{name} <{garden.id}.{self._host}>"
        message["List-Unsubscribe"] = f"<mailto:{self._sender.addr_spec}?subject={leave}>"
        message["Auto-Submitted"] = "auto-generated"
        message["X-Auto-Response-Suppress"] = "All"


def _policy(*addresses: Address) -> EmailPolicy[EmailMessage]:
    """Return the policy: raw UTF-8 headers only where a local part cannot be written otherwise."""
    if all(address.username.isascii() for address in addresses):
        return SMTP
    return SMTP.clone(utf8=True)


def _digest(*parts: str) -> str:
    return hashlib.sha256("\x1f".join(parts).encode("utf-8", "replace")).hexdigest()[:32]


def _page(garden: Garden, notice: Notice, sender: str) -> dict[str, object]:
    """Return what the templates show, with every text cleaned."""
    return {
        "garden": one_line(garden.name),
        "invented": garden.invented,
        "step": STEP_WORDS[notice.step],
        "act": notice.step is NoticeStep.ACT,
        "subject": one_line(notice.subject),
        "lead": plain(notice.lead),
        "groups": [
            (one_line(heading), [_item(line) for line in lines])
            for heading, lines in groupby(notice.lines, key=lambda line: line.heading)
        ],
        "digest": notice.step is NoticeStep.DIGEST,
        "facts": [(one_line(label), plain(value)) for label, value in notice.facts],
        "cautions": [plain(caution) for caution in notice.cautions],
        "at": notice.at.astimezone(garden.site.zone),
        "sender": sender,
        "unsubscribe": f"stop {garden.id}",
    }


def _item(line: NoticeLine) -> dict[str, object]:
    return {"deed": plain(line.deed), "trees": [one_line(tree) for tree in line.trees]}


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("mebuki.mail"),
        autoescape=select_autoescape(("html.j2",), default=False),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def render(template: str, page: dict[str, object]) -> str:
    """Return a template of this station filled with the values of a page."""
    return _environment().get_template(template).render(page)
