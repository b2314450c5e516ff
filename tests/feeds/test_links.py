"""The addresses of a feed for people, and the ways to subscribe."""

from __future__ import annotations

import re

import pytest

from mebuki.errors import RangeError
from mebuki.feeds.links import KEEP_SECRET, PLAN_NOT_ALARM, WAYS, feed_links


@pytest.mark.parametrize(
    ("base", "rest"),
    [
        ("https://trees.example.org", "://trees.example.org/feeds/abc.ics"),
        ("https://trees.example.org/", "://trees.example.org/feeds/abc.ics"),
        ("https://example.org:8443/trees/", "://example.org:8443/trees/feeds/abc.ics"),
        ("https://[::1]:8765", "://[::1]:8765/feeds/abc.ics"),
    ],
)
def test_both_addresses_lead_to_the_same_place(base: str, rest: str) -> None:
    """Port and path of the service are kept, slashes are not doubled."""
    links = feed_links(base, "abc")
    assert (links.copied, links.opened, links.encrypted) == (f"https{rest}", f"webcal{rest}", True)


def test_an_address_without_encryption_is_marked() -> None:
    """On a network at home; some programs take webcal for TLS."""
    links = feed_links("http://trees.local:8765", "abc")
    assert links.copied == "http://trees.local:8765/feeds/abc.ics"
    assert not links.encrypted


@pytest.mark.parametrize(
    "base",
    ["", "trees.example.org", "ftp://x.org", "https://", "https://u:p@x.org", "https://x.org?a",
     "https://x.org#a"],
)  # fmt: skip
def test_a_public_address_that_is_none_is_refused(base: str) -> None:
    """Before it gets into a mail."""
    with pytest.raises(RangeError, match="public address"):
        feed_links(base, "abc")


def test_every_way_says_what_to_do_and_what_to_expect() -> None:
    """Whole sentences, one program once, no shouting; the last one is for all others."""
    programs = [way.program for way in WAYS]
    assert len(set(programs)) == len(programs)
    assert programs[-1] == "Any other program"
    for way in WAYS:
        assert way.steps
        for text in (*way.steps, way.note, KEEP_SECRET, PLAN_NOT_ALARM):
            assert re.fullmatch(r"[A-Z“].*[.]", text), text
            assert "!" not in text
        assert any("address" in step for step in way.steps) or way.opens
