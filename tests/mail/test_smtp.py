"""Sending over a real mail server on loopback: secure lines, refusals, lines that break."""

from __future__ import annotations

import asyncio
import email
import socket
import ssl
from contextlib import suppress
from email import policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import aiosmtplib
import pytest

from mebuki.errors import DeliveryError, InputError
from mebuki.mail.compose import MailWriter
from mebuki.mail.pace import Pace
from mebuki.mail.smtp import SmtpMailer, trusted
from mebuki.rounds.ports import Letter
from tests.builders import a_garden, a_subscriber
from tests.mail.smtp_sink import HOST, Certificate, SmtpSink, make_certificate
from tests.plans import a_notice

WRITER = MailWriter("mebuki@garden.example", "garden.example")


def a_letter(number: int = 0, address: str = "ada@example.org") -> Letter:
    """Return a letter as it is written for a subscriber."""
    notice = a_notice(key=f"frost:{number}:act")
    return WRITER.write(a_garden(), notice, a_subscriber(email=address))


def mailer(sink: SmtpSink, **changes: Any) -> SmtpMailer:
    """Return a mailer to a sink."""
    given: dict[str, Any] = {
        "host": HOST, "port": sink.port, "security": sink.security,
        "sender": "mebuki@garden.example", "timeout_seconds": 5.0,
    }  # fmt: skip
    if sink.certificate is not None:
        given["context"] = sink.certificate.of_client()
    return SmtpMailer(**{**given, **changes})


async def _sent(way: SmtpMailer, *letters: Letter) -> None:
    try:
        for letter in letters:
            await way.send(letter)
    finally:
        await way.close()


def send(way: SmtpMailer, *letters: Letter) -> None:
    """Send letters one after another and hang up."""
    asyncio.run(_sent(way, *letters))


def failure(way: SmtpMailer, *letters: Letter) -> DeliveryError:
    """Return how sending fails."""
    with pytest.raises(DeliveryError) as caught:
        send(way, *letters)
    return caught.value


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Certificate:
    """Return a certificate for this machine."""
    return make_certificate(tmp_path_factory.mktemp("certificate"))


@pytest.mark.parametrize("security", ["tls", "starttls"])
def test_a_letter_goes_over_a_secure_line_with_a_log_in(
    security: str, certificate: Certificate
) -> None:
    """The bytes arrive as they are; the envelope is the settings' and the recipient's."""
    letter = a_letter()
    with SmtpSink(security=security, certificate=certificate, password="wisteria") as sink:  # noqa: S106 - of this test
        send(mailer(sink, user="mebuki", password="wisteria"), letter)  # noqa: S106 - as above
    (received,) = sink.received
    assert received.content == letter.content
    assert (received.sender, received.recipient) == ("mebuki@garden.example", "ada@example.org")
    assert received.secure
    assert received.user == "mebuki"


def test_a_letter_goes_in_the_clear_on_this_machine() -> None:
    """Where that was asked for."""
    with SmtpSink() as sink:
        send(mailer(sink), a_letter())
    assert not sink.received[0].secure


def test_what_arrives_is_what_was_written() -> None:
    """A receiver's parser finds one sender, one recipient, the subject and both parts."""
    letter = a_letter()
    with SmtpSink() as sink:
        send(mailer(sink), letter)
    message = email.message_from_bytes(sink.received[0].content, policy=policy.default)
    assert isinstance(message, EmailMessage)
    assert message["Message-ID"] == letter.message_id
    assert [one.addr_spec for one in message["To"].addresses] == [letter.recipient]
    assert [one.addr_spec for one in message["From"].addresses] == [sink.received[0].sender]
    assert message["Subject"] == letter.subject
    assert [part.get_content_type() for part in message.iter_parts()] == ["text/plain", "text/html"]
    assert not message.defects


def test_lines_of_dots_and_long_lines_arrive_unchanged() -> None:
    """A dot alone ends no message, and nothing is folded anew."""
    content = b"From: a@x.org\r\n\r\n.\r\n..\r\n.x\r\n" + b"y" * 900 + b"\r\n"
    with SmtpSink() as sink:
        send(mailer(sink), Letter("k", "ada@example.org", "<1@x>", "s", content))
    assert sink.received[0].content == content


