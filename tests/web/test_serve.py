"""Serving on loopback in a process of its own, until told to stop."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from mebuki.errors import FaultError, InputError
from mebuki.web.serve import listening, serve_files

ROOT = Path(__file__).parents[2]
SCRIPT = """
import sys
from pathlib import Path
from mebuki.web.serve import serve_files
out = Path(sys.argv[1])
serve_files(out / "report.html", out / "mebuki.ics", 0, lambda line: print(line, flush=True))
"""


def test_both_addresses_answer_until_an_interrupt_stops_it(tmp_path: Path) -> None:
    """Addresses are announced once they answer; the end is quiet and the exit code 0."""
    (tmp_path / "report.html").write_bytes(b"<!DOCTYPE html>")
    (tmp_path / "mebuki.ics").write_bytes(b"BEGIN:VCALENDAR\r\n")
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT, str(tmp_path)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={"PYTHONPATH": str(ROOT / "service")},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        report, feed = (process.stdout.readline().split()[-1] for _ in range(2))
        assert feed.endswith(".ics")
        assert httpx.get(report, trust_env=False).content == b"<!DOCTYPE html>"
        assert httpx.get(feed, trust_env=False).content == b"BEGIN:VCALENDAR\r\n"
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 0
        assert process.stderr.read() == ""


def test_a_port_that_is_taken_is_said() -> None:
    """The message names the port and the way out."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        with pytest.raises(InputError, match=f"port {taken} .* --port"):
            listening(taken)


@pytest.mark.parametrize("port", [-1, 65536])
def test_a_port_out_of_range_is_refused(port: int) -> None:
    """The message says what is allowed."""
    with pytest.raises(InputError, match="between 0 and 65535"):
        listening(port)


def test_only_this_machine_is_listened_on() -> None:
    """The address is the loopback one."""
    with listening(0) as door:
        assert door.getsockname()[0] == "127.0.0.1"


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    """Nothing is served before both files were read."""
    with pytest.raises(FaultError, match=r"report\.html cannot be read"):
        serve_files(tmp_path / "report.html", tmp_path / "mebuki.ics", 0, print)
