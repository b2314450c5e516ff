"""What a mail server answered, as a decision: try again, give up, or let the server alone.

A refusal of the sender or of the login is a matter of the settings: it would meet
every letter, so none is given up for it. A refusal of the recipient is a matter
of that letter alone. Codes are those of RFC 5321 and RFC 3463.
"""

from __future__ import annotations

import re
import socket
import ssl
from collections.abc import Iterator
from typing import Final

from aiosmtplib import (
    SMTPAuthenticationError,
    SMTPConnectError,
    SMTPException,
    SMTPResponseException,
)

from mebuki.errors import DeliveryError

_CLOSING: Final = 421
_PERMANENT: Final = 500
_LOGIN_WANTED: Final = frozenset({530, 534, 535, 538})
_TOO_LARGE: Final = 552
_STATUS: Final = re.compile(r"\s*[245]\.(\d{1,3})\.(\d{1,3})(?!\d)")
_RELAYING: Final = re.compile(r"(?i)\brelay")
_ABOUT_ADDRESS: Final = frozenset({"0", "1", "2", "4"})
"""Subjects of RFC 3463 that speak of the recipient: other, address, mailbox, the way there."""

_PLAIN_CAUSES: Final = (
    (socket.gaierror, "the name cannot be found"),
    (UnicodeError, "the name cannot be found"),
    (ConnectionRefusedError, "nobody listens there"),
    (TimeoutError, "no answer in time"),
)


def connecting_failed(error: Exception, server: str) -> DeliveryError:
    """Return why there is no line to a server; every letter would meet the same."""
    return DeliveryError(f"{server}: {_connecting(error)}", server=True)


def sender_refused(error: SMTPResponseException) -> DeliveryError:
    """Return the decision where MAIL was refused: the sender is the same for all letters."""
    if error.code == _TOO_LARGE:
        return DeliveryError(f"the message is too large: {answer(error)}", permanent=True)
    what = "the server takes nothing now" if error.code < _PERMANENT else "the sender was refused"
    return DeliveryError(f"{what}: {answer(error)}", server=True)


def recipient_refused(error: SMTPResponseException) -> DeliveryError:
    """Return the decision where RCPT was refused."""
    told = answer(error)
    if error.code == _CLOSING or error.code in _LOGIN_WANTED:
        return DeliveryError(f"the server takes nothing now: {told}", server=True)
    if error.code < _PERMANENT:
        return DeliveryError(f"the recipient was put off: {told}")
    if _RELAYING.search(told):
        return DeliveryError(f"the server does not know us as its user: {told}", server=True)
    subject = _subject(error)
    bounce = told if subject is None or subject in _ABOUT_ADDRESS else ""
    return DeliveryError(f"the recipient was refused: {told}", permanent=True, bounce=bounce)


def text_refused(error: SMTPResponseException) -> DeliveryError:
    """Return the decision where DATA was refused."""
    told = answer(error)
    if error.code == _CLOSING:
        return DeliveryError(f"the server takes nothing now: {told}", server=True)
    if error.code < _PERMANENT:
        return DeliveryError(f"the message was put off: {told}")
    bounce = told if _subject(error) == "1" else ""
    return DeliveryError(f"the message was refused: {told}", permanent=True, bounce=bounce)


def line_broke(error: Exception, may_have_arrived: bool) -> DeliveryError:
    """Return the decision where the line broke, or no answer came, in the midst of a letter."""
    how = "no answer in time" if isinstance(error, TimeoutError) else "the line broke"
    if may_have_arrived:
        return DeliveryError(f"{how} after the text was handed over; it may have come", broken=True)
    return DeliveryError(f"{how} before the text was handed over", broken=True)


def closing(error: Exception) -> bool:
    """Return whether a server said that it ends the line."""
    return isinstance(error, SMTPResponseException) and error.code == _CLOSING


def answer(error: SMTPResponseException) -> str:
    """Return what a server said, in one line."""
    return " ".join(f"{error.code} {error.message}".split())


def _subject(error: SMTPResponseException) -> str | None:
    found = _STATUS.match(error.message)
    return found[1] if found else None


def _connecting(error: Exception) -> str:
    for cause in _causes(error):
        if told := _below_smtp(cause):
            return told
    if isinstance(error, SMTPAuthenticationError):
        return f"user and password are not accepted: {answer(error)}"
    if isinstance(error, SMTPResponseException):
        return f"it answers {answer(error)}"
    if isinstance(error, SMTPConnectError):
        return "it hung up"
    if isinstance(error, SMTPException) and "STARTTLS" in error.message:
        return "it offers no STARTTLS; nothing was sent, as mail never goes in the clear"
    return str(error) or type(error).__name__


def _below_smtp(cause: BaseException) -> str:
    """Return what went wrong before SMTP began: name, line, certificate; empty if nothing did."""
    if isinstance(cause, ssl.SSLCertVerificationError):
        return f"its certificate is not accepted: {cause.verify_message}"
    if isinstance(cause, ssl.SSLError):
        return f"no secure line could be made ({cause.reason}); is it the port for this?"
    for kind, words in _PLAIN_CAUSES:
        if isinstance(cause, kind):
            return words
    return cause.strerror or "" if isinstance(cause, OSError) else ""


def _causes(error: BaseException) -> Iterator[BaseException]:
    cause: BaseException | None = error
    while cause is not None:
        yield cause
        cause = cause.__cause__
