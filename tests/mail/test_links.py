"""Links in mails: short, the same for the same notice, and nothing in them to be changed."""

from __future__ import annotations

import email
import re
from dataclasses import replace
from datetime import timedelta
from email import policy
from email.header import decode_header, make_header
from email.utils import parseaddr
from urllib.parse import urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.errors import InputError
from mebuki.logs import redact
from mebuki.mail.confirmation import ConfirmationWriter
from mebuki.mail.links import HOLDS, LinkError, Purpose, SignedLinks, Signer, Ticket, last_day
from tests.builders import AT, a_garden, a_subscriber
from tests.plans import a_notice

KEY = "a key that is known to tests alone"
SIGNER = Signer(KEY)
LINKS = SignedLinks("https://trees.example.org/mebuki", SIGNER)
GARDEN, ADA = a_garden(), a_subscriber(name="Ada", email="ada@example.org")
NOTICE = a_notice()

tickets = st.builds(
    Ticket,
    st.sampled_from(Purpose),
    st.from_regex(r"[a-z0-9][a-z0-9-]{0,30}", fullmatch=True),
    st.text("abcXYZ019-_", min_size=16, max_size=16),
    st.text(max_size=60),
    st.none() | st.dates(min_value=(AT + timedelta(days=1)).date()),
)


def _links() -> dict[Purpose, str]:
    return {
        Purpose.SEE: LINKS.see(GARDEN, NOTICE, ADA),
        Purpose.ACKNOWLEDGE: LINKS.acknowledge(GARDEN, NOTICE, ADA),
        Purpose.RECORD: LINKS.record(GARDEN, NOTICE, ADA),
        Purpose.LEAVE: LINKS.leave(GARDEN, ADA, "frost"),
        Purpose.CONFIRM: LINKS.confirm(GARDEN, ADA, AT),
        Purpose.SCORES: LINKS.scores(GARDEN, NOTICE, ADA),
    }


@given(tickets)
def test_a_ticket_comes_back_as_it_was(ticket: Ticket) -> None:
    """Whatever it is about, through signs that stand in an address as they are."""
    token = SIGNER.sign(ticket)
    assert re.fullmatch(r"[A-Za-z0-9._-]+", token)
    assert SIGNER.read(ticket.purpose, token, AT) == ticket


@given(tickets, st.sampled_from(Purpose), st.integers(0), st.characters())
def test_a_token_that_was_changed_is_refused(
    ticket: Ticket, purpose: Purpose, at: int, sign: str
) -> None:
    """One sign, another purpose, another key: none of them reads."""
    token = SIGNER.sign(ticket)
    place = at % len(token)
    changed = token[:place] + sign + token[place + 1 :]
    if changed != token:
        with pytest.raises(LinkError):
            SIGNER.read(ticket.purpose, changed, AT)
    if purpose is not ticket.purpose:
        with pytest.raises(LinkError):
            SIGNER.read(purpose, token, AT)
    with pytest.raises(LinkError):
        Signer(KEY + "!").read(ticket.purpose, token, AT)


def test_links_are_the_same_for_the_same_notice_and_differ_for_others() -> None:
    """A mail is made again with the same bytes; readers, gardens and notices are told apart."""
    assert _links() == _links()
    ben = a_subscriber(email="ben@example.org")
    other = a_garden(id="other")
    worse = replace(NOTICE, revision=1)
    found = {
        LINKS.see(garden, notice, reader)
        for garden in (GARDEN, other)
        for notice in (NOTICE, worse)
        for reader in (ADA, ben)
    }
    assert len(found) == 8


def test_links_are_short_absolute_and_name_nobody() -> None:
    """Under the public address, below 300 signs, without the reader's address."""
    for purpose, link in _links().items():
        parts = urlsplit(link)
        assert link.startswith(f"https://trees.example.org/mebuki/m/{purpose}/")
        assert (parts.query, parts.fragment) == ("", "")
        assert len(link) < 300
        ticket = SIGNER.read(purpose, link.rpartition("/")[2], AT)
        assert "ada" not in repr(ticket).lower()


def test_logs_leave_links_out() -> None:
    """Whichever way one gets into a line."""
    for link in _links().values():
        assert link.rpartition("/")[2] not in redact(f"GET {link} failed")


def test_a_reader_is_known_by_the_address_in_any_case() -> None:
    """Ada and ada are one reader; of another garden another one."""
    assert SIGNER.reader("home", " Ada@Example.org") == SIGNER.reader("home", "ada@example.org")
    assert SIGNER.reader("home", "ada@example.org") != SIGNER.reader("away", "ada@example.org")


@pytest.mark.parametrize("purpose", list(Purpose))
def test_a_link_holds_as_long_as_its_purpose_says(purpose: Purpose) -> None:
    """On the last day (UTC) it reads, on the next it is known to be too old."""
    last = last_day(purpose, AT)
    token = SIGNER.sign(Ticket(purpose, "home", "x" * 16, "", last))
    holds = HOLDS[purpose]
    if holds is None:
        assert SIGNER.read(purpose, token, AT + timedelta(days=36500)).last_day is None
        return
    assert SIGNER.read(purpose, token, AT + holds).last_day == last
    with pytest.raises(LinkError) as told:
        SIGNER.read(purpose, token, AT + holds + timedelta(days=1))
    assert told.value.expired


def test_a_short_key_is_refused() -> None:
    """It would be guessed."""
    with pytest.raises(InputError, match="16 signs"):
        Signer("short")


LONG = "A keeper with a long name, and a comma, on the hill above the river, by a town"


@pytest.mark.parametrize("name", ["Ada", "Müller, “Jo”", "שלום", "🌲" * 20, LONG])
def test_the_mail_that_asks_says_all_in_plain_text(name: str) -> None:
    """Parsed with the standard library: one recipient, the link whole, no other part."""
    writer = ConfirmationWriter("mebuki@example.org", "example.org", LINKS)
    garden = a_garden(name=f"Garden of {name}"[:80])
    reader = a_subscriber(name=name, email="ada@example.org")
    letter = writer.write(garden, reader, AT, 1)
    assert letter == writer.write(garden, reader, AT, 1)
    message = email.message_from_bytes(letter.content, policy=policy.default)
    assert message.get_content_type() == "text/plain"
    assert [each.addr_spec for each in message["To"].addresses] == ["ada@example.org"]
    plain = email.message_from_bytes(letter.content)  # the other parser parts long words
    assert str(make_header(decode_header(parseaddr(plain["To"])[0]))) == name
    assert str(make_header(decode_header(plain["Subject"]))) == letter.subject
    assert message["Message-ID"].strip() == letter.message_id
    assert message["Auto-Submitted"] == "auto-generated"
    assert LINKS.confirm(garden, reader, AT) in message.get_content().split()
    assert letter.useful_until == AT + timedelta(days=14)
    assert max(map(len, letter.content.split(b"\r\n"))) <= 998
