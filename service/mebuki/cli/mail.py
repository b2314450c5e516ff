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


class ReadIn(StrEnum):
    """The units that a previewed mail is written in."""

    METRIC = "metric"
    US = "us"


def mail(
    test: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Send one test message through the mail server."),
    ] = None,
    preview: Annotated[
        Kind | None, typer.Option(help="Write mails of the invented example garden as files.")
    ] = None,
    out: Annotated[Path, typer.Option(help="The folder for --preview.")] = Path("mebuki-mails"),
    units: Annotated[ReadIn, typer.Option(help="The units of --preview.")] = ReadIn.METRIC,
    readers: Annotated[
        bool, typer.Option("--readers", help="Name all readers, and whether they want mails.")
    ] = False,
    ask: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="Have a reader who has not answered asked again for a yes."
        ),
    ] = None,
) -> None:
    """Try the mail server, look at the mails without sending any, or see who wants them.

    Readers get no mail before they have said yes by the link in the mail that asks them:
    in the next round of the service, and twice more after a week.
    """
    if [test is None, preview is None, not readers, ask is None].count(False) != 1:
        msg = "mebuki mail: give one of --test ADDRESS, --preview KIND, --readers, --ask ADDRESS"
        raise InputError(msg)
    if test is not None:
        _test(test)
    elif preview is not None:
        _preview(preview, out, units)
    else:
        _readers(ask)


def _readers(ask: str | None) -> None:
    """Name the readers of all gardens, or have one of them asked again."""
    from contextlib import closing

    from mebuki.settings import read_settings
    from mebuki.storage.consents import Consents, address_key
    from mebuki.storage.migrate import open_database
    from mebuki.storage.reader_standings import reader_standings

    with closing(open_database(read_settings().database)) as database:
        if ask is not None:
            asked = address_key(ask)
            theirs = [r for r in reader_standings(database) if address_key(r.address) == asked]
            if not sum(Consents(database).ask_anew(r.garden, r.address) for r in theirs):
                msg = f"{ask} is no reader who has yet to answer: see mebuki mail --readers"
                raise InputError(msg)
        found = [
            each
            for each in reader_standings(database)
            if ask is None or address_key(each.address) == address_key(ask)
        ]
    for each in found:
        typer.echo(f"{each.garden}: {each.name} <{each.address}> {each.words}")
    if not found:
        typer.echo("There is no reader yet: [[subscribers]] in a garden file names them.")


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


def _preview(kind: Kind, out: Path, units: ReadIn) -> None:
    from email import message_from_bytes
    from email.policy import default

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
    reader = inputs.garden.subscribers[0].model_copy(update={"units": units.value})
    pictures = MailPictures()
    for step, sample in sample_notices(inputs, steps).items():
        drawn = pictures.draw(sample.plan, sample.notice, reader.units)
        letter = writer.write(inputs.garden, sample.notice, reader, drawn)
        typer.echo(f"{step}: {message_from_bytes(letter.content, policy=default)['Subject']}")
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
