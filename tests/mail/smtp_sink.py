"""A real mail server on loopback that keeps what it is given and can be told to misbehave."""

from __future__ import annotations

import asyncio
import ssl
import subprocess
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Self

from aiosmtpd import smtp
from aiosmtpd.smtp import AuthResult, Envelope, LoginPassword, Session

HOST: Final = "127.0.0.1"


@dataclass(frozen=True, slots=True)
class Received:
    """A message as it came: its envelope, its bytes, whether over a secure line and by whom."""

    sender: str
    recipient: str
    content: bytes
    options: tuple[str, ...]
    secure: bool
    user: str


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate of a test, its key, and a context that trusts it alone."""

    file: Path
    key: Path

    def of_server(self) -> ssl.SSLContext:
        """Return what a server shows."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(self.file, self.key)
        return context

    def of_client(self) -> ssl.SSLContext:
        """Return a client that trusts this certificate and no other."""
        return ssl.create_default_context(cafile=self.file)


def make_certificate(folder: Path, names: str = "DNS:localhost,IP:127.0.0.1") -> Certificate:
    """Make a self-signed certificate for names, good for a day."""
    file, key = folder / "certificate.pem", folder / "key.pem"
    subprocess.run(
        [
            "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
            "-nodes", "-days", "1", "-subj", "/CN=mebuki.test", "-addext",
            f"subjectAltName={names}", "-keyout", str(key), "-out", str(file),
        ],
        check=True, capture_output=True,
    )  # fmt: skip
    return Certificate(file, key)


@dataclass
class SmtpSink:
    """A mail server to be used as a context.

    Parameters
    ----------
    port
        0 takes a free one.
    security
        What it offers: ``plain``, ``starttls`` or ``tls``, the latter two with a
        certificate.
    password
        Of the user ``mebuki``, who must log in then.
    at_sender, at_recipient, at_text
        What it answers to MAIL, RCPT and DATA instead of taking it, by envelope; an
        empty answer takes it. ``drop`` hangs up instead, after the text was taken.
    slow
        Seconds it takes over the answer to the text, which it has by then.
    utf8
        Whether it takes addresses of other scripts.
    letters_a_line
        After so many letters over one line it answers 421 to MAIL and hangs up.

    Attributes
    ----------
    received
        The messages, in the order in which they came.
    lines
        How many lines were opened.
    """

    port: int = 0
    security: str = "plain"
    certificate: Certificate | None = None
    password: str = ""
    at_sender: Callable[[str], str] = lambda _: ""
    at_recipient: Callable[[str], str] = lambda _: ""
    at_text: Callable[[Envelope], str] = lambda _: ""
    slow: float = 0
    utf8: bool = True
    letters_a_line: int = 0
    received: list[Received] = field(default_factory=list)
    lines: int = 0

    def __enter__(self) -> Self:
        """Begin to listen."""
        self._open: list[_Line] = []
        self._loop = asyncio.new_event_loop()
        listening = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(listening,), daemon=True)
        self._thread.start()
        assert listening.wait(10)
        return self

    def __exit__(self, *_: object) -> None:
        """Hang up on everybody and listen no more."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()

    def _run(self, listening: threading.Event) -> None:
        loop = self._loop
        asyncio.set_event_loop(loop)
        context = self.certificate.of_server() if self.certificate else None
        made = loop.create_server(
            self._line, HOST, self.port, ssl=context if self.security == "tls" else None
        )
        server = loop.run_until_complete(made)
        self.port = server.sockets[0].getsockname()[1]
        loop.call_soon(listening.set)
        loop.run_forever()
        server.close()
        for line in self._open:
            _cut(line)
        tasks = asyncio.all_tasks(loop)
        for task in tasks:
            task.cancel()
        loop.run_until_complete(asyncio.gather(*tasks, return_exceptions=True))
        loop.run_until_complete(asyncio.sleep(0.01))  # lines that were cut say so to their owners
        loop.run_until_complete(server.wait_closed())
        loop.close()

    def _line(self) -> _Line:
        given: dict[str, Any] = {"enable_SMTPUTF8": self.utf8, "hostname": "sink.test"}
        if self.security == "starttls" and self.certificate:
            given |= {"tls_context": self.certificate.of_server(), "require_starttls": True}
        if self.password:
            given["authenticator"] = self._authenticate
            given["auth_require_tls"] = self.security == "starttls"
        line = _Line(self, loop=self._loop, **given)
        self._open.append(line)
        self.lines += 1
        return line

    async def handle_MAIL(  # noqa: N802 - the name is aiosmtpd's
        self, server: smtp.SMTP, session: Session, envelope: Envelope, address: str,
        options: list[str],
    ) -> str:  # fmt: skip
        """Take the sender, or not."""
        over = getattr(session, "letters", 0)
        if self.letters_a_line and over >= self.letters_a_line:
            return "421 4.7.0 too many letters"
        if self.password and not session.authenticated:
            return "530 5.7.0 authentication required"
        if told := self.at_sender(address):
            return _or_drop(server, told)
        envelope.mail_from = address
        envelope.mail_options.extend(options)
        return "250 2.1.0 OK"

    async def handle_RCPT(  # noqa: N802 - as above
        self, server: smtp.SMTP, session: Session, envelope: Envelope, address: str,
        options: list[str],
    ) -> str:  # fmt: skip
        """Take the recipient, or not."""
        if told := self.at_recipient(address):
            return _or_drop(server, told)
        envelope.rcpt_tos.append(address)
        return "250 2.1.5 OK"

    async def handle_DATA(  # noqa: N802 - as above
        self, server: smtp.SMTP, session: Session, envelope: Envelope
    ) -> str:
        """Keep the message, or not."""
        told = self.at_text(envelope)
        if told and told != "drop":
            return told
        content = envelope.original_content
        assert isinstance(content, bytes)
        data: Any = session.auth_data
        (recipient,) = envelope.rcpt_tos
        self.received.append(
            Received(
                sender=envelope.mail_from or "",
                recipient=recipient,
                content=content,
                options=tuple(envelope.mail_options),
                secure=session.ssl is not None or self.security == "tls",
                user="" if data is None else data.login.decode(),
            )
        )
        session.letters = getattr(session, "letters", 0) + 1  # type: ignore[attr-defined]
        if self.slow:
            await asyncio.sleep(self.slow)
        if told == "drop":
            return _or_drop(server, told)
        return f"250 2.0.0 taken as {len(self.received)}"

    def _authenticate(
        self, server: smtp.SMTP, session: Session, envelope: Envelope, mechanism: str, data: Any
    ) -> AuthResult:
        """Let the user of the password in."""
        assert isinstance(data, LoginPassword)
        right = data == LoginPassword(b"mebuki", self.password.encode())
        return AuthResult(success=right, handled=False, auth_data=data if right else None)


def _or_drop(server: smtp.SMTP, told: str) -> str:
    if told == "drop":
        _cut(server)
    return told


def _cut(server: smtp.SMTP) -> None:
    transports: tuple[Any, ...] = (server.transport, server._original_transport)
    for transport in transports:
        if transport is not None:
            transport.abort()


class _Line(smtp.SMTP):
    """A line that may be gone when an answer is ready."""

    async def push(self, status: Any) -> None:
        """Answer, unless the line is gone."""
        if self.transport is not None and not self.transport.is_closing():
            await super().push(status)
