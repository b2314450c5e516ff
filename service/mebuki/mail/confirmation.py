"""The mail that asks whether an address wants mails: plain text, and nothing else to read.

It is the only mail that goes to an address before its owner said yes.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from email.utils import format_datetime
from typing import Final

from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.text import one_line
from mebuki.mail.addresses import mail_address
from mebuki.mail.heads import address_head, digest, host_in_ascii, text_head, token_head
from mebuki.mail.links import HOLDS, Links, Purpose
from mebuki.mail.parts import text_part
from mebuki.rounds.ports import QUESTION, Letter

_HOLDS: Final = HOLDS[Purpose.CONFIRM] or timedelta(days=14)

_TEXT: Final = """\
{name}, somebody put this address down for the mails of the garden “{garden}”: a word
before cold nights, heat and drought, and once a day the work that is due.

Do you want them? Open this page and press the button:

{link}

{where}The link holds for {days} days. Nothing is sent to you before you say yes. If this is not
meant for you, do nothing.
"""


_HERE: Final = "This address opens on the machine that Mebuki runs on, and nowhere else.\n"


class ConfirmationWriter:
    """Writes the mail that asks.

    Parameters
    ----------
    sender, host
        As for `mebuki.mail.compose.MailWriter`.
    outside
        Whether links can be opened from anywhere but the service's own machine.

    Raises
    ------
    InputError
        If the sender is not an address.
    """

    def __init__(self, sender: str, host: str, links: Links, *, outside: bool = True) -> None:
        self._sender = mail_address("Mebuki", sender)
        self._host = host_in_ascii(host)
        self._links = links
        self._where = "" if outside else _HERE

    def write(self, garden: Garden, to: Subscriber, at: datetime, time: int) -> Letter:
        """Return the letter that asks for the n-th time (from 1).

        Raises
        ------
        InputError
            If the subscriber's address cannot be used.
        """
        name, told = one_line(to.name), one_line(garden.name)
        recipient = mail_address(name, to.email)
        utf8 = not (recipient.username.isascii() and self._sender.username.isascii())
        about = f"{QUESTION}#{time}#{at:%Y-%m-%d}"  # asked anew, it is another mail
        identity = f"<{digest(garden.id, about, to.email)}@{self._host}>"
        subject = f"Do you want the mails of the garden “{told}”?"
        link = self._links.confirm(garden, to, at)
        text = _TEXT.format(name=name, garden=told, link=link, days=_HOLDS.days, where=self._where)
        content = (
            address_head("From", self._sender)
            + address_head("To", recipient)
            + text_head("Subject", subject, utf8=utf8)
            + text_head("Date", format_datetime(at.astimezone(garden.site.zone)))
            + token_head("Message-ID", identity)
            + b"Auto-Submitted: auto-generated\r\nX-Auto-Response-Suppress: All\r\n"
            + b"MIME-Version: 1.0\r\n"
            + text_part("plain", text)
        )
        return Letter(
            key=f"{garden.id}:{QUESTION}:{time}",
            recipient=recipient.addr_spec,
            message_id=identity,
            subject=subject,
            content=content,
            useful_until=at + _HOLDS,
            garden=garden.id,
            kind=QUESTION,
        )
