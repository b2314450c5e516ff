"""Each header rule, on the received bytes, with the standard library as the reader."""

from __future__ import annotations

import email
import re
from dataclasses import replace
from email.header import decode_header, make_header
from email.utils import parseaddr, parsedate_to_datetime

import pytest
from hypothesis import given

from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep
from mebuki.domain.garden import Garden, Subscriber
from mebuki.errors import InputError
from mebuki.mail.compose import MailWriter
from mebuki.mail.heads import LONGEST_TOKEN, list_head, token_head
from mebuki.rounds.ports import Letter
from tests.builders import a_garden, a_subscriber
from tests.feeds.strategies import ANY_TEXT
from tests.mail.letters import (
    GARDEN,
    HOST,
    SENDER,
    FakeLinks,
    a_letter,
    a_picture,
    notices,
    received,
    text_of,
)
from tests.plans import a_notice

NIGHTS = notices()["act"]
ONCE = (
    "From", "To", "Subject", "Date", "Message-ID", "References", "List-ID", "List-Unsubscribe",
    "List-Unsubscribe-Post", "Auto-Submitted", "X-Auto-Response-Suppress", "MIME-Version",
    "Content-Type",
)  # fmt: skip


def _head(letter: Letter) -> bytes:
    return letter.content.partition(b"\r\n\r\n")[0]


def _shown(letter: Letter, header: str) -> str:
    """Return the display name of an address; the newer parser keeps blanks between its words."""
    name, _ = parseaddr(email.message_from_bytes(letter.content)[header])
    return str(make_header(decode_header(name)))


@pytest.mark.parametrize("kind", notices())
def test_every_mail_keeps_the_form_of_a_message(kind: str) -> None:
    """CRLF alone, seven bits, 78 signs a line but for one long address, each header once."""
    letter = a_letter(notices()[kind])
    assert letter.content.isascii()
    assert (
        letter.content.count(b"\n") == letter.content.count(b"\r\n") == letter.content.count(b"\r")
    )
    for line in letter.content.split(b"\r\n"):
        assert len(line) <= 78 or (line.count(b" ") <= 1 and b"https://" in line)
        assert len(line) <= 998
    keys = received(letter).keys()
    wanted = set(ONCE) - ({"References"} if kind == "digest" else set())
    assert sorted(keys) == sorted(wanted)


def test_sender_recipient_date_and_identity_are_one_each() -> None:
    """One From, one To, a date with the garden's offset, an identity at the service's host."""
    message = received(a_letter(NIGHTS))
    assert [one.addr_spec for one in message["From"].addresses] == [SENDER]
    assert [one.addr_spec for one in message["To"].addresses] == ["keeper@example.org"]
    assert message["Date"].endswith("-0400")
    assert parsedate_to_datetime(message["Date"]) == NIGHTS.at
    assert re.fullmatch(rf"<[0-9a-f]{{32}}@{re.escape(HOST)}>", message["Message-ID"])
    for name in ("Cc", "Bcc", "Reply-To", "Precedence"):
        assert message[name] is None


def test_one_danger_is_one_thread_for_each_reader() -> None:
    """Steps of a danger share an anchor, an update answers the first word; readers differ."""
    steps = [NIGHTS, replace(NIGHTS, key="frost:2013-03-27:prepare"), replace(NIGHTS, revision=1)]
    over = received(a_letter(notices()["over"]))
    first, prepare, update = (received(a_letter(each)) for each in steps)
    anchor = str(first["References"])
    assert str(prepare["References"]) == anchor
    assert str(update["References"]).split() == [anchor, first["Message-ID"]]
    assert update["In-Reply-To"] == first["Message-ID"]
    assert first["In-Reply-To"] is None
    assert str(over["References"]) == anchor
    assert over["In-Reply-To"] is None
    assert len({each["Message-ID"] for each in (first, prepare, update, over)}) == 4
    other = received(a_letter(NIGHTS, a_subscriber(email="ada@example.org")))
    assert other["Message-ID"] != first["Message-ID"]
    assert str(other["References"]) != anchor


@pytest.mark.parametrize("kind", ["act", "heat", "digest", "blind"])
def test_a_kind_is_left_in_one_click(kind: str) -> None:
    """RFC 8058: https first, mailto beside it, the POST header; never one click for everything."""
    letter = a_letter(notices()[kind])
    message = received(letter)
    topic = {"act": "frost"}.get(kind, kind)
    page, mailto = str(message["List-Unsubscribe"]).split(", ")
    assert page == f"<https://{HOST}/leave/{topic}/{FakeLinks.token}>"
    assert mailto == f"<mailto:{SENDER}?subject=stop%20home>"
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    for part in ("plain", "html"):
        assert f"https://{HOST}/leave/{topic}/{FakeLinks.token}" in text_of(letter, part)
        assert f"https://{HOST}/leave/all/{FakeLinks.token}" in text_of(letter, part)


