"""What all readers of the same units and language share of a notice: written once.

Addresses of a reader's own stand in the texts as marks of control characters, which no
text of a person can hold (`mebuki.domain.text.plain` takes them out).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from email.utils import format_datetime
from functools import lru_cache
from textwrap import shorten
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from mebuki.agenda.audience import notice_kind
from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.domain.garden import Garden
from mebuki.domain.text import one_line
from mebuki.mail.notice_page import LISTED, Reading, notice_page
from mebuki.rounds.ports import Picture

SEE, ACKNOWLEDGE, RECORD, LEAVE_KIND, LEAVE_ALL, SCORES = (
    f"\x01{number}\x02" for number in range(6)
)
"""Marks for the addresses of a reader's own."""

LONGEST_SUBJECT: Final = 78
"""Signs of a subject; a long name stands at its end, and in full in the message (default)."""

_UNIT: Final = re.compile(r"(?<=\d) (?=(?:°[CF]|%|m/s|mph)(?!\w))")

SEEN_STEPS: Final = frozenset({NoticeStep.PREPARE, NoticeStep.ACT, NoticeStep.BLIND})
"""Steps of which it matters whether somebody has seen them."""


@dataclass(frozen=True, slots=True)
class Draft:
    """The shared part of the messages of one notice.

    Parameters
    ----------
    plain, html
        With marks in the places of addresses.
    """

    subject: str
    date: str
    plain: str
    html: str


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands around a notice.

    Parameters
    ----------
    sender, stop
        Whom to write, and under which subject, to stop the mails.
    linked
        Whether there are pages to link to.
    cid
        The identity of the picture within a message.
    """

    sender: str
    stop: str
    linked: bool
    cid: str


def write_draft(
    garden: Garden, notice: Notice, reading: Reading, frame: Frame, picture: Picture | None
) -> Draft:
    """Return the shared part of the messages of a notice."""
    page = notice_page(garden, notice, reading)
    page |= {
        "sender": frame.sender,
        "stop": frame.stop,
        "listed": LISTED,
        "picture": None if picture is None else one_line(picture.text),
        "width": 0 if picture is None else picture.width,
        "cid": frame.cid,
        "links": _links(notice, reading) if frame.linked else [],
        "foot": _foot(notice, reading) if frame.linked else [],
        "leave": _leave(notice, reading) if frame.linked else [],
    }
    return Draft(
        subject=shorten(str(page["subject"]), LONGEST_SUBJECT, placeholder="…"),
        date=format_datetime(notice.at.astimezone(garden.site.zone)),
        plain=render("notice.txt.j2", page).rstrip() + "\n",
        html=render("notice.html.j2", page),
    )


def _links(notice: Notice, reading: Reading) -> list[tuple[str, str]]:
    say = reading.say
    found = [(say.see_nights if notice.chart else say.see, SEE)]
    if notice.step in SEEN_STEPS:
        found.append((say.acknowledge, ACKNOWLEDGE))
    if notice.lines and notice.step is not NoticeStep.OVER:
        found.append((say.record, RECORD))
    return found


def _foot(notice: Notice, reading: Reading) -> list[tuple[str, str]]:
    return [(reading.say.scores, SCORES)] if notice.step is NoticeStep.DIGEST else []


def _leave(notice: Notice, reading: Reading) -> list[tuple[str, str]]:
    say = reading.say
    topic = notice_kind(notice)
    kind = say.topics.get(topic, topic)
    return [(say.leave_kind.format(kind=kind), LEAVE_KIND), (say.leave_all, LEAVE_ALL)]


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("mebuki.mail"),
        autoescape=select_autoescape(("html.j2",), default=False),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters["unbroken"] = unbroken
    return made


def unbroken(text: str) -> str:
    r"""Return a text in which a line is not broken between a number and its unit.

    >>> unbroken("Frost −4 °C: bring in 2 trees") == "Frost −4\xa0°C: bring in 2 trees"
    True
    """
    return _UNIT.sub("\xa0", text)


def render(template: str, page: dict[str, object]) -> str:
    """Return a template of this station filled with the values of a page."""
    return _environment().get_template(template).render(page)
