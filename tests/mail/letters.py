"""Letters of every kind, with all that they can hold, for the tests of mails."""

from __future__ import annotations

import email
import struct
import zlib
from dataclasses import replace
from datetime import datetime
from email import policy
from email.message import EmailMessage

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.domain.advice import CareKind
from mebuki.domain.garden import Garden, Subscriber
from mebuki.mail.compose import MailWriter
from mebuki.rounds.ports import Letter, Picture
from tests.builders import a_garden, a_subscriber
from tests.plans import a_notice

SENDER, HOST = "mebuki@garden.example", "garden.example"
GARDEN = a_garden(name="Hillside", invented=True)


class FakeLinks:
    """Pages under one address; the token is as long as a signed one."""

    token = "k3J9" * 16

    def see(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return the page of a notice."""
        return f"https://{HOST}/n/{self.token}?g={garden.id}&a={notice.key}"

    def acknowledge(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return the page of an answer."""
        return f"https://{HOST}/seen/{self.token}"

    def record(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return the page of a record."""
        return f"https://{HOST}/did/{self.token}"

    def scores(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        """Return the page of how warnings turned out."""
        return f"https://{HOST}/scores/{self.token}"

    def leave(self, garden: Garden, to: Subscriber, kind: str = "") -> str:
        """Return the page to stop a kind of mail."""
        return f"https://{HOST}/leave/{kind or 'all'}/{self.token}"

    def confirm(self, garden: Garden, to: Subscriber, asked_at: datetime) -> str:
        """Return the page that confirms an address."""
        return f"https://{HOST}/confirm/{self.token}"


def a_picture() -> Picture:
    """Return a small grey picture."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    pixels = zlib.compress(b"".join(b"\x00" + b"\x80" * 350 for _ in range(200)))
    head = struct.pack(">IIBBBBB", 350, 200, 8, 0, 0, 0, 0)
    png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    return Picture(png, "Lowest air temperature −2.1 °C in the night from Wednesday.", 350)


def notices() -> dict[str, Notice]:
    """Return a notice of each kind that a reader may get."""
    act = a_notice(
        lead="Lowest −2.1 °C about 05:00; act before dark.",
        facts=(
            ("Lowest air temperature", "−2.1 °C ± 1.6"),
            ("Most at risk", "Old Larch: young leaves, −3.4 °C expected, limit −2.0 °C"),
            ("Official warning", "Freeze Warning from 2 AM to 8 AM, 28 °F (NWS Upton NY) "
             "https://alerts.weather.example/freeze-warning-of-the-office-of-upton-new-york-2013"),
            ("Credit", "NOAA Integrated Surface Database, public domain"),
            ("Basis", "Weather measured until 27 Mar 15:00."),
        ),
        cautions=("Heavy from 23 kg: two people (NIOSH).", "Paths ice over at night (CDC)."),
        chart="nights",
    )  # fmt: skip
    many = tuple(f"Japanese maple no. {number}" for number in range(1, 61))
    quiet = {"lines": (), "cautions": ()}
    return {
        "act": act,
        "many": replace(act, lines=(*act.lines, NoticeLine("Shade house", "Cover.", many))),
        "prepare": replace(act, key="frost:2013-03-30:prepare", step=NoticeStep.PREPARE),
        "heat": a_notice(
            key="heat:2013-07-18:act", thread="heat:2013-07-18", kind=CareKind.HEAT,
            subject="Heat at the pots tomorrow: shade 7 trees",
            lead="Old Pine: pot wall up to 46 °C in the sun.",
            facts=(("pot wall, sunny side", "41 °C to 46 °C, 5 hours at 38 °C or more"),
                   ("in wind above", "4 m/s (usually 3 to 6)")),
        ),
        "over": a_notice(
            key="frost:2013-03-27:over", step=NoticeStep.OVER, **quiet,
            subject="The cold night of Wed 27 Mar is past",
            lead="The coming night brings no harm: trees may go back to their places.",
        ),
        "blind": a_notice(
            key="blind:2013-03-27:blind", thread="blind:2013-03-27", step=NoticeStep.BLIND,
            kind=None, **quiet, subject="The coming nights cannot be seen",
            lead="The weather is missing or old. No warning of frost will come.",
        ),
        "digest": a_notice(
            key="digest:2013-03-27:digest", thread="digest:2013-03-27", kind=None,
            step=NoticeStep.DIGEST, subject="Hillside, Wed 27 Mar: 2 for today, 1 coming",
            lead="Water 2 trees", facts=(("Basis", "Weather measured until 27 Mar 15:00."),),
            cautions=(),
            lines=(
                NoticeLine("Today", "Water 2 trees", ("Old Larch", "Zelkova")),
                NoticeLine("Today", "Check the wire on Old Pine", ()),
                NoticeLine("28 Mar – 4 Apr", "Repot Larch (likely 30 Mar)", ()),
            ),
        ),
    }  # fmt: skip


def a_letter(
    notice: Notice,
    to: Subscriber | None = None,
    garden: Garden = GARDEN,
    *,
    linked: bool = True,
    picture: bool = True,
) -> Letter:
    """Return a rendered letter, by default with pages to link to and a picture for nights."""
    writer = MailWriter(SENDER, HOST, FakeLinks() if linked else None)
    drawn = a_picture() if picture and notice.chart else None
    return writer.write(garden, notice, to or a_subscriber(), drawn)


def received(letter: Letter) -> EmailMessage:
    """Return a letter as the standard library parses its bytes."""
    message = email.message_from_bytes(letter.content, policy=policy.default)
    assert isinstance(message, EmailMessage)
    assert not [defect for part in message.walk() for defect in part.defects]
    return message


def text_of(letter: Letter, kind: str) -> str:
    """Return the plain or HTML text of a letter."""
    body = received(letter).get_body((kind,))
    assert body is not None
    return str(body.get_content()).replace("\r\n", "\n")
