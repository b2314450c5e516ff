"""The client's manners: conditional, patient, bounded, and never fooled by a broken answer."""

from __future__ import annotations

import gzip
import json
import socket
import threading
import zlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import httpx
import pytest
import respx
import stamina

from mebuki.clock import SystemClock
from mebuki.errors import FaultError, InputError
from mebuki.weather.answers import ProviderError, mapping, read_json
from mebuki.weather.asking import Request
from mebuki.weather.conduct import Limits
from mebuki.weather.http_client import WeatherClient, user_agent
from mebuki.weather.snapshots import FileSnapshots, MemorySnapshots, Snapshot, SnapshotStore
from tests.weather.loopback import Asked, Told, loopback
from tests.weather.provider_samples import SetClock, sample
from tests.weather.series import utc

CONTACT = "keeper@example.org"
URL = "https://weather.example/v1/forecast"
REQUEST = Request("open-meteo", "a forecast", URL, (("latitude", "52.5"),))
START = utc(2026, 3, 24, 12).replace(minute=20, second=30)
GOOD = httpx.Response(200, json={"value": 1})


@pytest.fixture(autouse=True)
def _no_real_waiting() -> Iterator[None]:
    """Retry without the pauses."""
    with stamina.set_testing(True, attempts=3, cap=True):
        yield


def parse(content: bytes) -> int:
    """Return the value of a tiny answer, or refuse it."""
    found = mapping(read_json(content, "test"), "test", "an answer").get("value")
    if not isinstance(found, int):
        msg = "test: no value"
        raise ProviderError(msg)
    return found


def client_at(
    clock: SetClock, store: SnapshotStore | None = None, limits: Limits | None = None
) -> WeatherClient:
    """Return a client with a memory of its own."""
    return WeatherClient(
        CONTACT, store or MemorySnapshots(), clock, {"open-meteo": limits} if limits else None
    )


@pytest.fixture
def clock() -> SetClock:
    """Give a clock set to twenty past noon."""
    return SetClock(START)


@pytest.mark.parametrize(
    "contact", ["", "  ", "me", "me@home", "a b@c.de", "x@y.z\r\nEvil: 1", "mailto:", "ä@ö.de"]
)
def test_without_an_address_of_the_operator_nothing_is_asked(contact: str) -> None:
    """A weather service must be able to reach whoever runs this."""
    with pytest.raises(InputError, match="MEBUKI_CONTACT"):
        WeatherClient(contact, MemorySnapshots(), SystemClock())


@respx.mock
def test_each_request_says_who_asks(clock: SetClock) -> None:
    """Our name, our version and the operator's address; and what can be read."""
    route = respx.get(url__startswith=URL).mock(return_value=GOOD)
    client_at(clock).get(REQUEST, parse)
    headers = route.calls[0].request.headers
    assert headers["user-agent"] == user_agent(CONTACT)
    assert headers["user-agent"].startswith("mebuki/")
    assert CONTACT in headers["user-agent"]
    assert headers["accept-encoding"] == "gzip, deflate"
    assert "application/json" in headers["accept"]


@respx.mock
def test_an_answer_that_holds_is_not_asked_for_again(clock: SetClock) -> None:
    """For as long as Expires says, or else as long as we keep such an answer."""
    route = respx.get(url__startswith=URL).mock(return_value=GOOD)
    client = client_at(clock)
    client.get(REQUEST, parse)
    clock.pass_(minutes=59)
    assert client.get(REQUEST, parse).value == 1
    assert route.call_count == 1
    clock.pass_(minutes=7)
    client.get(REQUEST, parse)
    assert route.call_count == 2


@respx.mock
def test_validators_are_echoed_as_they_came_and_304_renews(clock: SetClock) -> None:
    """ETag and Last-Modified go back unchanged; the stored body and its time of fetching stay."""
    headers = {
        "ETag": 'W/"abc"', "Last-Modified": "Tue, 24 Mar 2026 12:01:43 GMT",
        "Expires": "Tue, 24 Mar 2026 12:50:30 GMT",
    }  # fmt: skip
    route = respx.get(url__startswith=URL)
    route.side_effect = [
        httpx.Response(200, json={"value": 7}, headers=headers),
        httpx.Response(304, headers={"Expires": "Tue, 24 Mar 2026 14:00:00 GMT"}),
    ]
    client = client_at(clock)
    client.get(REQUEST, parse)
    clock.pass_(minutes=40)
    got = client.get(REQUEST, parse)
    sent = route.calls[1].request.headers
    assert sent["if-none-match"] == 'W/"abc"'
    assert sent["if-modified-since"] == "Tue, 24 Mar 2026 12:01:43 GMT"
    assert got.value == 7
    assert got.snapshot.fetched == START
    assert got.snapshot.checked == clock.now()
    assert got.snapshot.expires >= utc(2026, 3, 24, 14)
    assert got.problem == ""


