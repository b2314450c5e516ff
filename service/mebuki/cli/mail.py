"""``mebuki mail``: does mail arrive, and what do the mails look like."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mebuki.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from mebuki.rounds.ports import Letter


class Kind(StrEnum):
    """What can be shown: a step of a danger, the digest, or all of them."""

    PREPARE = "prepare"
    ACT = "act"
    OVER = "over"
    BLIND = "blind"
    DIGEST = "digest"
    ALL = "all"


def mail(
    test: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Send one test message through the mail server."),
    ] = None,
    preview: Annotated[
        Kind | None, typer.Option(help="Write mails of the invented example garden as files.")
    ] = None,
    out: Annotated[Path, typer.Option(help="The folder for --preview.")] = Path("mebuki-mails"),
) -> None:
    """Try the mail server, or look at the mails without sending any."""
    if (test is None) == (preview is None):
        msg = "mebuki mail: give either --test ADDRESS or --preview KIND"
        raise InputError(msg)
    if test is not None:
        _test(test)
    else:
        _preview(preview or Kind.ALL, out)


def _test(address: str) -> None:
    import asyncio

    from mebuki.bootstrap.mailing import make_mailer
    from mebuki.clock import SystemClock
    from mebuki.mail.trial import trial_letter
    from mebuki.settings import read_settings

    settings = read_settings()
    mailer = make_mailer(settings)
    if mailer is None:
        msg = "no mail server is set: MEBUKI_SMTP_HOST names it (see settings.example.env)"
        raise InputError(msg)
    letter = trial_letter(settings.sender, settings.host_name, address, SystemClock().now())

    async def hand_over() -> str:
        try:
            return await mailer.hand_over(letter)
        finally:
            await mailer.close()

    told = asyncio.run(hand_over())
    typer.echo(f"{mailer.host}:{mailer.port} ({mailer.security}) took it: {told}")
    typer.echo(f"Message-ID {letter.message_id}; now look whether it arrives at {address}")


def _preview(kind: Kind, out: Path) -> None:
    from mebuki.agenda.entry import NoticeStep
    from mebuki.bootstrap import demo_inputs
    from mebuki.bootstrap.preview import sample_notices
    from mebuki.files import write_whole
    from mebuki.mail.compose import MailWriter
    from mebuki.pictures.for_mail import MailPictures
    from mebuki.settings import read_settings

    settings, inputs = read_settings(), demo_inputs()
    steps = frozenset(NoticeStep) if kind is Kind.ALL else frozenset({NoticeStep(kind.value)})
    writer = MailWriter(settings.sender, settings.host_name)
    reader = inputs.garden.subscribers[0]
    pictures = MailPictures()
    for step, sample in sample_notices(inputs, steps).items():
        drawn = pictures.draw(sample.plan, sample.notice, reader.units)
        letter = writer.write(inputs.garden, sample.notice, reader, drawn)
        typer.echo(f"{step}: {letter.subject}")
        for suffix, content in _forms(letter):
            path = out / f"{step}.{suffix}"
            write_whole(path, content)
            typer.echo(f"  {path}")


def _forms(letter: Letter) -> Iterator[tuple[str, bytes]]:
    """Yield a letter as a mail program gets it, and its two parts as a reader sees them."""
    from base64 import b64encode
    from email import message_from_bytes
    from email.policy import default

    yield "eml", letter.content
    message = message_from_bytes(letter.content, policy=default)
    for suffix, part in (("txt", "plain"), ("html", "html")):
        body = message.get_body((part,))
        if body is None:
            continue
        text = str(body.get_content()).replace("\r\n", "\n")
        for picture in message.walk():
            if picture.get_content_maintype() == "image":
                shown = b64encode(bytes(picture.get_payload(decode=True) or b"")).decode()
                cid = str(picture["Content-ID"]).strip("<>")
                text = text.replace(f"cid:{cid}", f"data:image/png;base64,{shown}")
        yield suffix, text.encode()
