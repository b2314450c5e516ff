"""A reader who polls every hour through a year: what they see change, and how often.

The default run takes a share of the days, and some days with a round every
three hours; ``./deploy/test long`` takes every day of 2013 and prints what a
reader sees change in each month.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from mebuki.clock import FixedClock
from mebuki.domain.advice import Days, Moments
from mebuki.domain.feed import WHOLE_FEED
from mebuki.feeds.calendar import IcsWriter
from mebuki.rounds.planned import Plan
from mebuki.rounds.prepare import Calendar as Feeds
from mebuki.rounds.prepare import prepare_feeds
from mebuki.storage.feed_rows import DatabaseFeedShelf, PreparedFeed
from mebuki.storage.migrate import open_database
from tests.fakes.clock import HandClock
from tests.journeys.gardens import Grounds, plans_on
from tests.journeys.year_of_rounds import EVERY_DAY, rounds, share
from tests.journeys.years import NEW_YORK_2013

pytestmark = pytest.mark.xdist_group("year")

HOUR = timedelta(hours=1)
MOST_A_MONTH = 90
"""New and changed entries that a reader may see in a month: three a day (set beforehand)."""

MOST_MOVES = 1.0
"""Moves of its dates that an entry may make in its life, on average (set beforehand)."""


@dataclass(frozen=True)
class Shown:
    """An event as a calendar program keeps it."""

    sequence: int
    modified: datetime
    span: tuple[str, str]
    content: bytes


@dataclass
class Reader:
    """A calendar program that polls and keeps account of what it sees.

    Parameters
    ----------
    polls, fetched
        How often it asked, and how often the feed was another.
    fresh, changed
        New and revised events by month.
    moves
        How often the dates of each event moved.
    gone
        Identities that left the feed.
    reborn
        Those of them that came back.
    """

    polls: int = 0
    fetched: int = 0
    etag: str = ""
    events: dict[str, Shown] = field(default_factory=dict)
    fresh: Counter[str] = field(default_factory=Counter)
    changed: Counter[str] = field(default_factory=Counter)
    moves: Counter[str] = field(default_factory=Counter)
    seen: set[str] = field(default_factory=set)
    gone: dict[str, Shown] = field(default_factory=dict)
    reborn: list[str] = field(default_factory=list)

    def poll(self, feed: PreparedFeed, month: str) -> None:
        """Ask once; the same tag is the same feed."""
        self.polls += 1
        if feed.etag == self.etag:
            return
        self.etag = feed.etag
        self.fetched += 1
        found = dict(_events(feed.content))
        for uid, event in found.items():
            self._compare(uid, event, month)
        self.gone |= {uid: self.events[uid] for uid in self.events.keys() - found.keys()}
        self.seen |= found.keys()
        self.events = found

    def _compare(self, uid: str, event: Shown, month: str) -> None:
        old = self.events.get(uid) or self.gone.get(uid)
        if uid not in self.events and uid in self.gone:
            self.reborn.append(event.content.decode())
        if old is None:
            self.fresh[month] += 1
        elif event.content != old.content:
            assert event.sequence > old.sequence, event
            assert event.modified > old.modified, event
            self.changed[month] += 1
            self.moves[uid] += event.span != old.span


def _events(feed: bytes) -> Iterator[tuple[str, Shown]]:
    read: list[Any] = list(Calendar.from_ical(feed).walk("VEVENT"))
    uids = [str(event["UID"]) for event in read]
    assert len(set(uids)) == len(uids)
    for uid, event in zip(uids, read, strict=True):
        start, end = (str(event[name].dt) for name in ("DTSTART", "DTEND"))
        yield (
            uid,
            Shown(
                int(str(event["SEQUENCE"])),
                event["LAST-MODIFIED"].dt,
                (start, end),
                event.to_ical(),
            ),
        )


def _lived(plans: list[Plan], folder: Path) -> Reader:
    """Publish the feed of each plan, and poll every hour until the next one."""
    reader, writer = Reader(), IcsWriter("garden.example")
    clock = HandClock(plans[0].at)
    with closing(open_database(folder / "mebuki.db")) as database:
        shelf = DatabaseFeedShelf(database, clock)
        token = shelf.issue(plans[0].garden.id, "ada")
        for plan, following in zip(plans, [*plans[1:], plans[-1]], strict=True):
            clock.moment = plan.at
            shelf.put(plan.garden.id, prepare_feeds(Feeds.of(plan), {}, writer)[WHOLE_FEED])
            for hour in range(max((following.at - plan.at) // HOUR, 1)):
                feed = shelf.read(token)
                assert isinstance(feed, PreparedFeed)
                reader.poll(feed, f"{plan.at + hour * HOUR:%Y-%m}")
    return reader


def _told(reader: Reader) -> dict[str, object]:
    months = sorted(reader.fresh | reader.changed)
    return {
        "polls": reader.polls,
        "feeds fetched": reader.fetched,
        "entries": len(reader.seen),
        "entries whose dates moved": sum(1 for count in reader.moves.values() if count),
        "moves of dates": reader.moves.total(),
        "most moves of one entry": max(reader.moves.values(), default=0),
        "came back": len(reader.reborn),
        "new and changed by month": {
            month: [reader.fresh[month], reader.changed[month]] for month in months
        },
    }


CASES = [
    pytest.param(share(), (7,), id="share"),
    pytest.param(
        tuple(date(2013, 3, 26) + timedelta(days=n) for n in range(4)), tuple(range(1, 24, 3)),
        id="every three hours",
    ),
    pytest.param(tuple(EVERY_DAY), (7,), id="every day", marks=pytest.mark.long),
]  # fmt: skip


@pytest.mark.parametrize(("days", "hours"), CASES)
def test_a_year_of_hourly_polls(
    days: tuple[date, ...],
    hours: tuple[int, ...],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """No identity twice, none that vanishes and comes back; dates move seldom, changes are few."""
    reader = _lived(rounds(days, hours).plans, tmp_path)
    told = _told(reader)
    with capsys.disabled():
        sys.stdout.write(f"\n{json.dumps(told, ensure_ascii=False)}\n")
    assert reader.polls > len(days) * len(hours)
    assert reader.reborn == []
    assert max((reader.fresh + reader.changed).values()) <= MOST_A_MONTH, told
    assert reader.moves.total() <= MOST_MOVES * len(reader.seen), told


def test_hourly_polls_between_rounds_see_the_same_bytes(tmp_path: Path) -> None:
    """Nothing of a feed comes from the hour at which it is asked for."""
    with closing(open_database(tmp_path / "mebuki.db")) as database:
        plans = rounds(share(), (7,)).plans[:2]
        shelf = DatabaseFeedShelf(database, FixedClock(plans[0].at))
        token = shelf.issue(plans[0].garden.id, "ada")
        for plan in (plans[0], plans[0], plans[1]):
            feeds = prepare_feeds(Feeds.of(plan), {}, IcsWriter("garden.example"))
            shelf.put(plan.garden.id, feeds[WHOLE_FEED])
        first = shelf.read(token)
        assert first == shelf.read(token)


SAMPLED = tuple(
    date(2013, month, day)
    for month, day in ((1, 20), (4, 2), (4, 26), (5, 26), (7, 7), (9, 24), (12, 14))
)
"""Days of each part of the year, most of them in the spring rush."""

HANDFUL, MOST_BARS, MOST_NIGHTS = 5, 9, 2
"""All-day entries that begin on a day and that cover it, and timed ones that begin on it."""


def test_a_large_garden_is_not_flooded_on_any_day(tmp_path: Path) -> None:
    """Every taxon in three pots in four places, nothing done: a calendar one can still read."""
    for plan in plans_on(Grounds(NEW_YORK_2013), tmp_path, iter(SAMPLED)):
        assert len(plan.garden.trees) > 150
        assert len(plan.garden.places) == 4
        spans = [each.span for each in plan.shown]
        bars = [each for each in spans if isinstance(each, Days)]
        zone = plan.garden.site.zone
        nights = [
            each.begins.astimezone(zone).date() for each in spans if isinstance(each, Moments)
        ]
        told = (plan.on, [each.title for each in plan.shown])
        assert sum(bar.first == plan.on for bar in bars) <= HANDFUL, told
        assert sum(bar.first <= plan.on <= bar.last for bar in bars) <= MOST_BARS, told
        assert nights.count(plan.on) <= MOST_NIGHTS, told
