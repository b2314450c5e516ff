"""The feed as independent programs read it: khal, vobject, and ical.js (Thunderbird's parser)."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import vobject
from hypothesis import given

from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.domain.advice import Days, Moments
from mebuki.domain.text import one_line
from mebuki.feeds.calendar import IcsWriter
from tests.builders import a_garden, an_entry
from tests.feeds.strategies import entries

ROOT = Path(__file__).parents[2]
HOST = "garden.example"

Seen = tuple[str, str, str, str]
"""UID, title, start, and exclusive end of an event."""


def rich() -> list[Entry]:
    """Return entries round a change of the clocks, long and short, cancelled and revised."""
    clocks = datetime(2013, 11, 3, 4, tzinfo=UTC)  # New York's clocks go back at 06 Z
    return [
        an_entry("a", title="Repot 3 maples; mind, the \\ roots"),
        an_entry("b", title="Frost −2 °C: bring in 12 trees", alarm=True,
                 span=Moments(clocks, clocks + timedelta(hours=8))),
        an_entry("c", title="Cancelled: check the wire", status=EntryStatus.CANCELLED, revision=4,
                 span=Days(date(2013, 12, 30), date(2014, 1, 2))),
        an_entry("d", title="Wässern 🌱 " + "lang " * 40, body="one\ntwo\n\n" + "x" * 500,
                 span=Days(date(2013, 2, 28), date(2013, 2, 28))),
    ]  # fmt: skip


def expected(kept: list[Entry]) -> list[Seen]:
    """Return what a right reader sees."""
    return sorted(_expected(entry) for entry in kept)


def _expected(entry: Entry) -> Seen:
    uid = entry.uid.partition("@")[0] + "@" + HOST
    if isinstance(entry.span, Days):
        after = entry.span.last + timedelta(days=1)
        return uid, one_line(entry.title), str(entry.span.first), str(after)
    begins, ends = (f"{at:%Y-%m-%dT%H:%M}" for at in (entry.span.begins, entry.span.ends))
    return uid, one_line(entry.title), begins, ends


def by_vobject(feed: bytes, folder: Path) -> list[Seen]:
    """Read a feed with vobject, the parser inside a common CalDAV server."""
    calendar = vobject.readOne(feed.decode())
    return sorted(
        (
            str(event.uid.value),
            str(event.summary.value),
            _written(event.dtstart.value),
            _written(event.dtend.value),
        )
        for event in calendar.contents.get("vevent", [])
    )


def _written(value: date) -> str:
    return f"{value:%Y-%m-%dT%H:%M}" if isinstance(value, datetime) else str(value)


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
    khal = [str(Path(sys.executable).with_name("khal")), "-c", str(folder / "config")]
    subprocess.run([*khal, "import", "--batch", "-a", "feed", str(folder / "feed.ics")], check=True)
    fields = ("uid", "title", "start-long", "end-long", "all-day")
    wanted = [part for field in fields for part in ("--json", field)]
    listed = subprocess.run(
        [*khal, "list", "--once", "--notstarted", *wanted, "2013-01-01", "400d"],
        check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    shown = [event for line in listed.splitlines() for event in json.loads(line)]
    return sorted(
        (
            event["uid"],
            event["title"].removeprefix("CANCELLED ").removesuffix(" CANCELLED"),
            event["start-long"],
            _exclusive(event),
        )
        for event in shown
    )


def _exclusive(event: dict[str, str]) -> str:
    if event["all-day"] == "False":
        return event["end-long"]
    return str(date.fromisoformat(event["end-long"]) + timedelta(days=1))


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
    modules = Path(sys.prefix) / "js"
    if shutil.which("node") is None or not (modules / "node_modules" / "ical.js").is_dir():
        pytest.skip("needs node and ical.js, which ./deploy/test installs where npm is present")
    (folder / "feed.ics").write_bytes(feed)
    (folder / "read.mjs").write_text(ICAL_JS)
    listed = subprocess.run(
        ["node", str(folder / "read.mjs"), str(modules), str(folder / "feed.ics")],
        check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    return sorted(
        (uid, title, start.removesuffix(":00Z"), end.removesuffix(":00Z"))
        for uid, title, start, end in json.loads(listed)
    )


@pytest.mark.parametrize("read", [by_vobject, by_khal, by_ical_js], ids=lambda read: read.__name__)
def test_other_programs_see_the_same_events(
    read: Callable[[bytes, Path], list[Seen]], tmp_path: Path
) -> None:
    """Count, identity, title, start and end agree with our own entries."""
    kept = rich()
    feed = IcsWriter(HOST).write(a_garden(), kept, [])
    assert read(feed, tmp_path) == expected(kept)


@given(entries())
def test_vobject_reads_any_text(kept: list[Entry]) -> None:
    """An independent parser finds the same events whatever people write."""
    feed = IcsWriter(HOST).write(a_garden(), kept, [])
    assert sorted(seen[0] for seen in by_vobject(feed, Path())) == sorted(
        entry.uid.partition("@")[0] + "@" + HOST for entry in kept
    )


def test_a_thousand_entries_are_read_alike(tmp_path: Path) -> None:
    """Another parser finds every one of a thousand entries."""
    kept = [an_entry(f"key {number}", title=f"Entry {number}") for number in range(1000)]
    feed = IcsWriter(HOST).write(a_garden(), kept, [])
    assert by_vobject(feed, tmp_path) == expected(kept)
