"""The demo's pages over HTTP."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from mebuki.web.app import demo_app

CHANGED = datetime(2013, 3, 27, 11, tzinfo=UTC)
CLIENT = TestClient(
    demo_app(b"<!DOCTYPE html><title>r</title>", b"BEGIN:VCALENDAR\r\n", "/mebuki.ics", CHANGED)
)


def test_the_feed_is_served_as_a_calendar() -> None:
    """Content type with charset, validators, private and short-lived in caches."""
    answer = CLIENT.get("/mebuki.ics")
    assert answer.status_code == 200
    assert answer.content == b"BEGIN:VCALENDAR\r\n"
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["cache-control"] == "private, max-age=300"
    assert answer.headers["last-modified"] == "Wed, 27 Mar 2013 11:00:00 GMT"
    again = CLIENT.get("/mebuki.ics", headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_head_answers_as_get_without_the_body() -> None:
    """HEAD carries the length and the validators."""
    head, get = CLIENT.head("/mebuki.ics"), CLIENT.get("/mebuki.ics")
    assert head.content == b""
    assert dict(head.headers) == dict(get.headers)


def test_the_report_is_at_the_root() -> None:
    """A page in UTF-8."""
    answer = CLIENT.get("/")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert answer.text.startswith("<!DOCTYPE html>")


@pytest.mark.parametrize("path", ["/", "/mebuki.ics", "/robots.txt", "/unknown"])
def test_every_answer_carries_the_safe_headers(path: str) -> None:
    """Errors too: no search index, no framing, nothing loaded from elsewhere."""
    headers = CLIENT.get(path).headers
    assert headers["x-robots-tag"] == "noindex, nofollow"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "script-src" not in headers["content-security-policy"]


def test_robots_are_let_in_and_told_not_to_index() -> None:
    """A calendar service refuses a feed that robots.txt forbids."""
    assert CLIENT.get("/robots.txt").text == "User-agent: *\nDisallow:\n"


@pytest.mark.parametrize("path", ["/mebuki.ics/", "/MEBUKI.ICS", "/x", "/%00", "/../etc/passwd"])
def test_any_other_path_is_not_found(path: str) -> None:
    """Plain words, no redirect."""
    answer = CLIENT.get(path, follow_redirects=False)
    assert (answer.status_code, answer.text) == (404, "Not Found\n")


def test_nothing_can_be_written() -> None:
    """Other methods are refused, and the allowed ones named."""
    answer = CLIENT.post("/mebuki.ics", content=b"x")
    assert answer.status_code == 405
    assert "GET" in answer.headers["allow"]


@pytest.mark.parametrize("accept", ["text/html", "application/json;q=1", ""])
def test_accept_is_not_negotiated(accept: str) -> None:
    """Importers send any Accept or none."""
    assert CLIENT.get("/mebuki.ics", headers={"accept": accept}).status_code == 200
