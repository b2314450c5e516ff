"""Messages as a receiver parses them: headers, parts, and the HTML's structure."""

from __future__ import annotations

import email
import subprocess
import sys
from email import policy
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from hypothesis import given
from hypothesis import strategies as st

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.domain.garden import Garden, Subscriber
from mebuki.domain.text import one_line
from mebuki.errors import InputError
from mebuki.mail.compose import MailWriter
from mebuki.rounds.ports import Letter
from tests.builders import a_garden, a_subscriber
from tests.feeds.strategies import ANY_TEXT
from tests.mail.letters import FakeLinks
from tests.plans import a_notice

WRITER = MailWriter("mebuki@garden.example", "garden.example")
GARDEN = a_garden(name="Hillside")


def a_letter(
    notice: Notice | None = None, to: Subscriber | None = None, garden: Garden = GARDEN
) -> Letter:
    """Return a rendered letter."""
    return WRITER.write(garden, notice or a_notice(), to or a_subscriber())


def received(letter: Letter) -> EmailMessage:
    """Return a letter as the standard library parses its bytes."""
    message = email.message_from_bytes(letter.content, policy=policy.default)
    assert isinstance(message, EmailMessage)
    return message


def part(letter: Letter, kind: str) -> str:
    """Return the plain or HTML text of a letter."""
    body = received(letter).get_body((kind,))
    assert body is not None
    return str(body.get_content()).replace("\r\n", "\n")


def test_a_message_has_one_sender_one_recipient_and_the_subject() -> None:
    """From is the garden's own, To is one person, Subject is the fact and the deed."""
    message = received(a_letter())
    assert message["From"].addresses[0].addr_spec == "mebuki@garden.example"
    assert message["From"].addresses[0].display_name == "Mebuki, Hillside"
    assert [one.addr_spec for one in message["To"].addresses] == ["keeper@example.org"]
    assert message["Subject"] == "Frost −2 °C before dawn: bring in 2 trees"


def test_the_date_is_the_notices_moment_in_the_gardens_zone() -> None:
    """Date carries a numeric offset, -0400 in New York's summer time."""
    message = received(a_letter())
    assert str(message["Date"]).endswith("-0400")
    assert parsedate_to_datetime(message["Date"]) == a_notice().at


def test_the_message_id_follows_key_revision_and_recipient_alone() -> None:
    """Each of the three changes it; text does not."""
    first = a_letter().message_id
    assert first.endswith("@garden.example>")
    assert received(a_letter())["Message-ID"] == first
    assert a_letter(a_notice(subject="Other words")).message_id == first
    others = {
        a_letter(a_notice(key="frost:2013-03-27:over")).message_id,
        a_letter(a_notice(revision=1)).message_id,
        a_letter(to=a_subscriber(email="other@example.org")).message_id,
        a_letter(garden=a_garden(id="away")).message_id,
    }
    assert len(others | {first}) == 5


def test_messages_of_one_danger_share_an_anchor() -> None:
    """Whichever step came first, References hold the danger's anchor; other dangers differ."""
    prepare = received(a_letter(a_notice(key="frost:2013-03-27:prepare")))
    act = received(a_letter())
    other = received(a_letter(a_notice(thread="frost:2013-03-28")))
    assert prepare["References"] == act["References"] != other["References"]
    assert act["In-Reply-To"] is None


def test_an_update_answers_the_first_message() -> None:
    """Revision 2 names revision 0 in In-Reply-To and References."""
    first, update = a_letter(), received(a_letter(a_notice(revision=2)))
    assert update["In-Reply-To"] == first.message_id
    assert str(update["References"]).split()[-1] == first.message_id


def test_a_digest_stands_alone() -> None:
    """Each day's digest is a thread of its own."""
    message = received(a_letter(a_notice(step=NoticeStep.DIGEST, thread="digest")))
    assert message["References"] is None


def test_machines_are_told_what_it_is() -> None:
    """Automatic, not to be answered by machines, of a named list that can be left."""
    message = received(a_letter())
    assert message["Auto-Submitted"] == "auto-generated"
    assert message["X-Auto-Response-Suppress"] == "All"
    assert message["List-ID"] == "Hillside <home.garden.example>"
    leave = "<mailto:mebuki@garden.example?subject=stop%20home>"
    assert message["List-Unsubscribe"] == leave
    assert message["List-Unsubscribe-Post"] is None
    assert message["Precedence"] is None
    assert "subject “stop home”" in part(a_letter(), "plain")