BAD: dict[str, tuple[httpx.Response, str]] = {
    "html 502": (
        httpx.Response(502, content=sample("open_meteo_error_502.html"),
                       headers={"content-type": "text/html"}), "status 502"),
    "overloaded": (
        httpx.Response(503, content=sample("open_meteo_error_503_overloaded.json")), "overloaded"),
    "unexpected problem": (
        httpx.Response(500, content=sample("nws_problem_500.json")), "unexpected problem"),
    "html as 200": (
        httpx.Response(200, content=b"<html>", headers={"content-type": "text/html"}),
        "text/html"),
    "no type": (httpx.Response(200, content=b'{"value": 1}'), "of no type"),
    "cut off": (
        httpx.Response(200, content=sample("open_meteo_200_truncated.txt"),
                       headers={"content-type": "application/json"}), "breaks off"),
    "wrong content": (httpx.Response(200, json={"other": 1}), "no value"),
    "unknown packing": (
        httpx.Response(200, stream=httpx.ByteStream(b"\x00"),
                       headers={"content-encoding": "br"}), "packed as br"),
    "damaged packing": (
        httpx.Response(200, stream=httpx.ByteStream(b"no gzip"),
                       headers={"content-encoding": "gzip",
                                "content-type": "application/json"}), "damaged"),
    "half a packing": (
        httpx.Response(200, stream=httpx.ByteStream(gzip.compress(b'{"value": 1}')[:-12]),
                       headers={"content-encoding": "gzip",
                                "content-type": "application/json"}), "breaks off"),
    "gone": (httpx.Response(410), "status 410"),
}  # fmt: skip


@pytest.mark.parametrize("word", BAD)
@respx.mock
def test_a_bad_answer_never_takes_the_place_of_a_good_one(word: str, clock: SetClock) -> None:
    """The last good snapshot is served with the reason; the bad bytes are not kept."""
    bad, reason = BAD[word]
    store = MemorySnapshots()
    client = client_at(clock, store)
    route = respx.get(url__startswith=URL).mock(return_value=GOOD)
    first = client.get(REQUEST, parse).snapshot
    clock.pass_(hours=2)
    route.mock(return_value=bad)
    got = client.get(REQUEST, parse)
    assert got.value == 1
    assert reason in got.problem
    assert store.load(REQUEST.key) == first == got.snapshot


@pytest.mark.parametrize("word", BAD)
@respx.mock
def test_a_bad_answer_alone_is_our_own_error(word: str, clock: SetClock) -> None:
    """Nothing is stored and nothing else is raised."""
    store = MemorySnapshots()
    respx.get(url__startswith=URL).mock(return_value=BAD[word][0])
    with pytest.raises(ProviderError, match=BAD[word][1]):
        client_at(clock, store).get(REQUEST, parse)
    assert store.load(REQUEST.key) is None


@pytest.mark.parametrize(
    ("answers", "calls"),
    [
        ([httpx.Response(503), GOOD], 2),
        ([httpx.Response(500), httpx.Response(502), GOOD], 3),
        ([httpx.ConnectError("x"), GOOD], 2),
        ([httpx.ReadTimeout("x"), GOOD], 2),
        (
            [httpx.Response(200, content=b"{", headers={"content-type": "application/json"}), GOOD],
            2,
        ),
        ([httpx.Response(429, content=sample("open_meteo_error_429_concurrent.json")), GOOD], 2),
        ([httpx.Response(429, headers={"retry-after": "3"}), GOOD], 2),
    ],
)
@respx.mock
def test_what_passes_soon_is_tried_again(
    answers: list[httpx.Response | Exception], calls: int, clock: SetClock
) -> None:
    """A hiccup, a full queue and a short wait are waited out."""
    route = respx.get(url__startswith=URL)
    route.side_effect = answers
    assert client_at(clock).get(REQUEST, parse).value == 1
    assert route.call_count == calls


