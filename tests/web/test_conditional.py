"""Validators: when a reader has the bytes already, and when it has not."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.datastructures import Headers

from mebuki.web.conditional import Prepared, answer

CHANGED = datetime(2013, 3, 27, 11, 0, 0, 900_000, tzinfo=UTC)
FEED = Prepared(b"feed", "text/calendar; charset=utf-8", CHANGED, (("cache-control", "private"),))
OTHER = '"other"'
BEFORE, SAME, AFTER = (f"Wed, 27 Mar 2013 {hour}:00:00 GMT" for hour in (10, 11, 12))


def status(**headers: str) -> int:
    """Return the status of an answer to these headers."""
    return answer(FEED, Headers({k.replace("_", "-"): v for k, v in headers.items()})).status_code


@pytest.mark.parametrize(
    "tags", ["{tag}", "W/{tag}", "*", '"x", {tag}', 'W/"x" , W/{tag} ,"y"', " {tag} "]
)
def test_a_named_tag_is_not_sent_again(tags: str) -> None:
    """Lists, weak tags and the star are understood."""
    assert status(if_none_match=tags.format(tag=FEED.etag)) == 304


@pytest.mark.parametrize("tags", [OTHER, "", ",", "W/", "rubbish", '"'])
def test_another_tag_gets_the_bytes(tags: str) -> None:
    """What does not name this content never answers 304."""
    assert status(if_none_match=tags) == 200


def test_a_tag_wins_over_a_date() -> None:
    """If-Modified-Since is not looked at beside If-None-Match (RFC 9110 13.1.3)."""
    assert status(if_none_match=OTHER, if_modified_since=AFTER) == 200
    assert status(if_none_match=FEED.etag, if_modified_since=BEFORE) == 304


def test_only_a_date_that_is_not_older_gives_304() -> None:
    """A feed that answers 304 to any date freezes calendars; whole seconds count."""
    assert status(if_modified_since=BEFORE) == 200
    assert status(if_modified_since=SAME) == 304
    assert status(if_modified_since=AFTER) == 304


@pytest.mark.parametrize(
    "since", ["", "yesterday", "0", "Wed, 99 Foo 2013", "2013-03-27", "Wed, 27 Mar 99999 11:00:00"]
)
def test_a_date_that_cannot_be_read_is_ignored(since: str) -> None:
    """Rubbish gets the bytes."""
    assert status(if_modified_since=since) == 200


def test_a_304_repeats_the_validators_and_has_no_body() -> None:
    """ETag, Last-Modified and Cache-Control are in both answers alike."""
    whole = answer(FEED, Headers({}))
    short = answer(FEED, Headers({"if-none-match": FEED.etag}))
    for name in ("etag", "last-modified", "cache-control"):
        assert whole.headers[name] == short.headers[name]
    assert whole.headers["last-modified"] == SAME
    assert short.body == b""
    assert "content-type" not in short.headers


def test_the_tag_follows_the_bytes() -> None:
    """Equal bytes, equal tag; other bytes, another tag."""
    again = Prepared(b"feed", "text/plain", CHANGED)
    assert again.etag == FEED.etag
    assert Prepared(b"feed2", "text/plain", CHANGED).etag != FEED.etag


@given(st.text(st.characters(max_codepoint=255)), st.text(st.characters(max_codepoint=255)))
def test_no_header_breaks_an_answer(tags: str, since: str) -> None:
    """Any rubbish gives 200 or 304."""
    assert status(if_none_match=tags) in {200, 304}
    assert status(if_modified_since=since) in {200, 304}
