"""A past season again, day by day: what our notices would have said, against what came.

The rounds see the weather only as it was known or forecast then, and plan as they
always do; afterwards each call to act is judged by the measured night.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from mebuki.agenda.entry import Notice, NoticeStep, Published
from mebuki.agenda.judged import Call, Judgement, TreeNight, call_of, judge, median_lead, table_of
from mebuki.domain.advice import CareKind
from mebuki.domain.garden import Caution, Garden, Subscriber
from mebuki.domain.weather import Floats
from mebuki.rounds.cases import Rules
from mebuki.rounds.forecast_memory import ForecastMemory
from mebuki.rounds.harm import tree_nights
from mebuki.rounds.look import look
from mebuki.rounds.plan import plan_garden
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import WeatherSource
from mebuki.rules.risk import NOTICE_LEVELS
from mebuki.season.night_minima import night_forecasts
from mebuki.season.scores import Contingency, best_threshold, relative_value

LOOK_BACK = timedelta(days=2)
"""How long after the last evening the season is looked back at."""


@dataclass(frozen=True, slots=True)
class Season:
    """The evenings to be gone through, and the local hours of each day's rounds.

    ``learning`` says how many nights before the first taught how good the forecasts
    are, and that the season goes on teaching; 0 for rounds that learn nothing.
    """

    first: date
    last: date
    hours: tuple[int, ...] = (7,)
    learning: int = 0

    @property
    def days(self) -> tuple[date, ...]:
        """Every local day."""
        count = (self.last - self.first).days + 1
        return tuple(self.first + timedelta(days=ahead) for ahead in range(count))


@dataclass(frozen=True, slots=True)
class Hindcast:
    """What one replayed season told, and what it brought.

    Parameters
    ----------
    nights
        Every night of every tree that frost could harm.
    calls
        Every call to act, of all levels.
    mails
        Everything told outside the digest, with the local day of the round.
    chances
        The highest chance of harm [0..1] that the rounds of a day saw for the night
        that began on it, by tree and evening; left out where it was next to nothing.
    """

    nights: tuple[TreeNight, ...]
    calls: tuple[Call, ...]
    mails: tuple[tuple[date, Notice], ...]
    chances: Mapping[tuple[str, date], float]

    def pairs(self) -> Floats:
        """Return two rows, a column for each night: whether it harmed (0 or 1), and the chance."""
        chances = [self.chances.get((night.tree, night.evening), 0.0) for night in self.nights]
        return np.array([[float(night.harmed) for night in self.nights], chances])

    def judged(self, level: Caution) -> tuple[Judgement, ...]:
        """Return the verdict on every night for the readers of a level."""
        return judge(self.nights, self.calls, level)


@dataclass(frozen=True, slots=True)
class LevelScore:
    """What a level would have meant over some replayed seasons.

    Parameters
    ----------
    cost_loss
        The ratio of cost and loss that the level stands for.
    value, best_value
        Relative economic value of our notices, and of the fixed threshold that was
        best with hindsight on the same forecasts; NaN where nothing can be said.
    best_threshold
        That threshold [0..1].
    each_best
        Mean of the best values when every season may choose a threshold of its own.
    lead_hours
        Median time from a call that was right to the coldest moment [h].
    calls, mails
        Nights with a call, and all mails outside the digest, of all seasons.
    """

    level: Caution
    cost_loss: float
    table: Contingency
    value: float
    best_value: float
    best_threshold: float
    each_best: float
    lead_hours: float | None
    calls: int
    mails: int

    @property
    def share(self) -> float:
        """Our value over the best one."""
        return self.value / self.best_value if self.best_value else float("nan")


def replayed(garden: Garden, rules: Rules, source: WeatherSource, season: Season) -> Iterator[Plan]:
    """Yield the plans of a season's rounds in order, each knowing what was told before.

    Notices are made for all levels, digests for nobody.
    """
    people = tuple(
        Subscriber(name=level, email=f"{level}@example.org", notice_level=level)
        for level in NOTICE_LEVELS
    )
    told = garden.model_copy(update={"subscribers": people})
    before = Published.nothing()
    past = _taught(garden, source, season)
    for day in season.days:
        for hour in season.hours:
            picture = look(source, garden.site, garden.site.moment(day, hour), past, garden.id)
            if past is not None:
                past.remember(garden.id, night_forecasts(picture))
            plan = plan_garden(
                told, rules.taxa, rules.rulebook, picture, before, day, digest_hours=frozenset()
            )
            before = plan.published(before)
            yield plan


def _taught(garden: Garden, source: WeatherSource, season: Season) -> ForecastMemory | None:
    """Return the forecasts of the nights before a season; none if nothing is learned."""
    if not season.learning:
        return None
    past = ForecastMemory()
    for back in range(season.learning, 0, -1):
        at = garden.site.moment(season.first - timedelta(days=back), season.hours[0])
        past.remember(garden.id, night_forecasts(look(source, garden.site, at)))
    return past


def hindcast(
    garden: Garden, rules: Rules, source: WeatherSource, season: Season
) -> Iterator[Plan | Hindcast]:
    """Yield each plan of a replayed season as it is made, and at last the hindcast.

    Raises
    ------
    mebuki.errors.InputError
        If a day lies outside what the source can ever know.
    """
    calls: list[Call] = []
    mails: list[tuple[date, Notice]] = []
    chances: dict[tuple[str, date], float] = {}
    for plan in replayed(garden, rules, source, season):
        yield plan
        mails += [(plan.on, each) for each in plan.notices if each.step is not NoticeStep.DIGEST]
        found = (call_of(notice, plan.situation) for notice in plan.notices)
        calls += [call for call in found if call is not None]
        for each in plan.advice:
            if each.kind is CareKind.FROST and each.cycle == plan.on.isoformat():
                place = (each.tree, plan.on)
                chances[place] = max(chances.get(place, 0.0), each.probability or 0.0)
    measured = look(source, garden.site, garden.site.moment(season.last + LOOK_BACK, 12))
    nights = tree_nights(garden, rules, measured, season.days)
    yield Hindcast(nights, tuple(calls), tuple(mails), chances)


def level_scores(
    seasons: Sequence[Hindcast], cost_loss: Mapping[Caution, float]
) -> tuple[LevelScore, ...]:
    """Return what each level would have meant, over all replayed seasons together.

    Parameters
    ----------
    cost_loss
        The ratio that each level stands for.
    """
    return tuple(_score(seasons, level, ratio) for level, ratio in cost_loss.items())


def _score(seasons: Sequence[Hindcast], level: Caution, cost_loss: float) -> LevelScore:
    judged = [verdict for season in seasons for verdict in season.judged(level)]
    table = table_of(judged)
    pairs = [season.pairs() for season in seasons]
    events, chances = np.concatenate(pairs, axis=1) if pairs else np.empty((2, 0))
    threshold, best = best_threshold(events, chances, cost_loss)
    own = [best_threshold(pair[0], pair[1], cost_loss)[1] for pair in pairs]
    known = [value for value in own if np.isfinite(value)]
    mails = [notice for season in seasons for _, notice in season.mails if notice.level == level]
    return LevelScore(
        level=level,
        cost_loss=cost_loss,
        table=table,
        value=relative_value(table, cost_loss),
        best_value=best,
        best_threshold=threshold,
        each_best=float(np.mean(known)) if known else float("nan"),
        lead_hours=median_lead(judged),
        calls=sum(1 for season in seasons for call in season.calls if call.level == level),
        mails=len(mails),
    )
