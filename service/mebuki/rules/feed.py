"""Feeding: when the season of it begins and ends, and what stops it.

The season begins some weeks after bud break, as the taxon file says, and ends some
weeks before the usual first frost, for late soft growth is not hardy; tropical trees
are fed while they grow. It waits after repotting and after the cutting of candles.
Nothing is fed to a weak tree, on a dry or frozen root ball, or in heat: roots under
stress take nothing up and salts hurt them. There is one entry for the season of a kind
of tree and one for its end, not one a day.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity
from mebuki.domain.figure import Figure
from mebuki.domain.outlook import Milestone
from mebuki.domain.tree import RecordKind
from mebuki.domain.wording import dated, day_text, number_text, temperature_text
from mebuki.rules.risk import LEVELS_MEDIAN, span_reason, urgency_of_days

EARLY_WEEKS = 2
"""Weeks after bud break up to which a taxon counts among those fed early (default)."""

SEASON_DAYS = 330


@dataclass(frozen=True, slots=True)
class Season:
    """The days of one season between which a tree may be fed, and what they rest on."""

    season: int
    first: date
    last: date
    reasons: tuple[Reason, ...]


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the feeding season of one tree, and its end when that is near."""
    season = _season(case)
    if season is None:
        return ()
    told = timedelta(days=case.rulebook.practice.value("feed.last_days"))
    ends = season.last - told
    found = [_in_season(case, season)]
    if case.on >= ends - told and case.tree.vigour != "weak":
        found.append(_end(case, season, ends))
    return tuple(found)


def _season(case: Case) -> Season | None:
    """Return the first season that is not over."""
    for number in sorted({season for season, _ in case.outlook.growth}):
        season = _tropical(case, number) if case.taxon.group == "tropical" else _hardy(case, number)
        if season is None:
            continue
        season = _paused(case, season)
        if case.on <= season.last and season.first <= season.last:
            return season
    return None


def _hardy(case: Case, number: int) -> Season | None:
    opens = case.outlook.stage(Milestone.BREAK, number)
    start, stop = case.taxon.upkeep.feed_start_weeks, _stop(case)
    points = case.outlook.autumn_frost
    frost = points[LEVELS_MEDIAN] if points else None
    if opens is None or opens.likely is None or start is None:
        return None
    clock = case.outlook.growth_clock(number)
    if frost is not None and 0 < (frost - opens.likely).days < SEASON_DAYS:
        last = frost - timedelta(weeks=stop.value)
        ends: tuple[Reason, ...] = (
            span_reason("ends before the usual first frost by", stop, "weeks"),
        )
    elif clock is not None:
        # no first frost can be told for it: the season ends with growth
        last, ends = clock.ninety_percent, (Reason("ends", "with the growth", "growth clock"),)
    else:
        return None
    first = opens.likely + timedelta(weeks=start.value)
    rest = _rest(case, number)
    if rest is not None and rest < last:
        last, ends = rest, _rest_reasons(case)
    begins = span_reason("begins after bud break by", start, "weeks")
    return Season(number, first, last, (begins, *ends))


def _rest(case: Case, number: int) -> date | None:
    """Return when a tree comes to rest, also where frost is kept out: colour, or slow growth."""
    if case.taxon.deciduous:
        found = (
            case.outlook.stage(each, number) for each in (Milestone.COLOUR, Milestone.LEAF_FALL)
        )
        return next((stage.likely for stage in found if stage and stage.likely), None)
    clock = case.outlook.growth_clock(number)
    after = timedelta(days=case.rulebook.practice.value("feed.after_growth_days"))
    return None if clock is None else clock.ninety_percent + after


def _rest_reasons(case: Case) -> tuple[Reason, ...]:
    told = Reason("ends", "as the tree comes to rest", "season model")
    if case.taxon.deciduous:
        return (told,)
    after = case.rulebook.practice.figure("feed.after_growth_days")
    return (told, span_reason("at rest after nine tenths of its growth by", after, "days"))


def _tropical(case: Case, number: int) -> Season | None:
    clock = case.outlook.growth_clock(number)
    if clock is None:
        return None
    told = Reason("fed while it grows", clock.basis, "growth clock")
    return Season(number, clock.ten_percent, clock.ninety_percent, (told,))