def test_one_click_is_offered_where_the_page_is_safe_alone() -> None:
    """RFC 8058, 3.1: the POST header needs an https address; an http page is still named."""

    class LocalLinks(FakeLinks):
        def leave(self, garden: Garden, to: Subscriber, kind: str = "") -> str:
            return f"http://garden.local:8080/leave/{self.token}"

    message = received(MailWriter(SENDER, HOST, LocalLinks()).write(GARDEN, NIGHTS, a_subscriber()))
    assert message["List-Unsubscribe-Post"] is None
    page, mailto = str(message["List-Unsubscribe"]).split(", ")
    assert page == f"<http://garden.local:8080/leave/{FakeLinks.token}>"
    assert mailto.startswith("<mailto:")


def test_the_identity_of_a_message_outlives_what_it_says() -> None:
    """A retry with other words, units or pages is the same message; the level does not matter."""
    same = {
        a_letter(NIGHTS).message_id,
        a_letter(replace(NIGHTS, subject="Other words", lead="More.")).message_id,
        a_letter(replace(NIGHTS, level="cautious", at=NIGHTS.at.replace(minute=59))).message_id,
        a_letter(NIGHTS, a_subscriber(units="us", name="Ada")).message_id,
        a_letter(NIGHTS, linked=False, picture=False).message_id,
    }
    assert same == {str(received(a_letter(NIGHTS))["Message-ID"])}


def test_a_subject_is_short_and_its_end_is_in_the_message() -> None:
    """Beyond 78 signs it ends with an ellipsis; the heading and the list hold the whole name."""
    name = "The old larch beside the gate that grandfather dug on the hill in spring 1954"
    subject = f"Frost −2 °C before dawn: bring in {name}"
    letter = a_letter(replace(NIGHTS, subject=subject))
    told = str(received(letter)["Subject"])
    assert told.startswith("Frost −2 °C before dawn: bring in The old larch")
    assert told.endswith("…")
    assert len(told) <= 78
    heading = subject.replace("−2 °C", "−2\xa0°C")
    assert f">{heading}</h1>" in text_of(letter, "html")


def test_without_pages_a_mail_says_how_to_leave_by_mail() -> None:
    """No https address, no POST header; the footer names address and subject."""
    letter = a_letter(NIGHTS, linked=False)
    message = received(letter)
    assert message["List-Unsubscribe"] == f"<mailto:{SENDER}?subject=stop%20home>"
    assert message["List-Unsubscribe-Post"] is None
    assert f"{SENDER} with the subject “stop home”" in text_of(letter, "plain")


def test_one_click_is_offered_over_https_alone() -> None:
    """RFC 8058, 3.1: without an https address the page is named, the POST header left out."""

    class PlainLinks(FakeLinks):
        def leave(self, garden: Garden, to: Subscriber, kind: str = "") -> str:
            return super().leave(garden, to, kind).replace("https://", "http://")

    message = received(MailWriter(SENDER, HOST, PlainLinks()).write(GARDEN, NIGHTS, a_subscriber()))
    assert str(message["List-Unsubscribe"]).startswith(f"<http://{HOST}/leave/frost/")
    assert message["List-Unsubscribe-Post"] is None


def test_the_digest_alone_leads_to_how_warnings_turned_out() -> None:
    """At its foot, in both parts; a call to act has no room for it."""
    address = f"https://{HOST}/scores/{FakeLinks.token}"
    for kind, notice in notices().items():
        for part in ("plain", "html"):
            text = text_of(a_letter(notice), part)
            assert (address in text) is (notice.step is NoticeStep.DIGEST), kind
            assert address not in text_of(a_letter(notice, linked=False), part)


def test_a_long_address_of_a_page_is_not_broken() -> None:
    """A link of 900 signs stays one token; the standard library would encode it."""

    class LongLinks(FakeLinks):
        token = "x" * 850

    writer = MailWriter(SENDER, HOST, LongLinks())
    message = received(writer.write(GARDEN, NIGHTS, a_subscriber()))
    assert f"/leave/frost/{'x' * 850}>" in str(message["List-Unsubscribe"])
    longest = token_head("List-Unsubscribe", "x" * LONGEST_TOKEN, "<mailto:a@b.c>", between=", ")
    first, second, _ = longest.split(b"\r\n")
    assert len(first) <= 998
    assert second == b" <mailto:a@b.c>"