@pytest.mark.parametrize(
    ("status", "name"),
    [
        (400, "open_meteo_error_400.json"),
        (403, "open_meteo_error_400.json"),
        (404, "nws_problem_404_outside.json"),
        (422, "open_meteo_error_400.json"),
        (429, "open_meteo_error_429_daily.json"),
        (429, "open_meteo_error_429_hourly.json"),
        (429, "open_meteo_error_429_minutely.json"),
    ],
)
@respx.mock
def test_what_does_not_pass_soon_is_asked_once(status: int, name: str, clock: SetClock) -> None:
    """Neither at once nor at the next question a minute later."""
    clock.pass_(seconds=-20)
    route = respx.get(url__startswith=URL).mock(
        return_value=httpx.Response(status, content=sample(name))
    )
    client = client_at(clock)
    for _ in range(3):
        with pytest.raises(ProviderError):
            client.get(REQUEST, parse)
        clock.pass_(seconds=10)
    assert route.call_count == 1


@pytest.mark.parametrize(
    ("reason", "until"),
    [
        ("minutely", utc(2026, 3, 24, 12).replace(minute=21)),
        ("hourly", utc(2026, 3, 24, 13)),
        ("daily", utc(2026, 3, 25)),
    ],
)
@respx.mock
def test_limits_named_in_words_are_waited_out(reason: str, until: object, clock: SetClock) -> None:
    """The counters begin anew with the UTC minute, hour or day; then the answer comes."""
    route = respx.get(url__startswith=URL).mock(
        return_value=httpx.Response(429, content=sample(f"open_meteo_error_429_{reason}.json"))
    )
    client = client_at(clock)
    with pytest.raises(ProviderError):
        client.get(REQUEST, parse)
    route.mock(return_value=GOOD)
    assert isinstance(until, type(clock.moment))
    clock.moment = until - timedelta(seconds=1)
    with pytest.raises(ProviderError, match="not asked again before"):
        client.get(REQUEST, parse)
    clock.moment = until
    assert client.get(REQUEST, parse).value == 1


@respx.mock
def test_a_service_that_wants_no_second_try_gets_none(clock: SetClock) -> None:
    """MET Norway: not even after a short Retry-After."""
    route = respx.get(url__startswith=URL).mock(
        return_value=httpx.Response(429, headers={"retry-after": "2"})
    )
    with pytest.raises(ProviderError):
        client_at(clock).get(replace(REQUEST, may_wait=False), parse)
    assert route.call_count == 1


@respx.mock
def test_a_failing_service_is_left_alone_for_longer_and_longer(clock: SetClock) -> None:
    """In a day of questions every ten minutes a dead service sees few of them."""
    route = respx.get(url__startswith=URL).mock(side_effect=httpx.ConnectError("down"))
    client = client_at(clock)
    for _ in range(144):
        with pytest.raises(ProviderError):
            client.get(REQUEST, parse)
        clock.pass_(minutes=10)
    assert route.call_count < 60
    clock.pass_(hours=3)
    route.mock(side_effect=None, return_value=GOOD)
    assert client.get(REQUEST, parse).value == 1


@respx.mock
def test_manners_outlive_the_process(clock: SetClock, tmp_path: Path) -> None:
    """A program started every few minutes does not ask a service that wants rest."""
    route = respx.get(url__startswith=URL).mock(return_value=httpx.Response(403))
    for _ in range(5):
        with pytest.raises(ProviderError):
            client_at(clock, FileSnapshots(tmp_path)).get(REQUEST, parse)
        clock.pass_(minutes=5)
    assert route.call_count == 1


@respx.mock
def test_a_budget_is_never_overdrawn(clock: SetClock) -> None:
    """Weights are counted by UTC minute, hour and day; the next day begins anew."""
    route = respx.get(url__startswith=URL).mock(return_value=GOOD)
    client = client_at(clock, limits=Limits(minute=30, hour=50, day=60))
    heavy = replace(REQUEST, weight=25.0)
    asked = [replace(heavy, parameters=(("n", str(n)),)) for n in range(9)]
    assert client.get(asked[0], parse).value == 1
    with pytest.raises(ProviderError, match="in this minute"):
        client.get(asked[1], parse)
    clock.pass_(minutes=1)
    client.get(asked[1], parse)
    clock.pass_(minutes=1)
    with pytest.raises(ProviderError, match="in this hour"):
        client.get(asked[2], parse)
    clock.pass_(hours=1)
    with pytest.raises(ProviderError, match="in this day"):
        client.get(asked[2], parse)
    assert client.spent_today("open-meteo") == 50
    clock.pass_(hours=12)
    client.get(asked[2], parse)
    assert route.call_count == 3