def test_many_letters_share_a_line() -> None:
    """One line for twenty letters; a hundred letters are the most."""
    with SmtpSink() as sink:
        send(mailer(sink), *(a_letter(number) for number in range(20)))
        assert (sink.lines, len(sink.received)) == (1, 20)
        send(mailer(sink), *[a_letter()] * 101)
        assert (sink.lines, len(sink.received)) == (3, 121)


def test_a_line_the_server_closed_is_opened_again_without_a_word() -> None:
    """421 between letters loses nothing and sends nothing twice."""
    letters = [a_letter(number) for number in range(7)]
    with SmtpSink(letters_a_line=3) as sink:
        send(mailer(sink), *letters)
    assert sink.lines == 3
    assert [one.content for one in sink.received] == [one.content for one in letters]


def test_a_line_cut_between_letters_is_opened_again() -> None:
    """The server restarts; the next letter goes over a new line."""
    with SmtpSink() as first:
        port = first.port

        async def both() -> None:
            way = mailer(first)
            await way.send(a_letter(1))
            await asyncio.to_thread(first.__exit__)
            with SmtpSink(port=port) as second:
                await way.send(a_letter(2))
                await way.close()
            assert [one.content for one in second.received] == [a_letter(2).content]
            await asyncio.to_thread(first.__enter__)

        asyncio.run(both())
    assert [one.content for one in first.received] == [a_letter(1).content]


def test_letters_at_one_time_go_over_lines_of_their_own() -> None:
    """Four at a time, four lines, each letter once."""
    letters = [a_letter(number) for number in range(4)]

    async def at_once(way: SmtpMailer) -> None:
        await asyncio.gather(*(way.send(letter) for letter in letters))
        await way.close()

    with SmtpSink() as sink:
        asyncio.run(at_once(mailer(sink)))
    assert sink.lines == 4
    assert sorted(one.content for one in sink.received) == sorted(one.content for one in letters)


def test_a_mailer_can_be_used_from_one_event_loop_after_another() -> None:
    """A line of a loop that ended is not touched."""
    with SmtpSink() as sink:
        way = mailer(sink)
        for number in range(3):
            send(way, a_letter(number))
    assert len(sink.received) == 3


@pytest.mark.parametrize("address", ["jürgen@example.org", "園丁@exämple.org"])
def test_utf8_is_asked_for_where_it_is_needed(address: str) -> None:
    """And not for a domain or a name of another script, which mail can write otherwise."""
    with SmtpSink() as sink:
        send(mailer(sink), a_letter(address=address), a_letter(address="ann@exämple.org"))
    with_utf8, without = sink.received
    assert {"SMTPUTF8", "BODY=8BITMIME"} <= set(with_utf8.options)
    assert with_utf8.recipient.partition("@")[0] == address.partition("@")[0]
    assert "SMTPUTF8" not in without.options
    assert without.recipient == "ann@xn--exmple-cua.org"


def test_a_server_without_utf8_refuses_that_letter_alone() -> None:
    """For good, and the address is not called dead for it."""
    with SmtpSink(utf8=False) as sink:
        error = failure(mailer(sink), a_letter(address="jürgen@example.org"))
        send(mailer(sink), a_letter())
    assert (error.permanent, error.server, error.bounce) == (True, False, "")
    assert len(sink.received) == 1


def test_nothing_is_sent_where_starttls_is_not_offered() -> None:
    """No falling back: neither letter nor password leave in the clear."""
    with SmtpSink() as sink:
        context = ssl.create_default_context()
        error = failure(
            mailer(sink, security="starttls", context=context, user="mebuki", password="p"),  # noqa: S106 - of this test
            a_letter(),
        )
    assert "offers no STARTTLS; nothing was sent" in str(error)
    assert (error.server, error.permanent) == (True, False)
    assert sink.received == []