def _stop(case: Case) -> Figure:
    own = case.taxon.upkeep.feed_stop_weeks
    return own or case.rulebook.practice.figure("feed.stop_weeks_before_frost")


def _paused(case: Case, season: Season) -> Season:
    """Return the season begun later where roots or a second flush must settle first."""
    practice = case.rulebook.practice
    pauses: tuple[tuple[RecordKind, Figure], ...] = (
        ("repotted", practice.figure("repot.feed_pause_weeks")),
        ("decandled", practice.figure("feed.decandled_pause_weeks")),
    )
    for kind, pause in pauses:
        record = case.tree.last(kind)
        if record is None:
            continue
        until = record.on + timedelta(weeks=pause.value)
        if season.first < until:
            told = Reason(kind, f"{dated(record.on)}: no feed until {dated(until)}", pause.source)
            season = replace(season, first=until, reasons=(*season.reasons, told))
    return season


def _in_season(case: Case, season: Season) -> Advice:
    note = case.taxon.upkeep.feed_note
    return _advice(
        case,
        season,
        "feed-season",
        Days(season.first, season.last),
        note.value if note else "while it grows",
        "Feed on moist soil, by the label of your feed and rather less than more; never on a dry "
        "or frozen root ball, in heat, or to a tree that is ill.",
    )


def _end(case: Case, season: Season, ends: date) -> Advice:
    return _advice(
        case,
        season,
        "feed-stop",
        Days(max(ends, season.first), season.last),
        f"last feed by {day_text(season.last)}",
        "Give the last feed in these days, low in nitrogen: what grows soft now is not hardy in "
        "time.",
    )


def _advice(case: Case, season: Season, action: str, span: Days, fact: str, deed: str) -> Advice:
    practice = case.rulebook.practice
    heat = practice.figure("feed.heat_limit")
    return Advice(
        kind=CareKind.FEED,
        action=action,
        tree=case.tree.id,
        cycle=f"{season.season}/{_part(case)}",
        span=span,
        fact=fact,
        deed=deed,
        urgency=urgency_of_days(case.on, span.first, span.last),
        severity=Severity.MINOR,
        certainty=Certainty.POSSIBLE,
        rule="feed R24 R70 R71 R72",
        reasons=(
            *season.reasons,
            span_reason("not on days hotter than", heat, "°C"),
            span_reason("days looked at for heat", practice.figure("feed.heat_days"), "days"),
            span_reason("the end is told ahead by", practice.figure("feed.last_days"), "days"),
        ),
        blocked=_blocked(case, span) if action == "feed-season" else "",
    )


def _part(case: Case) -> str:
    """Return which trees are fed together: early ones, late ones, those of warm nights."""
    if case.taxon.group == "tropical":
        return "warm"
    start = case.taxon.upkeep.feed_start_weeks
    return "early" if start is None or start.value <= EARLY_WEEKS else "late"


def _blocked(case: Case, span: Days) -> str:
    if case.tree.vigour == "weak":
        return "the tree is weak: no feed until it grows well again"
    if not span.first <= case.on <= span.last:
        return ""
    today = next((water for water in case.outlook.water if water.day == case.on), None)
    if today is not None and today.frozen:
        return "the root ball is frozen: no feed until it has thawed"
    hot = max(_heat(case), default=None)
    limit = case.rulebook.practice.value("feed.heat_limit")
    if hot is not None and hot > limit:
        return f"{temperature_text(hot, 0)} expected: no feed above {number_text(limit)} °C"
    if today is not None and today.share_morning <= 0:
        return "the root ball is dry: water first, feed the day after"
    return ""


def _heat(case: Case) -> Iterator[float]:
    """Yield the air temperatures [°C] of today and the next days at the place of the tree."""
    hours, zone = case.outlook.hours, case.site.zone
    if hours is None:
        return
    last = case.on + timedelta(days=case.rulebook.practice.value("feed.heat_days") - 1)
    for count, air in enumerate(hours.air):
        day = (hours.begins + timedelta(hours=count)).astimezone(zone).date()
        if case.on <= day <= last and not math.isnan(air):
            yield air