@respx.mock
def test_a_spent_budget_serves_the_last_good_answer(clock: SetClock) -> None:
    """With the reason, and without opening the circuit."""
    respx.get(url__startswith=URL).mock(return_value=GOOD)
    client = client_at(clock, limits=Limits(day=1.5))
    client.get(REQUEST, parse)
    clock.pass_(hours=3)
    assert "in this day" in client.get(REQUEST, parse).problem
    assert client.resting("open-meteo") == ""


@pytest.mark.parametrize(
    "location",
    ["https://elsewhere.example/v1", "http://weather.example/v1", "https://weather.example:444/"],
)
@respx.mock
def test_a_redirect_to_another_server_is_not_followed(location: str, clock: SetClock) -> None:
    """Neither to another host, port nor scheme."""
    respx.get(url__startswith=URL).mock(
        return_value=httpx.Response(301, headers={"location": location})
    )
    with pytest.raises(ProviderError, match="redirected to another server"):
        client_at(clock).get(REQUEST, parse)


@respx.mock
def test_a_redirect_within_a_server_is_followed_a_few_times(clock: SetClock) -> None:
    """As MET Norway asks of its clients; a circle ends."""
    respx.get(URL, params={"latitude": "52.5"}).mock(
        return_value=httpx.Response(307, headers={"location": "/v2"})
    )
    v2 = respx.get("https://weather.example/v2").mock(return_value=GOOD)
    assert client_at(clock).get(REQUEST, parse).value == 1
    v2.mock(return_value=httpx.Response(302, headers={"location": "/v2"}))
    with pytest.raises(ProviderError, match="more than 3 times"):
        client_at(clock).get(REQUEST, parse)


