"""The feed as programs read it that nobody here wrote.

Parsers (vobject, ics.py, ical.js), terminal calendars (khal, calcurse), a
synchroniser (vdirsyncer over HTTP), a server with its client (Radicale,
caldav), a list of tasks (todoman). They must agree with our own reading on
count, identity, title, start and end. A program that is not installed is left
out and says so; six at least must be there.
"""

from __future__ import annotations

import importlib.util
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time
from pathlib import Path

import pytest
from hypothesis import given

from mebuki.agenda.entry import Entry, EntryStatus, Gone
from mebuki.domain.advice import Days
from mebuki.domain.feed import FeedChoice, FeedForm
from mebuki.domain.text import one_line
from mebuki.feeds.calendar import IcsWriter
from tests.builders import a_garden
from tests.feeds import programs
from tests.feeds.rich_feeds import FEEDS, HOST, Seen, expected, rich
from tests.feeds.strategies import entries

ENOUGH = 6


@dataclass(frozen=True)
class Program:
    """A program that reads feeds.

    Parameters
    ----------
    needs
        What must be installed: modules, or commands after a ``$``.
    feeds
        The feeds it is given; the slow ones get the small.
    identities
        Whether it keeps the identities of the feed; else it makes its own.
    """

    read: Callable[[bytes, Path], list[Seen]]
    needs: tuple[str, ...]
    feeds: tuple[str, ...] = tuple(FEEDS)
    identities: bool = True

    @property
    def missing(self) -> list[str]:
        """What of its needs is not there."""
        return [need for need in self.needs if not _there(need)]


def _there(need: str) -> bool:
    if need == "npm:ical.js":
        return (Path(sys.prefix) / "js" / "node_modules" / "ical.js").is_dir()
    if need.startswith("$"):
        return shutil.which(need[1:]) is not None
    return importlib.util.find_spec(need) is not None


SMALL = ("rich", "year")
PROGRAMS: Mapping[str, Program] = {
    "vobject": Program(programs.by_vobject, ("vobject",)),
    "khal": Program(programs.by_khal, ("khal",)),
    "vdirsyncer": Program(programs.by_vdirsyncer, ("vdirsyncer",), identities=False),
    "radicale": Program(programs.by_radicale, ("radicale", "caldav"), SMALL),
    "ics.py": Program(programs.by_ics_py, ("ics",), SMALL),
    "ical.js": Program(programs.by_ical_js, ("$node", "npm:ical.js")),
    "calcurse": Program(programs.by_calcurse, ("$calcurse",), identities=False),
}
CASES = [(name, feed) for name, program in PROGRAMS.items() for feed in program.feeds]


def test_at_least_six_programs_judge_the_feed() -> None:
    """Those that a machine lacks are named; with fewer than six the verdict would be too thin."""
    missing = {name: each.missing for name, each in PROGRAMS.items() if each.missing}
    tasks = 1 if _there("todoman") else 0
    assert len(PROGRAMS) - len(missing) + tasks >= ENOUGH, missing


@pytest.mark.parametrize(("name", "feed"), CASES)
def test_other_programs_see_the_same_events(name: str, feed: str, tmp_path: Path) -> None:
    """Both hemispheres, nights of the clocks, a year, a thousand, cancelled and revised ones."""
    program = PROGRAMS[name]
    if program.missing:
        pytest.skip(f"{name} is not installed here: {', '.join(program.missing)}")
    kept = FEEDS[feed]()
    seen = program.read(IcsWriter(HOST).write(a_garden(), kept, []), tmp_path)
    if program.identities:
        assert seen == expected(kept)
    else:
        assert len({each[0] for each in seen} - {""}) in (0, len(kept))
        assert sorted(each[1:] for each in seen) == sorted(each[1:] for each in expected(kept))


def test_a_list_of_tasks_is_read_alike(tmp_path: Path) -> None:
    """Title, due day or moment, and what is ticked off, as todoman shows them."""
    pytest.importorskip("todoman", reason="todoman is not installed here")
    kept = [replace(entry, gone=Gone.DONE) if entry.key == "a" else entry for entry in rich()]
    tasks = FeedChoice(form=FeedForm.TASKS)
    seen = programs.by_todoman(IcsWriter(HOST).write(a_garden(), kept, [], tasks), tmp_path)
    assert seen == sorted(
        (one_line(each.title), int(_due(each).timestamp()), 100 if each.gone else 0)
        for each in kept
    )


def _due(entry: Entry) -> datetime:
    if isinstance(entry.span, Days):
        return datetime.combine(entry.span.last, time(), UTC)
    return entry.span.begins


def test_a_synchroniser_follows_what_changes(tmp_path: Path) -> None:
    """A second version of the feed: the revised entry is there once, the dropped one is gone."""
    if PROGRAMS["vdirsyncer"].missing:
        pytest.skip("vdirsyncer is not installed here")
    first = rich()
    cancelled = replace(
        first[1], status=EntryStatus.CANCELLED, title=f"Cancelled: {first[1].title}", revision=1
    )
    versions = [
        IcsWriter(HOST).write(a_garden(), kept, []) for kept in (first, [*first[2:], cancelled])
    ]
    seen = programs.synchronised(versions, tmp_path)
    assert sorted(each[1:] for each in seen) == sorted(
        each[1:] for each in expected([*first[2:], cancelled])
    )


@given(entries())
def test_vobject_reads_any_text(kept: list[Entry]) -> None:
    """An independent parser finds the same events whatever people write."""
    feed = IcsWriter(HOST).write(a_garden(), kept, [])
    assert sorted(seen[0] for seen in programs.by_vobject(feed, Path())) == sorted(
        entry.uid.partition("@")[0] + "@" + HOST for entry in kept
    )
