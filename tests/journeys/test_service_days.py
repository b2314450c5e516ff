"""Days of the service under a clock moved by hand end as the same rounds run one by one.

On one side the service: a database, a schedule, a mailer and a mail server on
loopback. On the other ``mebuki round`` into a folder, day by day. Mails and feeds
must be the same, byte for byte. The default run takes days round the turn of
clocks and the spring frosts; ``./deploy/test long`` takes the whole year 2013.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from email import message_from_bytes
from pathlib import Path

import pytest

from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.bootstrap import Inputs, demo_inputs, exits, run_round
from mebuki.domain.garden import Garden, Subscriber
from mebuki.errors import WeatherError
from mebuki.mail.compose import MailWriter
from mebuki.mail.links import SignedLinks, Signer
from mebuki.storage.feed_rows import DatabaseFeedShelf, PreparedFeed
from tests.journeys.steady import content_of, mailer_for
from tests.mail.smtp_sink import SmtpSink
from tests.schedule.benches import Stage, a_small_garden, a_stage, settings_for

HOUR = 7
SHORT = [date(2013, 3, 6) + timedelta(days=n) for n in range(8)]
LONG = [date(2013, 1, 1) + timedelta(days=n) for n in range(364)]


@dataclass(frozen=True, slots=True)
class Left:
    """What days left behind: the feed of each day, and all mails by their identity."""

    feeds: tuple[bytes, ...]
    mails: Counter[tuple[str, bytes]]


def _garden() -> Garden:
    garden = a_small_garden()
    people = tuple(each.model_copy(update={"digest_hour": HOUR}) for each in garden.subscribers)
    return garden.model_copy(
        update={"subscribers": people, "trees": demo_inputs().garden.trees[:8]}
    )


def _moment(garden: Garden, day: date) -> datetime:
    return datetime.combine(day, time(HOUR), garden.site.zone).astimezone(UTC)


class _LinksOfTheHour(SignedLinks):
    """Links as the service makes them: a round by hand does not know a digest by its hour."""

    def see(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        return super().see(garden, _of_the_hour(notice), to)

    def record(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        return super().record(garden, _of_the_hour(notice), to)

    def scores(self, garden: Garden, notice: Notice, to: Subscriber) -> str:
        return super().scores(garden, _of_the_hour(notice), to)


def _of_the_hour(notice: Notice) -> Notice:
    return replace(notice, digest_hour=HOUR) if notice.step is NoticeStep.DIGEST else notice


def _by_rounds(days: list[date], folder: Path) -> Left:
    demo, garden = demo_inputs(), _garden()
    inputs = Inputs(garden, demo.taxa, demo.rulebook, demo.weather)
    feeds, mails = [], Counter[tuple[str, bytes]]()
    for day in days:
        settings = settings_for(folder)
        ways = exits(settings, folder, keep_state=True)
        links = _LinksOfTheHour(settings.base_url, Signer(settings.link_secret))
        letters = MailWriter(settings.sender, settings.host_name, links)
        ways = replace(ways, letters=letters)
        done = run_round(inputs, day, _moment(garden, day), ways, folder)
        feeds.append(done.feed.read_bytes())
    for file in folder.glob("*.eml"):
        mails[content_of(file.read_bytes())] += 1
    return Left(tuple(feeds), mails)


def _by_service(days: list[date], folder: Path) -> Left:
    garden = _garden()
    start = _moment(garden, days[0])
    with SmtpSink() as sink:
        stage = a_stage(
            folder, start, [garden], mailer_for(sink.port),
            round_every_hours=0, cold_round_every_hours=0,
        )  # fmt: skip
        token = DatabaseFeedShelf(stage.database, stage.clock).issue(garden.id, "reader")
        feeds = [_one_day(stage, garden, day, token) for day in days]
        stage.database.close()
        mails = Counter(content_of(one.content) for one in sink.received)
    return Left(tuple(feeds), mails)


def _one_day(stage: Stage, garden: Garden, day: date, token: str) -> bytes:
    """Tick a few times about the hour, as a clock that is sometimes late does."""
    for minutes in (0, 1, 25, 40):
        stage.clock.moment = _moment(garden, day) + timedelta(minutes=minutes)
        stage.service.run_due()
        asyncio.run(stage.service.deliver_due())
    feed = DatabaseFeedShelf(stage.database, stage.clock).read(token)
    assert isinstance(feed, PreparedFeed)
    return feed.content


@pytest.mark.parametrize(
    "days", [SHORT, pytest.param(LONG, marks=pytest.mark.long)], ids=["days", "year"]
)
def test_the_service_ends_as_rounds_run_one_by_one(days: list[date], tmp_path: Path) -> None:
    """The same mails, each once, and the same feed on every day."""
    one_by_one = _by_rounds(days, tmp_path / "rounds")
    service = _by_service(days, tmp_path)
    assert service.mails == one_by_one.mails
    assert set(service.mails.values()) == {1}
    assert len(service.mails) >= len(days)
    for day, ours, theirs in zip(days, service.feeds, one_by_one.feeds, strict=True):
        assert ours == theirs, day


def test_seven_days_without_a_provider_are_told_once_and_nothing_is_called_over(
    tmp_path: Path,
) -> None:
    """Blind is told once, the feed says it each day, *over* waits until sight is back."""
    garden = _garden()
    start = _moment(garden, date(2013, 3, 20))
    with SmtpSink() as sink:
        stage = a_stage(tmp_path, start, [garden], mailer_for(sink.port))
        _live(stage, timedelta(days=2))
        seen = len(sink.received)
        stage.weather.fails = WeatherError("the provider is down")
        _live(stage, timedelta(days=7))
        blind = [_subject(one.content) for one in sink.received[seen:]]
        stage.weather.fails = None
        _live(stage, timedelta(days=1))
        stage.database.close()
    told = Counter(subject for subject in blind if "cannot be seen" in subject)
    people = len(garden.subscribers)
    assert list(told.values()) == [people]
    assert not [subject for subject in blind if "past" in subject or "no danger now" in subject]


def _live(stage: Stage, span: timedelta) -> None:
    end = stage.clock.now() + span
    while stage.clock.now() < end:
        stage.service.run_due()
        asyncio.run(stage.service.deliver_due())
        stage.clock.on(timedelta(hours=1))


def _subject(content: bytes) -> str:
    return str(message_from_bytes(content)["Subject"])


def test_mail_that_is_down_for_a_day_loses_and_doubles_nothing(tmp_path: Path) -> None:
    """Letters wait; those that are still of use go out when the server is back, each once."""
    garden = _garden()
    start = _moment(garden, date(2013, 3, 20))
    sink = SmtpSink()
    with sink:
        port = sink.port
    stage = a_stage(tmp_path, start, [garden], mailer_for(port))
    _live(stage, timedelta(days=1))
    assert stage.heard.sent == 0
    with SmtpSink(port=port) as back:
        _live(stage, timedelta(hours=6))
        counts = Counter(content_of(one.content) for one in back.received)
    stage.database.close()
    assert counts
    assert set(counts.values()) == {1}