def test_nothing_is_sent_where_tls_is_not_spoken() -> None:
    """A port in the clear, asked for TLS from the first byte."""
    with SmtpSink() as sink:
        error = failure(mailer(sink, security="tls", context=ssl.create_default_context()),
                        a_letter())  # fmt: skip
    assert "no secure line could be made" in str(error)
    assert error.server
    assert sink.received == []


@pytest.mark.parametrize("security", ["tls", "starttls"])
def test_a_certificate_nobody_vouches_for_is_refused(
    security: str, certificate: Certificate
) -> None:
    """The system's authorities do not know it."""
    with SmtpSink(security=security, certificate=certificate) as sink:
        error = failure(mailer(sink, context=ssl.create_default_context()), a_letter())
    assert "its certificate is not accepted: self-signed certificate" in str(error)
    assert error.server
    assert sink.received == []


@pytest.mark.parametrize("security", ["tls", "starttls"])
def test_a_certificate_for_another_name_is_refused(security: str, tmp_path: Path) -> None:
    """Whoever vouches for it."""
    other = make_certificate(tmp_path, "DNS:mail.example.org")
    with SmtpSink(security=security, certificate=other) as sink:
        error = failure(mailer(sink), a_letter())
    assert "its certificate is not accepted" in str(error)
    assert "127.0.0.1" in str(error)
    assert sink.received == []


def test_a_wrong_password_is_the_servers_trouble_not_the_letters(certificate: Certificate) -> None:
    """Every letter would meet it; none is given up, and the password is not told."""
    with SmtpSink(security="tls", certificate=certificate, password="wisteria") as sink:  # noqa: S106 - of this test
        error = failure(mailer(sink, user="mebuki", password="maple"), a_letter())  # noqa: S106 - as above
    assert "user and password are not accepted: 535" in str(error)
    assert (error.server, error.permanent) == (True, False)
    assert "maple" not in str(error)
    assert "maple" not in repr(mailer(sink, user="mebuki", password="maple"))  # noqa: S106 - as above
    assert sink.received == []


def test_a_password_is_never_sent_in_the_clear() -> None:
    """Such a mailer cannot be made."""
    with pytest.raises(InputError, match="never sent over a plain line"):
        SmtpMailer(host=HOST, port=25, security="plain", user="mebuki", password="p")  # noqa: S106 - of this test


def test_a_plain_line_to_another_machine_is_hung_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if its name promised to be this one."""
    monkeypatch.setattr(aiosmtplib.SMTP, "get_transport_info", lambda *_: ("203.0.113.7", 25))
    with SmtpSink() as sink:
        error = failure(mailer(sink), a_letter())
    assert "for this machine alone, not 203.0.113.7" in str(error)
    assert sink.received == []


def test_a_name_that_cannot_be_found_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """The name system fails; no socket is opened."""

    async def unknown(*_: Any, **__: Any) -> Any:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(asyncio.base_events.BaseEventLoop, "getaddrinfo", unknown)
    way = SmtpMailer(host="mail.example.org", port=465, security="tls", sender="m@x.org")
    error = failure(way, a_letter())
    assert str(error) == "mail.example.org:465: the name cannot be found"
    assert (error.server, error.permanent) == (True, False)


def test_a_server_that_is_not_there_is_told() -> None:
    """Nobody listens on the port."""
    with SmtpSink() as sink:
        pass
    error = failure(mailer(sink), a_letter())
    assert "nobody listens there" in str(error)
    assert error.server


@pytest.mark.parametrize(
    ("reply", "permanent", "server", "bounce"),
    [
        ("451 4.7.1 greylisted, come back", False, False, False),
        ("452 4.2.2 mailbox full", False, False, False),
        ("550 5.1.1 no such user", True, False, True),
        ("550 user unknown", True, False, True),
        ("552 5.2.2 mailbox full", True, False, True),
        ("550 5.7.1 not wanted here", True, False, False),
        ("554 5.7.1 relay access denied", False, True, False),
        ("530 5.7.0 authentication required", False, True, False),
    ],
)
def test_a_refused_recipient(reply: str, permanent: bool, server: bool, bounce: bool) -> None:
    """4xx is put off, 5xx given up for this recipient; what is about us stops the delivery."""
    refuse = {"ada@example.org": reply}
    with SmtpSink(at_recipient=lambda address: refuse.get(address, "")) as sink:
        error = failure(mailer(sink), a_letter())
        way = mailer(sink)
        assert failure(way, a_letter(), a_letter()).permanent == permanent
        send(way, a_letter(1, "ben@example.org"))
    assert (error.permanent, error.server) == (permanent, server)
    assert error.bounce == (reply if bounce else "")
    assert reply in str(error)
    assert [one.recipient for one in sink.received] == ["ben@example.org"]


def test_after_a_refusal_the_line_is_used_again() -> None:
    """One recipient's trouble costs the others nothing, not even a new line."""
    with SmtpSink(at_recipient=lambda who: "550 5.1.1 no" if who[0] == "a" else "") as sink:

        async def both() -> None:
            way = mailer(sink)
            for address in ("ada@example.org", "ben@example.org", "amy@example.org"):
                with suppress(DeliveryError):
                    await way.send(a_letter(address=address))
            await way.send(a_letter(1, "ben@example.org"))
            await way.close()

        asyncio.run(both())
    assert sink.lines == 1
    assert [one.recipient for one in sink.received] == ["ben@example.org"] * 2


