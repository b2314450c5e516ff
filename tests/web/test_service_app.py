"""The running service over HTTP: state, figures, the page at the root, and pages of others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.testclient import TestClient

from mebuki.errors import FaultError
from mebuki.web import service_app as module
from mebuki.web.feed_cache import FeedCache
from mebuki.web.health import Health, Status, judge, weather_facts
from mebuki.web.metrics import METRICS_TYPE, Metrics
from mebuki.web.service_app import WebParts, service_app
from tests.web.healths import HOUR, NOW, a_health, good_facts
from tests.web.shelves import ADA, a_shelf


async def hello(request: Request) -> Response:
    """Answer as a page of somebody else's."""
    return PlainTextResponse("hello")


async def broken(request: Request) -> Response:
    """Fail with something that nobody may see."""
    msg = f"secret {ADA}"
    raise RuntimeError(msg)


@pytest.fixture
def cache() -> Iterator[FeedCache]:
    """Return the feeds of the application."""
    cache = FeedCache(a_shelf())
    yield cache
    cache.close()


@pytest.fixture
def make(cache: FeedCache) -> Callable[..., TestClient]:
    """Return a maker of clients."""

    def make(health: Callable[[], Health] = a_health) -> TestClient:
        routes = [Route("/hello", hello), Route("/broken", broken)]
        parts = WebParts(cache, health, Metrics().render, routes=routes)
        return TestClient(service_app(parts), raise_server_exceptions=False)

    return make


def test_a_healthy_service_answers_200(make: Callable[..., TestClient]) -> None:
    """JSON whatever is accepted, and no cache keeps it."""
    answer = make().get("/health", headers={"accept": "text/html"})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.json()["status"] == "ok"
    assert make().head("/health").status_code == 200


def test_a_blind_service_answers_503(make: Callable[..., TestClient]) -> None:
    """A watcher needs only the status line."""
    facts = replace(good_facts(), weather=weather_facts([NOW - 30 * HOUR], NOW))
    answer = make(lambda: judge(facts, NOW)).get("/health")
    assert (answer.status_code, answer.json()["status"]) == (503, Status.BLIND)


def test_a_state_that_cannot_be_read_is_a_state(make: Callable[..., TestClient]) -> None:
    """The database is gone: 503 and JSON all the same, without the reason's secrets."""

    def gone() -> Health:
        msg = "no connection to postgresql://mebuki:tulip@db"
        raise FaultError(msg)

    answer = make(gone).get("/health")
    assert (answer.status_code, answer.json()["healthy"]) == (503, False)
    assert "tulip" not in answer.text


def test_the_state_is_not_worked_out_for_every_fetch(
    make: Callable[..., TestClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Many fetches within two seconds are one question to the database."""
    seconds, asked = [0.0], []

    def health() -> Health:
        asked.append(1)
        return a_health()

    monkeypatch.setattr(module, "stopwatch", lambda: seconds[0])
    client = make(health)
    for _ in range(5):
        client.get("/health")
    assert len(asked) == 1
    seconds[0] = 2.0
    client.get("/health")
    assert len(asked) == 2


def test_the_figures_are_in_the_format_of_prometheus(make: Callable[..., TestClient]) -> None:
    """With its content type."""
    answer = make().get("/metrics")
    assert answer.headers["content-type"] == METRICS_TYPE
    assert "mebuki_build_info" in answer.text


def test_the_root_says_what_this_is_and_no_more(make: Callable[..., TestClient]) -> None:
    """A page in UTF-8 that leads to the state, loads nothing, and keeps out of search results."""
    answer = make().get("/")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert '<a href="health">' in answer.text
    assert "/feeds/" not in answer.text
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert "noindex" in answer.headers["x-robots-tag"]


def test_the_root_bears_the_mark_of_a_service_that_cannot_see(
    make: Callable[..., TestClient],
) -> None:
    """Nothing while all is well, the reasons in words while blind."""
    assert "Not all is well" not in make().get("/").text
    facts = replace(good_facts(), weather=weather_facts([NOW - 30 * HOUR], NOW))
    blind = make(lambda: judge(facts, NOW)).get("/").text
    assert 'role="status"' in blind
    assert judge(facts, NOW).reasons[0] in blind


def test_search_engines_are_told_by_a_header_and_not_by_robots_txt(
    make: Callable[..., TestClient],
) -> None:
    """A feed that robots.txt forbids is refused by some calendar services."""
    assert make().get("/robots.txt").text == "User-agent: *\nDisallow:\n"


def test_pages_of_others_are_served(make: Callable[..., TestClient]) -> None:
    """With the safe headers of all pages; feeds beside them."""
    answer = make().get("/hello")
    assert answer.text == "hello"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert make().get(f"/feeds/{ADA}.ics").status_code == 200


def test_a_page_that_fails_tells_nothing_of_it(make: Callable[..., TestClient]) -> None:
    """A plain 500; what went wrong is for the log."""
    answer = make().get("/broken")
    assert answer.status_code == 500
    assert ADA not in answer.text


@pytest.mark.parametrize("path", ["/nowhere", "/health/", "/feeds", "/%00", "/" + "x" * 5000])
def test_what_is_not_there_is_not_found(make: Callable[..., TestClient], path: str) -> None:
    """One plain line, nothing redirected."""
    answer = make().get(path, follow_redirects=False)
    assert (answer.status_code, answer.text) == (404, "Not Found\n")
