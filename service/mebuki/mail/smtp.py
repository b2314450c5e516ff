"""Letters handed to a mail server by SMTP, as the bytes they are.

The line is secure from the first byte (``tls``, RFC 8314), made secure before
anything else is said (``starttls``), or in the clear to this machine alone
(``plain``). There is no falling back from one to another: a server that does not
offer what is asked for gets nothing.

A line is used for many letters. One that the server closed meanwhile is opened
again without a word, as long as the text was not handed over; once it was,
nobody knows, and the letter is put off.
"""

from __future__ import annotations

import asyncio
import ssl
from dataclasses import dataclass, field
from email.parser import BytesHeaderParser
from email.policy import default as modern
from ipaddress import ip_address
from pathlib import Path
from typing import Final, Literal

from aiosmtplib import (
    SMTP,
    SMTPDataError,
    SMTPRecipientRefused,
    SMTPSenderRefused,
    SMTPServerDisconnected,
)

from mebuki.errors import DeliveryError, InputError
from mebuki.mail.addresses import mail_address
from mebuki.mail.line import BROKEN, Line, hang_up
from mebuki.mail.pace import Pace
from mebuki.mail.replies import (
    closing,
    connecting_failed,
    line_broke,
    recipient_refused,
    sender_refused,
    text_refused,
)
from mebuki.rounds.ports import Letter

Security = Literal["tls", "starttls", "plain"]

OPENING_SECONDS: Final = 20.0
"""Longest time to open a line, log in included [s]; less if answers must come sooner."""


def trusted(ca_file: Path | None = None) -> ssl.SSLContext:
    """Return whom to trust: the system's authorities, or those of one file alone.

    Raises
    ------
    InputError
        If the file cannot be read or holds no certificate.
    """
    try:
        return ssl.create_default_context(cafile=ca_file)
    except (OSError, ssl.SSLError) as error:
        msg = f"{ca_file}: not a readable file of certificates"
        raise InputError(msg) from error


class _StaleError(Exception):
    """A line that was used before was closed by the server, and nothing handed over yet."""