@pytest.mark.parametrize(
    ("reply", "permanent", "server", "bounce"),
    [
        ("452 4.3.1 disk full", False, False, False),
        ("421 4.3.2 shutting down", False, True, False),
        ("554 5.6.0 looks like spam", True, False, False),
        ("550 5.1.1 no such user after all", True, False, True),
    ],
)
def test_a_refused_text(reply: str, permanent: bool, server: bool, bounce: bool) -> None:
    """As for recipients; only an answer about the address speaks against the address."""
    with SmtpSink(at_text=lambda _: reply) as sink:
        error = failure(mailer(sink), a_letter())
    assert (error.permanent, error.server, error.broken) == (permanent, server, False)
    assert error.bounce == (reply if bounce else "")
    assert sink.received == []


@pytest.mark.parametrize(
    ("reply", "permanent"),
    [
        ("550 5.1.8 sender unknown", False),
        ("451 4.3.0 later", False),
        ("421 4.3.2 later", False),
        ("552 5.3.4 too large", True),
    ],
)
def test_a_refused_sender_is_a_matter_of_the_settings(reply: str, permanent: bool) -> None:
    """Every letter would meet it, so none is given up; a message too large is that one's matter."""
    with SmtpSink(at_sender=lambda _: reply) as sink:
        error = failure(mailer(sink), a_letter())
    assert (error.permanent, error.server) == (permanent, not permanent)
    assert error.bounce == ""


def test_a_line_cut_after_the_text_may_have_brought_it() -> None:
    """The server has it, the mailer cannot know: not given up, not taken for the server's end."""
    with SmtpSink(at_text=lambda _: "drop") as sink:
        error = failure(mailer(sink), a_letter())
    assert len(sink.received) == 1
    assert (error.broken, error.permanent, error.server) == (True, False, False)
    assert "it may have come" in str(error)


def test_an_answer_that_comes_too_late_leaves_it_open() -> None:
    """The server has it and is slow; the line is not used again, its late answer not misread."""
    with SmtpSink(slow=0.6) as sink:
        way = mailer(sink, timeout_seconds=0.2)
        error = failure(way, a_letter())
        assert (error.broken, error.permanent, error.server) == (True, False, False)
        assert "no answer in time after the text was handed over" in str(error)
        sink.slow = 0
        send(way, a_letter(1))
        assert sink.lines == 2


def test_a_line_cut_before_the_text_brought_nothing() -> None:
    """At the recipient: told as a broken line, once it happens on a new line too."""
    with SmtpSink(at_recipient=lambda _: "drop") as sink:
        error = failure(mailer(sink), a_letter())
    assert (error.broken, error.permanent) == (True, False)
    assert "before the text was handed over" in str(error)
    assert sink.received == []


