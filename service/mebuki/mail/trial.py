"""One message that shows whether mail arrives."""

from __future__ import annotations

import hashlib
from datetime import datetime
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

from mebuki.mail.addresses import mail_address
from mebuki.rounds.ports import Letter

SUBJECT = "Mebuki: a test of mail"
TEXT = """This message was sent by hand to see whether mail from Mebuki arrives.

If it lies among unwanted mail, tell your mail program that it is wanted: a frost
notice would lie there too. Nothing else is to be done.
"""


def trial_letter(sender: str, host: str, address: str, at: datetime) -> Letter:
    """Return a test message to an address.

    Raises
    ------
    mebuki.errors.InputError
        If sender or address is not an address.
    """
    recipient = mail_address("", address)
    origin = mail_address("Mebuki", sender)
    plain = recipient.username.isascii() and origin.username.isascii()
    message = EmailMessage(policy=SMTP if plain else SMTP.clone(utf8=True))
    key = f"trial:{at.isoformat()}"
    digest = hashlib.sha256(f"{key}\x1f{recipient.addr_spec}".encode()).hexdigest()[:32]
    message["From"] = origin
    message["To"] = recipient
    message["Subject"] = SUBJECT
    message["Date"] = format_datetime(at)
    message["Message-ID"] = f"<{digest}@{host}>"
    message["Auto-Submitted"] = "auto-generated"
    message["X-Auto-Response-Suppress"] = "All"
    message.set_content(TEXT, cte="quoted-printable")
    return Letter(
        key=key,
        recipient=recipient.addr_spec,
        message_id=message["Message-ID"],
        subject=SUBJECT,
        content=message.as_bytes(),
    )
