"""Programs that nobody here wrote, each reading a feed in its own way."""

from __future__ import annotations

import json
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import vobject

from tests.feeds.rich_feeds import Seen, written

BIN = Path(sys.executable).parent
UTC_HERE = ["env", "TZ=UTC", "LC_ALL=C.UTF-8"]


def by_vobject(feed: bytes, folder: Path) -> list[Seen]:
    """Read a feed with vobject, the parser inside a common CalDAV server."""
    return sorted(_by_vobject(feed.decode()))


def _by_vobject(text: str) -> Iterator[Seen]:
    for event in vobject.readOne(text).contents.get("vevent", []):
        yield (
            str(event.uid.value),
            str(event.summary.value),
            written(event.dtstart.value),
            written(event.dtend.value),
        )


KHAL = """
[calendars]
[[feed]]
path = {folder}/feed
type = calendar
[sqlite]
path = {folder}/khal.db
[locale]
local_timezone = UTC
default_timezone = UTC
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%dT%H:%M
longdatetimeformat = %Y-%m-%dT%H:%M
"""


def by_khal(feed: bytes, folder: Path) -> list[Seen]:
    """Import a feed into khal, a terminal calendar, and list what it shows."""
    (folder / "feed").mkdir()
    (folder / "feed.ics").write_bytes(feed)
    (folder / "config").write_text(KHAL.format(folder=folder))
    khal = [str(BIN / "khal"), "-c", str(folder / "config")]
    subprocess.run([*khal, "import", "--batch", "-a", "feed", str(folder / "feed.ics")], check=True)
    fields = ("uid", "title", "start-long", "end-long", "all-day")
    wanted = [part for field in fields for part in ("--json", field)]
    listed = _out([*khal, "list", "--once", "--notstarted", *wanted, "2012-12-01", "1000d"])
    shown = [event for line in listed.splitlines() for event in json.loads(line)]
    return sorted(
        (
            event["uid"],
            event["title"].removeprefix("CANCELLED ").removesuffix(" CANCELLED"),
            event["start-long"],
            event["end-long"] if event["all-day"] == "False" else _after(event["end-long"]),
        )
        for event in shown
    )


def _after(last: str) -> str:
    return str(date.fromisoformat(last) + timedelta(days=1))


ICAL_JS = """
import fs from "node:fs";
import { createRequire } from "node:module";
const loaded = createRequire(process.argv[2] + "/")("ical.js");
const ICAL = loaded.default || loaded;
const calendar = new ICAL.Component(ICAL.parse(fs.readFileSync(process.argv[3], "utf8")));
const seen = calendar.getAllSubcomponents("vevent").map((part) => {
  const event = new ICAL.Event(part);
  return [event.uid, event.summary, String(event.startDate), String(event.endDate)];
});
console.log(JSON.stringify(seen));
"""


def by_ical_js(feed: bytes, folder: Path) -> list[Seen]:
    """Read a feed with ical.js, the parser of Thunderbird and Nextcloud."""
    (folder / "feed.ics").write_bytes(feed)
    (folder / "read.mjs").write_text(ICAL_JS)
    modules = str(Path(sys.prefix) / "js")
    listed = _out(["node", str(folder / "read.mjs"), modules, str(folder / "feed.ics")])
    return sorted(
        (uid, title, start.removesuffix(":00Z"), end.removesuffix(":00Z"))
        for uid, title, start, end in json.loads(listed)
    )


VDIRSYNCER = """
[general]
status_path = "{folder}/status"
[pair feed]
a = "remote"
b = "local"
collections = null
[storage remote]
type = "http"
url = "{url}"
[storage local]
type = "filesystem"
path = "{folder}/items"
fileext = ".ics"
"""


def by_vdirsyncer(feed: bytes, folder: Path) -> list[Seen]:
    """Subscribe with vdirsyncer over HTTP, twice, and read the files it made of the feed.

    It names each by a hash of its content, so identities are its own.
    """
    return synchronised([feed, feed], folder)


def synchronised(versions: Sequence[bytes], folder: Path) -> list[Seen]:
    """Let vdirsyncer fetch one version of a feed after another, and read what it keeps."""
    (folder / "items").mkdir()
    config = folder / "config"
    command = [str(BIN / "vdirsyncer"), "-c", str(config)]
    shown = list(versions[:1])
    with served(shown) as url:
        config.write_text(VDIRSYNCER.format(folder=folder, url=url))
        _out([*command, "discover"])
        for version in versions:
            shown[0] = version
            _out([*command, "sync"])
    files = sorted((folder / "items").glob("*.ics"))
    return sorted(seen for file in files for seen in _by_vobject(file.read_text("utf-8")))


ICS_PY = """
import json, sys
from pathlib import Path
from ics import Calendar
def told(at, whole):
    return at.strftime("%Y-%m-%d" if whole else "%Y-%m-%dT%H:%M")
events = Calendar(Path(sys.argv[1]).read_bytes().decode()).events
print(json.dumps([
    (each.uid, each.name, told(each.begin, each.all_day), told(each.end, each.all_day))
    for each in events
]))
"""