def test_plain_comes_first_and_html_is_the_alternative() -> None:
    """Two parts, quoted-printable, UTF-8, CRLF line ends, no long line."""
    letter = a_letter()
    message = received(letter)
    assert message.get_content_type() == "multipart/alternative"
    parts = list(message.iter_parts())
    assert [one.get_content_type() for one in parts] == ["text/plain", "text/html"]
    for one in parts:
        assert one["Content-Transfer-Encoding"] == "quoted-printable"
        assert one.get_content_charset() == "utf-8"
    assert letter.content.count(b"\n") == letter.content.count(b"\r\n")
    assert max(map(len, letter.content.split(b"\r\n"))) <= 78


def test_every_fact_stands_in_both_parts() -> None:
    """Lead, places, trees, deeds, numbers and cautions are in plain text and in HTML."""
    notice = a_notice()
    html = BeautifulSoup(part(a_letter(), "html"), "html.parser").get_text()
    texts = [notice.lead, *notice.cautions, *(text for fact in notice.facts for text in fact)]
    for line in notice.lines:
        texts += [line.heading, line.deed, *line.trees]
    for text in texts:
        assert text in part(a_letter(), "plain")
        assert text in html


def test_the_html_is_semantic_and_needs_nothing_from_elsewhere() -> None:
    """Language, title, one h1, table with caption and scopes, dark colours, no outside address."""
    text = part(a_letter(), "html")
    html = BeautifulSoup(text, "html.parser")
    assert html.find("html", lang="en")
    heads = [one.get_text().replace("\xa0", " ") for one in html.find_all("h1")]
    assert heads == [a_notice().subject]
    assert html.find("title")
    table = html.find("table")
    assert table is not None
    assert table.find("caption")
    assert {cell.get("scope") for cell in table.find_all("th")} == {"col", "row"}
    assert "prefers-color-scheme: dark" in text
    assert not html.find_all(["img", "script", "link", "iframe"])
    assert "http" not in text


def test_the_accent_is_for_the_deed_of_today() -> None:
    """Only the act step uses the accent colour."""
    assert "#9a3b1a" in part(a_letter(), "html")
    assert "#9a3b1a" not in part(a_letter(a_notice(step=NoticeStep.OVER)), "html")


SCRIPT = """
import sys
from tests.mail.test_compose import a_letter
sys.stdout.buffer.write(a_letter().content)
"""


def test_two_processes_write_the_same_bytes() -> None:
    """Boundaries and identities come from the notice, not from chance."""
    root = Path(__file__).parents[2]
    path = f"{root / 'service'}:{root}"
    written = subprocess.run(
        [sys.executable, "-c", SCRIPT], cwd=root, check=True, capture_output=True,
        env={"PYTHONPATH": path, "PYTHONHASHSEED": "7"},
    ).stdout  # fmt: skip
    assert written == a_letter().content


@pytest.mark.parametrize(
    "name", ['Ann "the elm" O’Neil, keeper', "Zoë <zoe@evil.example>", "王 小明", "a; b: c (d) \\"]
)
def test_a_display_name_of_any_kind_stays_a_name(name: str) -> None:
    """Quotes, commas, brackets and other scripts neither add nor change an address."""
    message = received(a_letter(to=a_subscriber(name=name)))
    (address,) = message["To"].addresses
    assert address.display_name == name
    assert address.addr_spec == "keeper@example.org"


def test_an_address_of_another_script_is_written_as_mail_needs_it() -> None:
    """A domain goes by its ASCII form; a local part needs UTF-8 headers (RFC 6532)."""
    domain = received(a_letter(to=a_subscriber(email="ann@exämple.org")))
    assert domain["To"].addresses[0].addr_spec == "ann@xn--exmple-cua.org"
    local = a_letter(to=a_subscriber(email="jürgen@example.org"))
    assert "jürgen@example.org".encode() in local.content


@pytest.mark.parametrize("address", ["a(b)@example.org", "a@b..org", "a@[x", "@x", "a@" + "b" * 70])
def test_what_is_no_address_is_refused(address: str) -> None:
    """The error names the address and shows what one looks like."""
    with pytest.raises(InputError, match="is not an e-mail address"):
        MailWriter(address, "garden.example")


