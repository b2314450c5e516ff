"""The way to the mail server, from settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from mebuki.rounds.deliver import Terms
from mebuki.settings import Settings

if TYPE_CHECKING:
    from mebuki.mail.smtp import SmtpMailer

PORTS: Final = {"tls": 465, "starttls": 587, "plain": 25}
"""The usual ports (RFC 8314, RFC 6409, RFC 5321)."""


def make_mailer(settings: Settings) -> SmtpMailer | None:
    """Return the way to the mail server of the settings; none where they name none.

    Raises
    ------
    mebuki.errors.InputError
        If a file of the settings cannot be read, or the sender is no address.
    """
    if not settings.smtp_host:
        return None
    from mebuki.mail.smtp import SmtpMailer, trusted  # noqa: PLC0415 - no SMTP where no mail is sent

    security = settings.smtp_security
    return SmtpMailer(
        host=settings.smtp_host,
        port=settings.smtp_port or PORTS[security],
        security=security,
        sender=settings.sender,
        user=settings.smtp_user,
        password=settings.smtp_secret,
        timeout_seconds=settings.smtp_timeout_seconds,
        per_minute=settings.smtp_per_minute,
        context=None if security == "plain" else trusted(settings.smtp_ca_file),
    )


def delivery_terms(settings: Settings) -> Terms:
    """Return how patiently, and over how many lines, letters are delivered."""
    return Terms(hands=settings.smtp_connections)
