"""How the service is, judged from a few facts; without names of gardens or people."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Final

from mebuki import __version__
from mebuki.domain.weather import BLIND_HOURS, FRESH_HOURS

STALE: Final = timedelta(hours=FRESH_HOURS)
BLIND: Final = timedelta(hours=BLIND_HOURS)
"""Age from which weather is marked as stale, and from which it counts as none."""

BLIND_SHARE: Final = 0.5
"""From this share of blind gardens on, the service as a whole is blind (design default)."""

START_UP: Final = timedelta(minutes=15)
"""How long after a start weather and first rounds may be wanting."""

OUTBOX_STUCK: Final = timedelta(hours=1)
ROUND_GRACE: Final = timedelta(minutes=30)
"""How late a round may be beyond twice its interval (design default)."""


class Status(StrEnum):
    """How the service is in one word."""

    OK = "ok"
    STARTING = "starting"
    DEGRADED = "degraded"
    BLIND = "blind"


@dataclass(frozen=True, slots=True)
class WeatherFacts:
    """How far all gardens together can see.

    Parameters
    ----------
    gardens, without
        How many there are, and how many of them never had weather.
    newest, oldest
        The newest and the oldest weather among them.
    stale, blind
        How many have weather older than 6 h (blind ones not among them), and
        how many older than 24 h or otherwise useless; ``without`` is apart.
    failed
        How many could not be worked on in their last round.
    """

    gardens: int = 0
    without: int = 0
    newest: datetime | None = None
    oldest: datetime | None = None
    stale: int = 0
    blind: int = 0
    failed: int = 0


@dataclass(frozen=True, slots=True)
class RoundFacts:
    """The rounds of one kind.

    Parameters
    ----------
    finished
        The end of the last one; None if there was none.
    every
        The interval; None for rounds that nobody waits for.
    """

    kind: str
    finished: datetime | None
    every: timedelta | None = None


@dataclass(frozen=True, slots=True)
class OutboxFacts:
    """Letters: how many wait, since when the oldest, how many were given up."""

    waiting: int = 0
    oldest: datetime | None = None
    given_up: int = 0


@dataclass(frozen=True, slots=True)
class BeatFacts:
    """The heartbeat: ``off``, ``waiting``, ``sent``, ``held`` or ``failed``, and since when."""

    state: str = "off"
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """All that the judgement rests on.

    Parameters
    ----------
    schema
        The version of the database; empty if there is none.
    started
        When the service began.
    """

    schema: str
    started: datetime
    weather: WeatherFacts = field(default_factory=WeatherFacts)
    rounds: Sequence[RoundFacts] = ()
    outbox: OutboxFacts = field(default_factory=OutboxFacts)
    heartbeat: BeatFacts = field(default_factory=BeatFacts)


@dataclass(frozen=True, slots=True)
class WeatherHealth:
    """Weather by count and age [s]; see `WeatherFacts`."""

    gardens: int
    without: int
    newest_age: int | None
    oldest_age: int | None
    stale: int
    blind: int
    failed: int


@dataclass(frozen=True, slots=True)
class RoundHealth:
    """Rounds of one kind: the end of the last one, its age [s], whether the next is overdue."""

    kind: str
    finished: datetime | None
    age: int | None
    overdue: bool


@dataclass(frozen=True, slots=True)
class OutboxHealth:
    """Letters: how many wait, the age of the oldest [s], how many were given up."""

    waiting: int
    oldest_age: int | None
    given_up: int


@dataclass(frozen=True, slots=True)
class Health:
    """How the service is.

    Parameters
    ----------
    healthy
        False if it cannot do what it is for: it is blind, or rounds are overdue.
    reasons
        What is wrong, in words; empty while all is well.
    """

    status: Status
    healthy: bool
    reasons: tuple[str, ...]
    at: datetime
    version: str
    schema: str
    weather: WeatherHealth
    rounds: tuple[RoundHealth, ...]
    outbox: OutboxHealth
    heartbeat: BeatFacts

    def as_json(self) -> bytes:
        """Return all of it as JSON: moments in ISO 8601 and UTC, ages in whole seconds."""
        return json.dumps(asdict(self), default=_plain, ensure_ascii=False, indent=1).encode()


def weather_facts(
    moments: Iterable[datetime | None], now: datetime, failed: int = 0
) -> WeatherFacts:
    """Return the facts of weather that reaches to these moments, one a garden or weather cell."""
    known, without = [], 0
    for moment in moments:
        if moment is None:
            without += 1
        else:
            known.append(moment)
    blind = sum(now - moment >= BLIND for moment in known)
    return WeatherFacts(
        gardens=len(known) + without,
        without=without,
        newest=max(known, default=None),
        oldest=min(known, default=None),
        stale=sum(now - moment >= STALE for moment in known) - blind,
        blind=blind,
        failed=failed,
    )


def judge(facts: Facts, now: datetime) -> Health:
    """Return how the service is at a moment.

    Blind means that half of the gardens or more have no usable weather; one that
    cannot see, or fails, only degrades the rest. For `START_UP` after a start,
    weather and rounds that never were are waited for. A moment in the future (a
    clock that was set back) counts as now.
    """
    starting = now - facts.started < START_UP
    weather, outbox = facts.weather, facts.outbox
    rounds = tuple(_round(one, facts.started, now) for one in facts.rounds)
    dark = weather.blind + (0 if starting else weather.without)
    blind = bool(weather.gardens) and dark >= BLIND_SHARE * weather.gardens
    overdue = [one.kind for one in rounds if one.overdue]
    oldest_letter = _age(outbox.oldest, now)
    reasons = [
        *([f"{_gardens(dark)} without usable weather"] if dark else []),
        *([f"{_gardens(weather.stale)} with weather older than 6 h"] if weather.stale else []),
        *([f"{_gardens(weather.failed)} failed in the last round"] if weather.failed else []),
        *(f"the {kind} rounds are overdue" for kind in overdue),
    ]
    if oldest_letter is not None and oldest_letter >= OUTBOX_STUCK.total_seconds():
        reasons.append("a letter has waited for an hour or longer")
    waited_for = starting and (
        weather.without > 0
        or any(one.finished is None and one.every is not None for one in facts.rounds)
    )
    return Health(
        status=_status(blind=blind, wrong=bool(reasons), starting=waited_for),
        healthy=not blind and not overdue,
        reasons=tuple(reasons),
        at=now.astimezone(UTC),
        version=__version__,
        schema=facts.schema,
        weather=WeatherHealth(
            gardens=weather.gardens,
            without=weather.without,
            newest_age=_age(weather.newest, now),
            oldest_age=_age(weather.oldest, now),
            stale=weather.stale,
            blind=weather.blind,
            failed=weather.failed,
        ),
        rounds=rounds,
        outbox=OutboxHealth(outbox.waiting, oldest_letter, outbox.given_up),
        heartbeat=facts.heartbeat,
    )


def _status(*, blind: bool, wrong: bool, starting: bool) -> Status:
    if blind:
        return Status.BLIND
    if wrong:
        return Status.DEGRADED
    return Status.STARTING if starting else Status.OK


def _round(facts: RoundFacts, started: datetime, now: datetime) -> RoundHealth:
    age = _age(facts.finished, now)
    since = facts.finished or started
    late = facts.every is not None and now - since > 2 * facts.every + ROUND_GRACE
    return RoundHealth(facts.kind, facts.finished, age, late)


def _age(moment: datetime | None, now: datetime) -> int | None:
    return None if moment is None else max(int((now - moment).total_seconds()), 0)


def _gardens(count: int) -> str:
    return "1 garden" if count == 1 else f"{count} gardens"


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    raise TypeError(type(value).__name__)