@pytest.mark.parametrize(
    "token", ["<https://a b>", "<https://a\r\nBcc: x@y>", "<https://ä>", "", "x" * 991, "\x00"]
)
def test_an_address_of_a_page_that_cannot_be_written_is_refused(token: str) -> None:
    """No line break, no other sign than visible ASCII, no line too long for a message."""
    with pytest.raises(InputError, match="cannot be written into a header"):
        token_head("List-Unsubscribe", token)


@pytest.mark.parametrize(
    ("name", "shown"),
    [("Hillside", "Hillside"), ("Gärten am Hügel", "Gärten am Hügel"), ("王 園", "王 園"),
     ("ä" * 80, "ä" * 80), ("“”", ""), ("Up\r\nBcc: x@y", "Up Bcc x y")],
)  # fmt: skip
def test_the_list_has_a_readable_name_and_a_lasting_identity(name: str, shown: str) -> None:
    """RFC 2919: the identity in brackets is never encoded, whatever the garden is called."""
    head = list_head("home", name, HOST)
    assert head.isascii()
    assert head.rstrip().endswith(f"<home.{HOST}>".encode())
    assert max(map(len, head.split(b"\r\n"))) <= 78
    letter = a_letter(NIGHTS, garden=a_garden(name=name))
    assert str(received(letter)["List-ID"]).split() == [*shown.split(), f"<home.{HOST}>"]


def test_a_garden_with_a_very_long_id_has_a_list_of_its_own() -> None:
    """Labels beyond 63 signs are shortened and stay apart."""
    one, two = (list_head("g" * 100 + end, "Hill", HOST) for end in "ab")
    assert one != two
    assert max(map(len, one.split(b"\r\n"))) <= 78 + len(HOST)


def test_parts_stand_in_the_order_of_what_is_best_last() -> None:
    """Plain, then HTML with its picture beside it; the picture is named by the HTML."""
    message = received(a_letter(NIGHTS))
    assert message.get_content_type() == "multipart/alternative"
    plain, related = message.iter_parts()
    assert plain.get_content_type() == "text/plain"
    assert related.get_content_type() == "multipart/related"
    assert related.get_param("type") == "text/html"
    html, picture = related.iter_parts()
    for text in (plain, html):
        assert text.get_content_charset() == "utf-8"
        assert text["Content-Transfer-Encoding"] == "quoted-printable"
    assert picture.get_content_type() == "image/png"
    assert picture.get_content_disposition() == "inline"
    assert picture.get_content() == a_picture().png
    assert f'src="cid:{picture["Content-ID"].strip("<>")}"' in html.get_content()
    assert f'alt="{a_picture().text}"' in html.get_content()
    assert a_picture().text in plain.get_content()


def test_without_a_picture_there_are_two_parts() -> None:
    """Plain and HTML."""
    message = received(a_letter(NIGHTS, picture=False))
    kinds = [part.get_content_type() for part in message.iter_parts()]
    assert kinds == ["text/plain", "text/html"]


def test_raw_utf8_is_used_only_where_a_local_part_needs_it() -> None:
    """RFC 6532 for jürgen@, seven bits for everybody else; domains go by their ASCII form."""
    plain = a_letter(NIGHTS, a_subscriber(name="Jürgen", email="jurgen@gärten.example"))
    assert plain.content.isascii()
    (to,) = received(plain)["To"].addresses
    assert (to.display_name, to.addr_spec) == ("Jürgen", "jurgen@xn--grten-gra.example")
    raw = a_letter(NIGHTS, a_subscriber(email="jürgen@example.org"))
    assert "<jürgen@example.org>".encode() in _head(raw)
    assert plain.recipient == "jurgen@xn--grten-gra.example"


@pytest.mark.parametrize(
    "name",
    ['Ann "the elm" O’Neil, keeper', "Zoë <zoe@evil.example>", "王 小明", "a; b: c (d) \\",
     "=?utf-8?q?evil?=", "x@y, z@w", "a" * 80,
     "A garden with a long name, and a comma, on the hill above the river, by a town",
     "Zoë, the keeper of trees, in the very long garden behind the house, by the river"],
)  # fmt: skip
def test_no_display_name_becomes_an_address(name: str) -> None:
    """One recipient under the name as it is, whatever the person or the garden is called."""
    letter = a_letter(NIGHTS, a_subscriber(name=name), a_garden(name=name))
    message = received(letter)
    assert [one.addr_spec for one in message["To"].addresses] == ["keeper@example.org"]
    assert [one.addr_spec for one in message["From"].addresses] == [SENDER]
    assert _shown(letter, "To") == name
    assert _shown(letter, "From") == f"Mebuki, {name}"