def bomb(size: int) -> bytes:
    """Return zeros, packed a thousandfold."""
    packer = zlib.compressobj(9, wbits=31)
    return (
        b"".join(packer.compress(b"0" * 100_000) for _ in range(size // 100_000)) + packer.flush()
    )


def test_a_packed_bomb_stops_at_the_cap(clock: SetClock) -> None:
    """Two hundred megabytes in two hundred kilobytes never come into memory."""
    content = bomb(200_000_000)
    assert len(content) < 300_000
    headers = {"Content-Type": "application/json", "Content-Encoding": "gzip"}
    with loopback(lambda _: Told(200, content, headers)) as address:
        with pytest.raises(ProviderError, match="longer than 1000000 bytes"):
            client_at(clock).get(replace(REQUEST, url=address, most_bytes=1_000_000), parse)
        plain = replace(REQUEST, url=f"{address}/plain", most_bytes=1000)
        with pytest.raises(ProviderError, match="longer than 1000 bytes"):
            client_at(clock).get(plain, parse)


def test_a_packed_answer_is_read(clock: SetClock) -> None:
    """Gzip and deflate come over a real socket."""
    packers: dict[str, Callable[[bytes], bytes]] = {"gzip": gzip.compress, "deflate": zlib.compress}

    def answer(asked: Asked) -> Told:
        word = asked.path.strip("/").partition("?")[0]
        headers = {"Content-Type": "application/json", "Content-Encoding": word}
        return Told(200, packers[word](b'{"value": 5}'), headers)

    with loopback(answer) as address:
        for word in packers:
            got = client_at(clock).get(replace(REQUEST, url=f"{address}/{word}"), parse)
            assert got.value == 5


@pytest.mark.parametrize("head", [b"", b"HTTP/1.1 200 OK\r\nContent-Length: 99\r\n\r\n"])
def test_a_server_that_drips_is_given_up(head: bytes, clock: SetClock) -> None:
    """A byte now and then, in the headers or the body, does not hold a round for ever."""
    done = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:

        def drip() -> None:
            peer, _ = server.accept()
            with peer:
                peer.recv(4096)
                peer.sendall(head or b"HTTP/1.1 200 OK\r\n")
                while not done.wait(0.05):
                    try:
                        peer.sendall(b" " if head else b"X-A: b\r\n")
                    except OSError:
                        return

        thread = threading.Thread(target=drip, daemon=True)
        thread.start()
        url = f"http://127.0.0.1:{server.getsockname()[1]}/"
        with pytest.raises(ProviderError, match=r"no whole answer within 0\.5 s"):
            client_at(clock).get(replace(REQUEST, url=url, patience=0.5), parse)
        done.set()
        thread.join()


def test_one_host_sees_one_question_at_a_time(clock: SetClock) -> None:
    """Ten threads with ten questions come one after the other."""
    running, most, lock = [0], [0], threading.Lock()

    def answer(_: Asked) -> Told:
        with lock:
            running[0] += 1
            most[0] = max(most[0], running[0])
        threading.Event().wait(0.02)
        with lock:
            running[0] -= 1
        return Told(200, b'{"value": 1}')

    with loopback(answer) as address:
        client = client_at(clock)
        asked = [replace(REQUEST, url=f"{address}/{n}") for n in range(10)]
        threads = [threading.Thread(target=client.get, args=(one, parse)) for one in asked]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert most[0] == 1


def test_the_same_question_from_many_threads_is_asked_once(clock: SetClock) -> None:
    """Gardens in one cell share one pull, also when they look at the same moment."""
    asked: list[str] = []

    def answer(one: Asked) -> Told:
        asked.append(one.path)
        threading.Event().wait(0.05)
        return Told(200, b'{"value": 1}')

    with loopback(answer) as address:
        client = client_at(clock)
        request = replace(REQUEST, url=address)
        threads = [threading.Thread(target=client.get, args=(request, parse)) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert len(asked) == 1


@respx.mock
def test_a_key_is_sent_and_never_shown_or_stored(
    clock: SetClock, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Not in the printed request, the snapshot, an error or the log."""
    caplog.set_level("DEBUG")
    request = replace(REQUEST, secret={"apikey": "s3cret"})
    route = respx.get(url__startswith=URL).mock(return_value=GOOD)
    client = client_at(clock, FileSnapshots(tmp_path))
    client.get(request, parse)
    assert route.calls[0].request.url.params["apikey"] == "s3cret"
    route.mock(side_effect=httpx.ConnectError("https://x?apikey=s3cret"))
    clock.pass_(hours=3)
    problem = client.get(request, parse).problem
    kept = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert b"s3cret" not in kept
    assert "s3cret" not in request.shown() + problem + caplog.text
    assert request.shown() == f"GET {URL}?latitude=52.5&apikey=…"


class FullDisk(MemorySnapshots):
    """A store that can keep nothing."""

    def save(self, snapshot: Snapshot) -> None:
        """Fail."""
        msg = f"{snapshot.key}: no space left"
        raise FaultError(msg)


@respx.mock
def test_a_full_disk_does_not_hide_the_weather(clock: SetClock) -> None:
    """The answer is given, and it is said that it could not be kept."""
    respx.get(url__startswith=URL).mock(return_value=GOOD)
    got = client_at(clock, FullDisk()).get(REQUEST, parse)
    assert got.value == 1
    assert "could not be kept" in got.problem


@respx.mock
def test_a_withdrawn_version_is_read_with_a_warning(
    clock: SetClock, caplog: pytest.LogCaptureFixture
) -> None:
    """Status 203 is MET Norway's word for: change soon."""
    respx.get(url__startswith=URL).mock(return_value=httpx.Response(203, json={"value": 2}))
    assert client_at(clock).get(REQUEST, parse).value == 2
    assert "being withdrawn" in caplog.text


def test_the_headers_of_the_sample_are_honoured(clock: SetClock) -> None:
    """The Expires, Last-Modified and If-Modified-Since of MET Norway's documentation."""
    words = json.loads(sample("met_norway_headers.json"))
    clock.moment = utc(2026, 3, 23, 23).replace(minute=35)
    seen: list[Asked] = []

    def answer(asked: Asked) -> Told:
        seen.append(asked)
        if "if-modified-since" in asked.headers:
            return Told(304, b"", words["response_304"])
        return Told(200, b'{"value": 3}', words["response_200"])

    with loopback(answer) as address:
        client = client_at(clock)
        request = replace(REQUEST, url=address)
        client.get(request, parse)
        clock.moment = utc(2026, 3, 24)
        client.get(request, parse)
        assert len(seen) == 1
        clock.moment = utc(2026, 3, 24).replace(minute=8)
        assert client.get(request, parse).value == 3
    assert seen[1].headers["if-modified-since"] == words["next_request"]["If-Modified-Since"]