def test_a_server_that_takes_the_call_and_says_nothing_is_waited_for_a_while() -> None:
    """No greeting: told as no answer."""

    async def silent() -> None:
        callers: list[asyncio.StreamWriter] = []
        server = await asyncio.start_server(lambda _, caller: callers.append(caller), HOST, 0)
        port = server.sockets[0].getsockname()[1]
        way = SmtpMailer(
            host=HOST, port=port, security="plain", sender="m@x.org", timeout_seconds=0.1
        )
        with pytest.raises(DeliveryError, match="no answer in time") as caught:
            await way.send(a_letter())
        assert caught.value.server
        for caller in callers:
            caller.close()
            await caller.wait_closed()
        server.close()

    asyncio.run(silent())


def test_a_cancelled_letter_leaves_no_line_that_could_mix_answers() -> None:
    """The line is closed, not kept: the next letter's answers are its own."""
    with SmtpSink(slow=0.3) as sink:

        async def cancelled() -> None:
            way = mailer(sink)
            work = asyncio.create_task(way.send(a_letter()))
            await asyncio.sleep(0.15)
            work.cancel()
            with pytest.raises(asyncio.CancelledError):
                await work
            sink.slow = 0
            assert (await way.hand_over(a_letter(1))).startswith("250 2.0.0 taken as 2")
            await way.close()

        asyncio.run(cancelled())
    assert sink.lines == 2


def test_the_envelopes_sender_is_the_one_in_from_where_none_is_set() -> None:
    """For a mailer that was told no sender."""
    with SmtpSink() as sink:
        send(mailer(sink, sender=""), a_letter())
    assert sink.received[0].sender == "mebuki@garden.example"


def test_a_sender_that_is_no_address_is_refused() -> None:
    """When the mailer is made, before any letter."""
    with pytest.raises(InputError, match="is not an e-mail address"):
        SmtpMailer(host=HOST, port=25, security="plain", sender="a@b\r\nRCPT TO:<x@y>")


def test_an_address_with_a_line_break_never_becomes_a_command() -> None:
    """Whatever put it into a letter."""
    with SmtpSink() as sink:
        letter = Letter("k", "a@x.org>\r\nRCPT TO:<b@x.org", "<1@x>", "s", b"From: a@x.org\r\n\r\n")
        assert failure(mailer(sink), letter).permanent
    assert sink.received == []


def test_no_more_letters_a_minute_than_allowed() -> None:
    """Three at once, then each waits until the third before it is a minute old."""
    now, begun = [0.0], []

    async def sleep(seconds: float) -> None:
        now[0] += seconds

    async def many() -> None:
        pace = Pace(3, watch=lambda: now[0], sleep=sleep)
        for _ in range(8):
            await pace.turn()
            begun.append(now[0])
            now[0] += 1

    asyncio.run(many())
    assert begun == [0, 1, 2, 60, 61, 62, 120, 121]


def test_without_a_limit_nobody_waits() -> None:
    """0 is no limit."""

    async def never(_: float) -> None:
        pytest.fail("nobody should wait")

    async def many() -> None:
        pace = Pace(0, sleep=never)
        for _ in range(1000):
            await pace.turn()

    asyncio.run(many())


def test_a_mailer_keeps_its_pace(monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit of the settings reaches the server."""
    waits: list[float] = []

    async def sleep(seconds: float) -> None:
        waits.append(seconds)
        pace._begun.popleft()

    with SmtpSink() as sink:
        way = mailer(sink, per_minute=2)
        pace = way._pace
        monkeypatch.setattr(pace, "_sleep", sleep)
        send(way, *(a_letter(number) for number in range(5)))
    assert len(sink.received) == 5
    assert len(waits) == 3
    assert all(50 < wait <= 60 for wait in waits)


def test_a_file_without_certificates_is_refused(tmp_path: Path) -> None:
    """Missing or not a certificate: the error names the file."""
    empty = tmp_path / "ca.pem"
    empty.write_text("nothing")
    for file in (empty, tmp_path / "none.pem"):
        with pytest.raises(InputError, match=file.name):
            trusted(file)