@dataclass(eq=False, kw_only=True)
class SmtpMailer:
    """A way to one mail server.

    Parameters
    ----------
    host, port, security
        Where it is and how the line is kept secret.
    sender
        The envelope's sender, to whom servers return what they cannot deliver;
        the address in From if empty.
    user, password
        Who logs in; nobody if empty.
    timeout_seconds
        How long each answer may take. RFC 5321, 4.5.3.2, asks for minutes.
    per_minute
        How many letters go in a minute at most; 0 for no limit.
    context
        Whom to trust (`trusted`).

    Raises
    ------
    InputError
        If a password would go in the clear, or the sender is not an address.
    """

    host: str
    port: int
    security: Security
    sender: str = ""
    user: str = ""
    password: str = field(default="", repr=False)
    timeout_seconds: float = 120.0
    per_minute: int = 0
    context: ssl.SSLContext | None = field(default=None, repr=False)
    _idle: list[Line] = field(default_factory=list, init=False, repr=False)
    _pace: Pace = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if self.security == "plain" and (self.user or self.password):
            msg = "user and password are never sent over a plain line; choose tls or starttls"
            raise InputError(msg)
        if self.sender:
            self.sender = mail_address("", self.sender).addr_spec
        if self.security != "plain" and self.context is None:
            self.context = trusted()
        self._pace = Pace(self.per_minute)

    async def send(self, letter: Letter) -> None:
        """Hand over one letter; on return the server has taken it.

        May be called for several letters at a time: each goes over its own line.

        Raises
        ------
        mebuki.errors.DeliveryError
            If it was not taken over, or that is not known.
        """
        await self.hand_over(letter)

    async def hand_over(self, letter: Letter) -> str:
        """Do as `send` does; return what the server said when it took the letter."""
        _hold_to_one_address(letter)
        await self._pace.turn()
        line = await self._line()
        try:
            return await self._over(line, letter)
        except _StaleError:
            return await self._over(await self._opened(), letter)

    async def close(self) -> None:
        """Hang up; the next letter opens a line again."""
        lines, self._idle = self._idle, []
        for line in lines:
            await line.quit()

    async def _line(self) -> Line:
        while self._idle:
            line = self._idle.pop()
            if line.usable:
                return line
            await line.quit()
        return await self._opened()

    async def _opened(self) -> Line:
        client = SMTP(
            hostname=self.host,
            port=self.port,
            use_tls=self.security == "tls",
            start_tls=False,
            local_hostname=self.sender.rpartition("@")[2] or "[127.0.0.1]",
            timeout=self.timeout_seconds,
            tls_context=self.context,
        )
        try:
            async with asyncio.timeout(min(OPENING_SECONDS, self.timeout_seconds)):
                await client.connect()
                await self._made_ready(client)
        except BROKEN as error:
            await hang_up(client)
            raise connecting_failed(error, f"{self.host}:{self.port}") from error
        except BaseException:
            await hang_up(client)
            raise
        return Line(client)

    async def _made_ready(self, client: SMTP) -> None:
        """Make a new line safe, then log in."""
        if self.security == "plain":
            self._hold_to_this_machine(client)
        if self.security == "starttls":
            await client.starttls()
        if self.user:
            await client.login(self.user, self.password)

    def _hold_to_this_machine(self, client: SMTP) -> None:
        """Refuse a server elsewhere, whatever its name promised, before a word is said."""
        there = str(client.get_transport_info("peername")[0])
        if not ip_address(there).is_loopback:
            msg = f"{self.host}:{self.port}: a plain line is for this machine alone, not {there}"
            raise DeliveryError(msg, server=True)

    async def _over(self, line: Line, letter: Letter) -> str:
        """Send over a line; keep the line for the next letter unless it broke."""
        try:
            await self._envelope(line, letter)
            told = await self._text(line, letter)
        except DeliveryError as error:
            if error.broken or not await line.reset():
                await hang_up(line.client)
            else:
                self._idle.append(line)
            raise
        except BaseException:
            await hang_up(line.client)
            raise
        line.carried()
        self._idle.append(line)
        return told

    async def _envelope(self, line: Line, letter: Letter) -> None:
        client = line.client
        sender = self.sender or _from(letter)
        try:
            options, encoding = await self._options(client, sender, letter)
            await client.mail(sender, options=options, encoding=encoding)
            await client.rcpt(letter.recipient, encoding=encoding)
        except BROKEN as error:
            if not line.fresh and (closing(error) or isinstance(error, SMTPServerDisconnected)):
                raise _StaleError from error
            if isinstance(error, SMTPSenderRefused):
                raise sender_refused(error) from error
            if isinstance(error, SMTPRecipientRefused):
                raise recipient_refused(error) from error
            raise line_broke(error, may_have_arrived=False) from error

    async def _text(self, line: Line, letter: Letter) -> str:
        try:
            response = await line.client.data(letter.content)
        except SMTPDataError as error:
            raise text_refused(error) from error
        except BROKEN as error:
            raise line_broke(error, may_have_arrived=True) from error
        return " ".join(f"{response.code} {response.message}".split())

    async def _options(self, client: SMTP, sender: str, letter: Letter) -> tuple[list[str], str]:
        """Return the options of MAIL and the encoding of addresses; UTF-8 only where needed."""
        if not client.esmtp_extensions:
            await client.ehlo()
        options = []
        if client.supports_extension("size"):
            options.append(f"SIZE={len(letter.content)}")
        if not letter.content.isascii() and client.supports_extension("8bitmime"):
            options.append("BODY=8BITMIME")
        if not _needs_utf8(sender, letter):
            return options, "ascii"
        if not client.supports_extension("smtputf8"):
            msg = f"{self.host} cannot send to addresses such as {letter.recipient}"
            raise DeliveryError(msg, permanent=True)
        return [*options, "SMTPUTF8"], "utf-8"


def _hold_to_one_address(letter: Letter) -> None:
    try:
        mail_address("", letter.recipient)
    except InputError as error:
        raise DeliveryError(str(error), permanent=True) from error


def _needs_utf8(sender: str, letter: Letter) -> bool:
    header, _, _ = letter.content.partition(b"\r\n\r\n")
    return not (sender.isascii() and letter.recipient.isascii() and header.isascii())


def _from(letter: Letter) -> str:
    """Return the address in From."""
    header = BytesHeaderParser(policy=modern).parsebytes(letter.content)["From"]
    addresses = getattr(header, "addresses", ())
    if not addresses:
        msg = "the message has no sender"
        raise DeliveryError(msg, permanent=True)
    return str(addresses[0].addr_spec)
