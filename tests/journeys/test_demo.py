"""The demo as a newcomer runs it: files, bytes, addresses and clear errors."""

from __future__ import annotations

import email
import email.policy
import json
import re
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

FALSE_SPIKE_DAY = "2013-05-09"


def _mebuki(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "mebuki", *arguments],
        cwd=cwd, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


def test_the_demo_writes_feed_mails_and_report_and_says_where(tmp_path: Path) -> None:
    """One command leaves the three kinds of file and a short summary."""
    done = _mebuki("demo", "--out", "out", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "mebuki.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert list((tmp_path / "out").glob("*.eml"))
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "<svg" in page
    for file in ("report.html", "mebuki.ics", ".eml"):
        assert file in done.stdout
    assert len(done.stdout.splitlines()) < 60


def test_the_same_day_in_the_same_place_gives_the_same_bytes(tmp_path: Path) -> None:
    """A second run, also after a run for another day, changes no byte of feed or mails."""
    out = tmp_path / "out"
    _mebuki("demo", "--out", "out", cwd=tmp_path)
    first = {path.name: path.read_bytes() for path in out.iterdir()}
    _mebuki("demo", "--out", "out", "--on", "2013-10-20", cwd=tmp_path)
    done = _mebuki("demo", "--out", "out", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    second = {path.name: path.read_bytes() for path in out.iterdir()}
    assert second.keys() == first.keys()
    assert second == first


def test_the_report_asks_nothing_of_other_hosts(tmp_path: Path) -> None:
    """The page is one file: no script, style or picture is fetched."""
    _mebuki("demo", "--out", "out", cwd=tmp_path)
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert not re.search(r"""<(script|link|img|iframe)[^>]+(src|href)\s*=\s*["']https?:""", page)
    assert "@import" not in page
    assert not re.search(r"url\(\s*['\"]?https?:", page)


def test_the_report_says_that_few_past_years_are_known(tmp_path: Path) -> None:
    """Three climate years are few, and the page and the summary say so."""
    done = _mebuki("demo", "--out", "out", cwd=tmp_path)
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    for text in (page, done.stdout):
        assert re.search(r"Only 3 past years", text)


def test_the_false_reading_is_shown_and_warns_of_nothing(tmp_path: Path) -> None:
    """On the day of the false −10.5 °C the page shows it as rejected, no mail warns."""
    done = _mebuki("demo", "--out", "out", "--on", FALSE_SPIKE_DAY, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert re.search(r"[-−]10\.5", page)
    for path in (tmp_path / "out").glob("*.eml"):
        subject = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)[
            "subject"
        ]
        assert "frost" not in str(subject).lower()


@pytest.mark.parametrize("day", ["2012-12-31", "2014-01-02", "2026-03-01"])
def test_a_day_outside_the_series_is_a_clear_error(tmp_path: Path, day: str) -> None:
    """The error names the day and the days allowed; nothing is written; exit code 2."""
    done = _mebuki("demo", "--out", "out", "--on", day, cwd=tmp_path)
    assert done.returncode == 2
    assert day in done.stderr
    assert "2013-01-01" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_day_that_is_no_day_is_a_clear_error(tmp_path: Path) -> None:
    """The error says how a day is written."""
    done = _mebuki("demo", "--on", "27.3.2013", cwd=tmp_path)
    assert done.returncode == 2
    assert "YYYY-MM-DD" in done.stderr


def test_a_round_keeps_what_it_published(tmp_path: Path) -> None:
    """Two rounds in one folder: the second revises; the first day again is refused."""
    first = _mebuki("round", "--on", "2013-03-27", "--out", "g", cwd=tmp_path)
    assert first.returncode == 0, first.stderr
    feed = (tmp_path / "g" / "mebuki.ics").read_bytes()
    again = _mebuki("round", "--on", "2013-03-27", "--out", "g", cwd=tmp_path)
    assert again.returncode == 0, again.stderr
    assert (tmp_path / "g" / "mebuki.ics").read_bytes() == feed
    mails = {path.name for path in (tmp_path / "g").glob("*.eml")}
    later = _mebuki("round", "--on", "2013-03-28", "--out", "g", "--json", cwd=tmp_path)
    assert later.returncode == 0, later.stderr
    assert json.loads(later.stdout)["on"] == "2013-03-28"
    assert mails <= {path.name for path in (tmp_path / "g").glob("*.eml")}
    back = _mebuki("round", "--on", "2013-03-27", "--out", "g", cwd=tmp_path)
    assert back.returncode == 2
    assert "forward" in back.stderr


def test_explain_gives_numbers_rules_and_sources(tmp_path: Path) -> None:
    """For a tree of the example garden each advice names its rule, reasons and sources."""
    listed = _mebuki("round", "--on", "2013-03-27", "--out", "g", "--json", cwd=tmp_path)
    repot = [each for each in json.loads(listed.stdout)["entries"] if each["kind"] == "repot"]
    tree = repot[0]["trees"][0]
    done = _mebuki("explain", tree, "--on", "2013-03-27", "--kind", "repot", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "because" in done.stdout
    assert "rule" in done.stdout
    data = _mebuki("explain", tree, "--on", "2013-03-27", "--json", cwd=tmp_path)
    reasons = [reason for each in json.loads(data.stdout) for reason in each["reasons"]]
    assert reasons
    assert all(reason["source"] for reason in reasons)


def test_an_unknown_tree_is_a_clear_error_with_near_names(tmp_path: Path) -> None:
    """The error names the garden and offers what is near."""
    done = _mebuki("explain", "no such tree at all", "--on", "2013-03-27", cwd=tmp_path)
    assert done.returncode == 2
    assert "no such tree" in done.stderr


def test_live_weather_does_not_start_without_a_contact(tmp_path: Path) -> None:
    """The services ask who calls: without an address nothing is asked of them."""
    done = _mebuki("round", "--weather", "live", cwd=tmp_path)
    assert done.returncode == 2
    assert "MEBUKI_CONTACT" in done.stderr
    assert not (tmp_path / "mebuki-out").exists()


def test_live_weather_knows_only_the_present(tmp_path: Path) -> None:
    """A given day and live weather exclude one another."""
    done = _mebuki("round", "--weather", "live", "--on", "2013-03-27", cwd=tmp_path)
    assert done.returncode == 2
    assert "present" in done.stderr


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_the_demo_serves_report_and_feed_on_loopback(tmp_path: Path) -> None:
    """Both printed addresses answer, the feed with a validator that gives 304."""
    port = _free_port()
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "mebuki", "demo", "--out", "out", "--serve",
         "--port", str(port)],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    assert server.stdout is not None
    try:
        addresses: list[str] = []
        for line in server.stdout:
            addresses += re.findall(r"http://127\.0\.0\.1:\S+", line)
            if any(address.endswith(".ics") for address in addresses) and len(addresses) >= 2:
                break
        feed = next(address for address in addresses if address.endswith(".ics"))
        page = next(address for address in addresses if not address.endswith(".ics"))
        answer = _get(feed)
        assert answer.headers["Content-Type"].startswith("text/calendar")
        assert answer.content == (tmp_path / "out" / "mebuki.ics").read_bytes()
        assert b"<html" in _get(page).content
        again = httpx.get(feed, headers={"If-None-Match": answer.headers["ETag"]})
        assert again.status_code == 304
    finally:
        server.terminate()
        server.communicate(timeout=20)


def _get(address: str) -> httpx.Response:
    for _ in range(100):
        try:
            return httpx.get(address, timeout=10)
        except httpx.ConnectError:
            time.sleep(0.1)
    pytest.fail(f"{address} does not answer")