@given(ANY_TEXT, ANY_TEXT, st.lists(ANY_TEXT, max_size=3))
def test_no_text_can_add_a_header(subject: str, lead: str, trees: list[str]) -> None:
    """Line breaks and control characters in any field change no header and no part."""
    lines = (NoticeLine(subject, lead, tuple(trees)),)
    letter = a_letter(
        a_notice(subject=subject, lead=lead, lines=lines, facts=((lead, subject),)),
        garden=a_garden(name=(one_line(subject) or "x")[:80]),
    )
    message = received(letter)
    assert set(message.keys()) == set(received(a_letter()).keys())
    assert " ".join(str(message["Subject"]).split()) == one_line(subject)
    assert len(message["From"].addresses) == 1
    assert [one.get_content_type() for one in message.iter_parts()] == ["text/plain", "text/html"]


def test_markup_in_texts_is_shown_not_obeyed() -> None:
    """A tree named like a script is a name."""
    evil = "<script>alert(1)</script>"
    letter = a_letter(a_notice(lines=(NoticeLine(evil, evil, (evil,)),), lead=evil, subject=evil))
    html = BeautifulSoup(part(letter, "html"), "html.parser")
    assert html.find("script") is None
    assert evil in html.get_text()


def test_lines_under_one_heading_stand_together() -> None:
    """A digest names Today once and lists the day's work under it."""
    lines = (
        NoticeLine("Today", "Water 2 trees", ("Ann", "Bob")),
        NoticeLine("Today", "Check the wire on Old Pine", ()),
        NoticeLine("Fri 29 Mar", "Repot Larch", ()),
    )
    letter = a_letter(a_notice(step=NoticeStep.DIGEST, lines=lines))
    html = BeautifulSoup(part(letter, "html"), "html.parser")
    assert [head.get_text() for head in html.find_all("h2")][:2] == ["Today", "Fri 29 Mar"]
    text = part(letter, "plain")
    assert "Today\n  - Water 2 trees\n    Ann, Bob\n  - Check the wire on Old Pine\n" in text


def test_what_is_asked_later_is_not_told_as_if_it_were_due() -> None:
    """What is prepared for stands behind a condition in both parts; what is due does not."""
    asked = "If it stays so, this will be asked:"
    prepare = a_letter(a_notice(step=NoticeStep.PREPARE))
    for kind in ("plain", "html"):
        text = part(prepare, kind)
        assert text.index(asked) < text.index(a_notice().lines[0].deed)
        assert asked not in part(a_letter(), kind)


def test_a_digest_of_one_deed_does_not_say_it_twice_on_the_page() -> None:
    """The hidden first line is for lock screens; the page shows the deed under its day."""
    lines = (NoticeLine("Today", "Water 2 trees", ("Ann", "Bob")),)
    letter = a_letter(a_notice(step=NoticeStep.DIGEST, lead="Water 2 trees", lines=lines))
    html = BeautifulSoup(part(letter, "html"), "html.parser")
    main = html.find("main")
    assert main is not None
    assert main.get_text().count("Water 2 trees") == 1
    assert html.get_text().count("Water 2 trees") == 2
    assert part(letter, "plain").startswith("Water 2 trees\n\nToday\n")


def test_the_end_of_a_danger_asks_for_no_record() -> None:
    """It names trees that may go back; there is nothing to record."""
    over = a_notice(step=NoticeStep.OVER)
    letter = MailWriter("mebuki@garden.example", "garden.example", FakeLinks()).write(
        GARDEN, over, a_subscriber()
    )
    assert "/did/" not in part(letter, "plain")
    assert part(letter, "plain").count("/n/") == 1


def test_a_letter_says_what_it_is_about_and_until_when_it_is_of_use() -> None:
    """The garden, the kind of care or the step, and the end that the notice gives."""
    dawn = a_notice().at.replace(hour=23)
    letter = a_letter(a_notice(useful_until=dawn))
    assert (letter.garden, letter.kind, letter.useful_until) == ("home", "frost", dawn)
    digest = a_letter(a_notice(step=NoticeStep.DIGEST, kind=None))
    assert (digest.kind, digest.useful_until) == ("digest", None)
