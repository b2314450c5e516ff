"""The sign of life: given while all is well, and never a danger to the service."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Mapping
from dataclasses import dataclass, replace

import pytest

from mebuki.clock import FixedClock
from mebuki.errors import FaultError
from mebuki.weather.asking import Request
from mebuki.weather.transport import Transport
from mebuki.web.health import Status
from mebuki.web.heartbeat import Heart, beat
from tests.web.healths import NOW, a_health

URL = "https://watch.example.org/ping/secret-part"


@dataclass(frozen=True, slots=True)
class Came:
    """An answer with a status."""

    status: int


class FakeClient:
    """Answers as told, and remembers what was asked."""

    def __init__(self, answer: int | Exception = 200) -> None:
        self.answer = answer
        self.asked: list[str] = []

    def send(self, request: Request, validators: Mapping[str, str]) -> Came:
        """Answer as told."""
        self.asked.append(request.address)
        if isinstance(self.answer, Exception):
            raise self.answer
        return Came(self.answer)


@pytest.mark.parametrize(("answer", "well"), [(200, True), (204, True), (404, False), (500, False)])
def test_a_beat_is_good_if_it_was_answered_well(answer: int, well: bool) -> None:
    """Any status of success counts."""
    client = FakeClient(answer)
    assert asyncio.run(beat(URL, client)) is well
    assert client.asked == [URL]


def test_a_failure_is_logged_without_the_address_and_harms_nobody(
    caplog: pytest.LogCaptureFixture,
) -> None:
    """The address is a secret too."""
    client = FakeClient(FaultError(f"no way to {URL}"))
    with caplog.at_level(logging.DEBUG, "mebuki"):
        assert asyncio.run(beat(URL, client)) is False
    assert "the heartbeat failed" in caplog.text
    assert URL not in caplog.text


def test_it_beats_only_while_all_is_well() -> None:
    """Silence is the alarm."""
    client = FakeClient()
    heart = Heart(URL, client, FixedClock(NOW))
    assert heart.facts.state == "waiting"
    for status in (Status.BLIND, Status.DEGRADED, Status.STARTING):
        asyncio.run(heart.beat(replace(a_health(), status=status)))
        assert heart.facts.state == "held"
    assert client.asked == []
    asyncio.run(heart.beat(a_health()))
    assert (heart.facts.state, heart.facts.at) == ("sent", NOW)
    client.answer = 500
    asyncio.run(heart.beat(a_health()))
    assert heart.facts.state == "failed"


def test_without_an_address_nothing_is_sent() -> None:
    """It is off."""
    client = FakeClient()
    heart = Heart("", client, FixedClock(NOW))
    asyncio.run(heart.beat(a_health()))
    assert (heart.facts.state, client.asked) == ("off", [])


def test_the_one_way_to_the_network_fits() -> None:
    """A refused connection on loopback, through the transport of the weather station."""
    transport = Transport("mebuki/test")
    assert asyncio.run(beat("http://127.0.0.1:9/ping", transport)) is False