def test_a_sender_of_another_script_is_one_address_too() -> None:
    """The local part goes raw (RFC 6532) and in the address to write to as RFC 6068 has it."""
    writer = MailWriter("jürgen@gärten.example", HOST, FakeLinks())
    letter = writer.write(GARDEN, NIGHTS, a_subscriber())
    message = received(letter)
    assert len(message["From"].addresses) == 1
    assert "<jürgen@xn--grten-gra.example>".encode() in _head(letter)
    leave = "<mailto:j%C3%BCrgen@xn--grten-gra.example?subject=stop%20home>"
    assert str(message["List-Unsubscribe"]).endswith(leave)
    assert str(message["Message-ID"]).isascii()


@given(ANY_TEXT, ANY_TEXT)
def test_no_text_reaches_another_header(one: str, other: str) -> None:
    """Subject, name and lead of any signs leave keys, parts and addresses as they are."""
    notice = a_notice(
        subject=one, lead=other, lines=(NoticeLine(other, one, (one, other)),),
        facts=((one, other), ("Official warning", one), ("Credit", other)), cautions=(one,),
    )  # fmt: skip
    person = Subscriber.model_construct(
        name=one or "x", email="keeper@example.org", units="us", language="en"
    )
    message = received(MailWriter(SENDER, HOST, FakeLinks()).write(GARDEN, notice, person))
    assert sorted(message.keys()) == sorted(received(a_letter(a_notice())).keys())
    assert len(message["To"].addresses) == 1
    assert [part.get_content_type() for part in message.iter_parts()] == ["text/plain", "text/html"]


@pytest.mark.parametrize(
    "address",
    ["nobody", "a@b@c.org", "a b@example.org", "a@-", "x@" + "b" * 70 + ".org", "a\r\n@example.org",
     "", "@", "a@.org", "<a@example.org>", "a@example.org\x00"],
)  # fmt: skip
def test_what_is_no_address_is_refused_with_clear_words(address: str) -> None:
    """For sender and reader alike, before anything is written."""
    person = Subscriber.model_construct(name="Ann", email=address, units="metric", language="en")
    with pytest.raises(InputError, match="is not an e-mail address"):
        MailWriter(SENDER, HOST).write(GARDEN, NIGHTS, person)
    with pytest.raises(InputError, match="is not an e-mail address"):
        MailWriter(address, HOST)


@pytest.mark.parametrize("host", ["", "a b", "x\r\ny", "-", "a" * 64 + ".org", "x/y"])
def test_what_is_no_host_is_refused(host: str) -> None:
    """Identities of messages must be believable names."""
    with pytest.raises(InputError, match="is not a host name"):
        MailWriter(SENDER, host)


def test_a_host_of_another_script_goes_by_its_ascii_form() -> None:
    """Message-ID and List-ID are ASCII."""
    letter = MailWriter(SENDER, "gärten.example").write(GARDEN, NIGHTS, a_subscriber())
    assert letter.message_id.endswith("@xn--grten-gra.example>")


def test_five_hundred_trees_are_all_named_in_both_parts() -> None:
    """Counted, then in running text, lines of plain text short and no name broken; under 102 kB."""
    trees = tuple(f"Tree no. {number}" for number in range(500))
    lines = (NoticeLine("Lower bench", "Cover.", trees), NoticeLine("Shed", "Open.", ("Ann",)))
    letter = a_letter(replace(NIGHTS, lines=lines), picture=False)
    plain, html = text_of(letter, "plain"), text_of(letter, "html")
    list_, _, rest = plain.partition("Cover.\n  500 trees:\n")[2].partition("\n\n")
    assert list_.count("\n") < 120
    assert max(map(len, list_.split("\n"))) <= 72
    assert rest.startswith("Shed\nOpen.\n  - Ann\n")
    assert ">500 trees:</span> Tree no. 0, " in html
    for tree in trees:
        assert re.search(f"    {tree},|, {tree}(,|$)", list_, re.MULTILINE)
        assert f"{tree}, " in html or f"{tree}</p>" in html
    assert len(html.encode()) < 102_000


def test_marks_of_addresses_cannot_be_forged() -> None:
    """The signs that stand for a reader's addresses are taken out of every text of a person."""
    evil = "\x010\x02"
    notice: Notice = replace(NIGHTS, lines=(NoticeLine(evil, evil, (evil,)),), lead=evil)
    letter = a_letter(notice)
    assert text_of(letter, "plain").count(f"/n/{FakeLinks.token}") == 1
    assert text_of(letter, "html").count(f"/n/{FakeLinks.token}") == 1
