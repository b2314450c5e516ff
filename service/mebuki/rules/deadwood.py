"""Deadwood: dry, warm days for carving, and how far a line may be widened.

Only taxa that bear deadwood, and only trees in training or with deadwood on record. It
begins thin and short and is widened over years, for a live vein that was cut away never
comes back; the shares of the girth stand in the practice file. The season runs from the
first growth, when bark parts from wood, until so long before the first frost that the
edges of the wound can close. Within it the forecast is searched for days that are warm
enough, with a dry day before and after; the advice names them and
stands for the whole season, so that it does not move with every forecast. Of treatment
only the caution and the weather are told, never a product or a dose.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity
from mebuki.domain.wording import count_text, dated, day_text, days_text, percent_text
from mebuki.rules.hazards import toxicity
from mebuki.rules.risk import LEVELS_MEDIAN, share_reason, span_reason, urgency_of_days

BEARS = ("yes", "partial")
"""How a taxon file begins where deadwood is made."""

NOON, EVENING = time(12), time(16)
"""Hours of a day in which the air must be warm (default)."""

DRY = 0.2
"""Rain [mm] in a whole spell below which it counts as dry (default)."""

YEAR = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Working:
    """What may still be cut, and when in the year."""

    season: int
    first: date
    last: date
    years: int
    widest: int


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the season of deadwood work on one tree, with the dry, warm days in sight."""
    if not _fit(case):
        return ()
    working = _working(case)
    return () if working is None else (_advice(case, working),)


def _fit(case: Case) -> bool:
    phrase = case.taxon.upkeep.deadwood
    if phrase is None or not phrase.value.lower().startswith(BEARS):
        return False
    carved = case.tree.last("deadwood-carved")
    if case.tree.development != "training" and carved is None:
        return False
    return carved is None or case.on - carved.on >= YEAR


def _working(case: Case) -> Working | None:
    """Return the season that holds the day, or none."""
    practice = case.rulebook.practice
    late = timedelta(weeks=practice.value("deadwood.heal_weeks"))
    frost = case.outlook.autumn_frost[LEVELS_MEDIAN] if case.outlook.autumn_frost else None
    for season, clock in sorted(case.outlook.growth):
        last = clock.ninety_percent
        if frost is not None and 0 < (frost - clock.ten_percent).days < YEAR.days:
            last = max(frost - late, clock.ten_percent)
        if clock.ten_percent <= case.on <= last:
            return Working(season, clock.ten_percent, last, _years(case), _widest(case))
    return None


def _years(case: Case) -> int:
    """Return in how many years deadwood was carved."""
    carved = (record for record in case.tree.records if record.kind == "deadwood-carved")
    return len({record.on.year for record in carved})


def _widest(case: Case) -> int:
    """Return in how many years a line reaches the least live vein, widened by the usual share."""
    practice = case.rulebook.practice
    dead = 1 - practice.value("deadwood.live_vein_share")
    return int(dead / practice.value("deadwood.widen_share_per_year") + 1e-9)


def _good_days(case: Case, working: Working) -> Iterator[date]:
    """Yield the days in sight that are warm at midday and dry for hours before and after."""
    hours, zone = case.outlook.hours, case.site.zone
    if hours is None:
        return
    practice = case.rulebook.practice
    around = round(practice.value("deadwood.dry_hours"))
    for day in (case.on + timedelta(days=ahead) for ahead in range(len(hours.air) // 24)):
        noon, evening = (
            _hour_of(datetime.combine(day, moment, zone), hours.begins)
            for moment in (NOON, EVENING)
        )
        air, rain = hours.air[noon:evening], hours.rain[noon - around : evening + around]
        seen = len(rain) == evening - noon + 2 * around and noon >= around
        warm = all(degrees >= practice.value("deadwood.air_minimum") for degrees in air)
        if seen and warm and sum(rain) < DRY and day <= working.last:
            yield day


def _hour_of(moment: datetime, begins: datetime) -> int:
    return max(int((moment - begins).total_seconds() // 3600), 0)


def _first_run(found: tuple[date, ...]) -> Days | None:
    if not found:
        return None
    last = found[0]
    for day in found[1:]:
        if day - last > timedelta(days=1):
            break
        last = day
    return Days(found[0], last)


def _advice(case: Case, working: Working) -> Advice:
    span = Days(working.first, working.last)
    return Advice(
        kind=CareKind.DEADWOOD,
        action="deadwood-season",
        tree=case.tree.id,
        cycle=str(working.season),
        span=span,
        fact=_fact(case, working),
        deed=_deed(working),
        urgency=urgency_of_days(case.on, span.first, span.last),
        severity=Severity.MINOR,
        certainty=Certainty.POSSIBLE,
        rule="deadwood R80 R81 R84",
        reasons=_reasons(case, working),
        cautions=("sharp-tools", "pesticides-and-preservatives", *toxicity(case)),
        blocked=_blocked(case),
    )


def _fact(case: Case, working: Working) -> str:
    run = _first_run(tuple(_good_days(case, working)))
    sight = days_text(run.first, run.last) if run else "none in sight"
    return f"{_how_far(working)}; dry, warm days: {sight}"


def _how_far(working: Working) -> str:
    if working.years == 0:
        return "no deadwood on record: begin thin and short, if the design wants it"
    if working.years >= working.widest:
        return "the live vein may be at its least: widen no further, only clean"
    return f"carved in {count_text(working.years, 'year')}: widen a little, if the design wants it"


def _deed(working: Working) -> str:
    if working.years >= working.widest:
        return "Brush the deadwood clean; leave the live vein whole."
    return (
        "Work on deadwood on dry, warm days, with a dry day before and after. Mark the live vein "
        "first and follow it; cut thin, and let it swell for a year before you widen the line."
    )


def _reasons(case: Case, working: Working) -> tuple[Reason, ...]:
    practice, carved = case.rulebook.practice, case.tree.last("deadwood-carved")
    phrase = case.taxon.upkeep.deadwood
    told = [
        Reason("last carved", dated(carved.on) if carved else "not on record", "your records"),
        share_reason("live vein at least", practice.figure("deadwood.live_vein_share")),
        share_reason(
            "widened in a year by at most", practice.figure("deadwood.widen_share_per_year")
        ),
        Reason(
            "season",
            f"{day_text(working.first)} to {day_text(working.last)}: growth closes the edges",
            "growth clock and past first frosts",
        ),
        span_reason("dry before and after", practice.figure("deadwood.dry_hours"), "hours"),
        span_reason("air at midday at least", practice.figure("deadwood.air_minimum"), "°C"),
        span_reason(
            "ends before the usual first frost by", practice.figure("deadwood.heal_weeks"), "weeks"
        ),
        span_reason(
            "not after repotting within",
            practice.figure("deadwood.after_repotting_weeks"),
            "weeks",
        ),
    ]
    if working.years:
        girth = percent_text(working.years * practice.value("deadwood.widen_share_per_year"))
        told.append(Reason("dead so far, at most", f"{girth} of the girth", "your records"))
    if phrase is not None:
        told.append(Reason("usual for this taxon", phrase.value, phrase.source))
    return tuple(told)


def _blocked(case: Case) -> str:
    if case.tree.vigour == "weak":
        return "the tree is weak: a live vein is not narrowed until it grows well"
    potted = case.tree.last("repotted")
    rest = timedelta(weeks=case.rulebook.practice.value("deadwood.after_repotting_weeks"))
    if potted is None or potted.on + rest <= case.on:
        return ""
    until = dated(potted.on + rest)
    return f"repotted on {dated(potted.on)}: the trunk is not worked on until {until}"