def by_ics_py(feed: bytes, folder: Path) -> list[Seen]:
    """Read a feed with ics.py, whose grammar is strict."""
    (folder / "feed.ics").write_bytes(feed)
    listed = _out([sys.executable, "-c", ICS_PY, str(folder / "feed.ics")])
    return sorted(tuple(each) for each in json.loads(listed))


CALDAV = """
import json, sys
from pathlib import Path
import caldav, vobject
from icalendar import Calendar
client = caldav.DAVClient(url=sys.argv[1], username="ada", password="x")
calendar = client.principal().make_calendar(name="feed")
whole = Calendar.from_ical(Path(sys.argv[2]).read_bytes())
for event in whole.walk("VEVENT"):
    one = Calendar()
    one.add("version", "2.0")
    one.add("prodid", "test")
    one.add_component(event)
    calendar.save_event(one.to_ical().decode())
print(json.dumps([event.data for event in calendar.events()]))
"""


def by_radicale(feed: bytes, folder: Path) -> list[Seen]:
    """Put each event on a Radicale server with the caldav client, and read all of them back."""
    (folder / "feed.ics").write_bytes(feed)
    with radicale(folder) as url:
        listed = _out([sys.executable, "-W", "ignore", "-c", CALDAV, url, str(folder / "feed.ics")])
    return sorted(seen for item in json.loads(listed) for seen in _by_vobject(item))


@contextmanager
def radicale(folder: Path) -> Iterator[str]:
    """Run a CalDAV server on loopback and give its address."""
    port = _free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "radicale", "--config", "", "--auth-type", "none",
         "--server-hosts", f"127.0.0.1:{port}", "--logging-level", "warning",
         "--storage-filesystem-folder", str(folder / "store")],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        _await(port)
        yield f"http://127.0.0.1:{port}/"
    finally:
        server.terminate()
        server.wait(10)


def by_calcurse(feed: bytes, folder: Path) -> list[Seen]:
    """Import a feed into calcurse, a terminal calendar, and export what it keeps of it."""
    (folder / "feed.ics").write_bytes(feed)
    calcurse = ["calcurse", "-D", str(folder), "-C", str(folder)]
    _out([*calcurse, "-q", "-i", str(folder / "feed.ics")])
    exported = _out([*calcurse, "-xical"]).replace("\r\n", "\n")
    return sorted(_by_calcurse(part) for part in exported.split("BEGIN:VEVENT\n")[1:])


def _by_calcurse(part: str) -> Seen:
    """Return an event as calcurse writes it: several days as a daily repetition, UTC without Z."""
    lines = dict(line.split(":", 1) for line in part.splitlines() if ":" in line)
    title = re.sub(r"\\(.)", r"\1", lines["SUMMARY"])
    if whole := lines.get("DTSTART;VALUE=DATE"):
        last = lines.get("RRULE", f"UNTIL={whole}").partition("UNTIL=")[2]
        return "", title, str(date.fromisoformat(whole)), _after(str(date.fromisoformat(last)))
    begins = datetime.fromisoformat(lines["DTSTART"]).replace(tzinfo=UTC)
    days, hours, minutes, seconds = map(int, re.findall(r"\d+", lines["DURATION"]))
    length = timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)
    return "", title, written(begins), written(begins + length)


def by_todoman(feed: bytes, folder: Path) -> list[tuple[str, int, int]]:
    """Read a list of tasks with todoman: title, due day or moment, share done."""
    lists = folder / "lists" / "trees"
    lists.mkdir(parents=True)
    config = folder / "config.py"
    config.write_text(f'path = "{folder}/lists/*"\ncache_path = "{folder}/cache.sqlite3"\n')
    for number, task in enumerate(vobject.readOne(feed.decode()).contents.get("vtodo", [])):
        alone = vobject.iCalendar()
        alone.add(task)
        (lists / f"{number}.ics").write_text(alone.serialize(), "utf-8")
    todo = [str(BIN / "todo"), "--config", str(config), "--porcelain"]
    listed: list[dict[str, Any]] = json.loads(_out([*todo, "list", "--status", "ANY"]))
    return sorted((each["summary"], each["due"], each["percent"]) for each in listed)


@contextmanager
def served(shown: Sequence[bytes]) -> Iterator[str]:
    """Serve what a list holds at the moment as a calendar on loopback; give its address."""

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            """Send the bytes."""
            content = shown[0]
            self.send_response(200)
            self.send_header("Content-Type", "text/calendar; charset=utf-8")
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - its name there
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answer)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/feed.ics"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def _out(command: list[str]) -> str:
    done = subprocess.run([*UTC_HERE, *command], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        msg = f"{Path(command[0]).name} ended with {done.returncode}:\n{done.stderr[-3000:]}"
        raise AssertionError(msg)
    return done.stdout


def _free_port() -> int:
    with socket.socket() as chosen:
        chosen.bind(("127.0.0.1", 0))
        port: int = chosen.getsockname()[1]
        return port


def _await(port: int, seconds: float = 20) -> None:
    for _ in range(int(seconds * 20)):
        with socket.socket() as asked:
            if asked.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    msg = f"no server came up on port {port}"
    raise AssertionError(msg)
