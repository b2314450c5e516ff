"""``mebuki serve`` as a process: it answers, it is alone, it hides secrets, it stops when told."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from mebuki.rulebook import shipped_config
from tests.mail.smtp_sink import SmtpSink

COMMAND = [sys.executable, "-m", "mebuki"]
NOWHERE = "http://127.0.0.1:9"
"""An address on this machine where nobody answers."""


@dataclass
class Served:
    """A service that answers at an address."""

    process: subprocess.Popen[str]
    address: str
    folder: Path

    def get(self, path: str) -> tuple[int, bytes]:
        """Return status and body of a path."""
        try:
            with urllib.request.urlopen(self.address + path, timeout=5) as answer:  # noqa: S310 - loopback
                return answer.status, answer.read()
        except urllib.error.HTTPError as error:
            return error.code, error.read()

    def until(self, query: str, wanted: Any, seconds: float = 30) -> None:
        """Wait until the database answers a question as wanted."""
        end = time.monotonic() + seconds
        while _one(self.folder, query) != wanted:
            assert time.monotonic() < end, f"{query} is {_one(self.folder, query)}, not {wanted}"
            time.sleep(0.1)


def _one(folder: Path, query: str) -> Any:
    with closing(sqlite3.connect(folder / "mebuki.db")) as connection:
        return connection.execute(query).fetchone()[0]


def _environment(folder: Path, **changes: str) -> dict[str, str]:
    kept = {"PATH": os.defpath, "HOME": str(folder), "PYTHONPATH": os.pathsep.join(sys.path)}
    asked = ("FORECAST", "HISTORY", "ARCHIVE", "ENSEMBLE", "ELEVATION")
    return {
        **kept,
        **{f"MEBUKI_OPEN_METEO_{name}_URL": NOWHERE for name in asked},
        "MEBUKI_DATABASE": str(folder / "mebuki.db"),
        "MEBUKI_CACHE_DIR": str(folder / "cache"),
        "MEBUKI_CONTACT": "keeper@example.org",
        "MEBUKI_WEATHER_PROVIDERS": "open-meteo",
        **changes,
    }


def _run(folder: Path, *words: str, **changes: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *words], env=_environment(folder, **changes), cwd=folder, text=True,
        capture_output=True, check=False, timeout=60,
    )  # fmt: skip


@contextmanager
def _served(folder: Path, **changes: str) -> Iterator[Served]:
    with (folder / "log").open("w") as log:
        process = subprocess.Popen(
            [*COMMAND, "serve", "--port", "0"], env=_environment(folder, **changes), cwd=folder,
            stdout=subprocess.PIPE, stderr=log, text=True,
        )  # fmt: skip
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line.startswith("Mebuki serves "), (folder / "log").read_text()
    try:
        yield Served(process, line.split()[-1].rstrip("/"), folder)
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        process.stdout.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a database that holds the invented garden."""
    done = _run(tmp_path, "trees", "import", str(shipped_config() / "garden.example.toml"))
    assert done.returncode == 0, done.stderr
    return tmp_path


def test_a_service_without_weather_says_so_by_feed_mail_and_health(folder: Path) -> None:
    """From a start with the providers down to a mail in hand, and a stop within five seconds."""
    added = _run(folder, "feeds", "add", "saltmarsh", "Ada Quill")
    assert added.returncode == 0, added.stderr
    feed = next(word for word in added.stdout.split() if "/feeds/" in word)
    path = "/feeds/" + feed.split("/feeds/")[1]
    token = path.removeprefix("/feeds/").removesuffix(".ics")
    with SmtpSink() as sink:
        mail = {"MEBUKI_SMTP_HOST": "127.0.0.1", "MEBUKI_SMTP_PORT": str(sink.port),
                "MEBUKI_SMTP_SECURITY": "plain", "MEBUKI_SENDER": "mebuki@example.org"}  # fmt: skip
        with _served(folder, **mail) as served:
            served.until("SELECT count(*) FROM rounds WHERE round = 'plan' AND outcome = 'done'", 1)
            status, body = served.get("/health")
            health = json.loads(body)
            assert health["status"] in ("starting", "blind")
            assert health["weather"]["without"] == 1
            status, calendar = served.get(path)
            assert status == 200
            assert b"cannot be seen" in calendar.replace(b"\r\n ", b"")
            assert served.get("/metrics")[0] == 200
            assert served.get("/feeds/" + "x" * 43 + ".ics")[0] == 404
            begun = time.monotonic()
            served.process.send_signal(signal.SIGTERM)
            assert served.process.wait(timeout=5) == 0
            assert time.monotonic() - begun < 5
    log = (folder / "log").read_text()
    assert token not in log
    assert "ada@example.org" not in log
    assert _one(folder, "PRAGMA integrity_check") == "ok"
    assert _one(folder, "SELECT count(*) FROM rounds WHERE finished_at IS NULL") == 0


def test_a_second_service_on_one_database_says_so_and_stops(folder: Path) -> None:
    """The first one goes on."""
    with _served(folder) as served:
        second = _run(folder, "serve", "--port", "0")
        assert second.returncode == 1
        assert "another Mebuki is at work" in second.stderr
        assert served.get("/health")[0] in (200, 503)


def test_a_service_that_is_killed_leaves_nothing_in_the_way(folder: Path) -> None:
    """After kill -9 the next start needs no clearing up."""
    with _served(folder) as served:
        served.process.kill()
        served.process.wait()
    with _served(folder) as again:
        assert again.get("/health")[0] in (200, 503)
        again.process.terminate()
        assert again.process.wait(timeout=5) == 0


def test_a_setting_that_cannot_be_used_is_named_and_nothing_is_begun(tmp_path: Path) -> None:
    """Exit code 2, one readable line for each fault."""
    done = _run(tmp_path, "serve", MEBUKI_ROUND_EVERY_HOURS="sometimes")
    assert done.returncode == 2
    assert "MEBUKI_ROUND_EVERY_HOURS" in done.stderr
    assert not (tmp_path / "mebuki.db").exists()
    done = _run(tmp_path, "serve", MEBUKI_CONTACT="")
    assert done.returncode == 2
    assert "MEBUKI_CONTACT" in done.stderr
