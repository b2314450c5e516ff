"""Observations: what the keeper could look at that would teach the models most.

Three things are asked for, where the models are least sure. The first open bud, where
its spread is wide and the tree is due for repotting or prized. A minimum thermometer on
a clear calm night in the frost season, when the garden differs most from the forecast.
A weighing of a pot whose daily use is least sure. Each request carries a weight; the
agenda keeps the heaviest, two a week at most.
"""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import (
    Advice,
    CareKind,
    Case,
    Certainty,
    Days,
    Reason,
    Severity,
    Urgency,
)
from mebuki.domain.outlook import Milestone, Night, StageOutlook
from mebuki.domain.tree import RecordKind
from mebuki.domain.wording import count_text, dated, day_text, temperature_text
from mebuki.rules.risk import share_reason, span_reason

YEAR_DAYS = 365.25
PRIZED_WEIGHT = 1.5
"""How much more a prized tree is worth a look (default)."""

SEEN: tuple[RecordKind, ...] = ("bud-break-seen", "leaves-open-seen")
"""Records that answer the question about the first open bud."""

SPRING_DAYS = 120
"""Days before the likely first open bud from which such a record belongs to this spring."""


def advise(case: Case) -> tuple[Advice, ...]:
    """Return what is worth looking at on one tree today."""
    found = (_buds(case), _minimum(case), _weigh(case))
    return tuple(advice for advice in found if advice is not None)


def week_of(day: date) -> str:
    """Return the week of a day as in ISO 8601.

    >>> week_of(date(2013, 3, 27))
    '2013-W13'
    """
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def _buds(case: Case) -> Advice | None:
    stage = case.outlook.stage(Milestone.FIRST_OPEN, case.outlook.season)
    if stage is None or not (case.tree.value == "prized" or _due(case)):
        return None
    early, likely, late = stage.earliest, stage.likely, stage.latest
    if early is None or likely is None or late is None or _seen(case, likely):
        return None
    practice = case.rulebook.practice
    wide = practice.figure("observe.bud_spread_days")
    ahead = practice.figure("observe.bud_lead_days")
    lead = timedelta(days=ahead.value)
    spread = (late - early).days
    if spread < wide.value or not early - lead <= case.on <= late:
        return None
    return _ask(
        case,
        "observe-buds",
        f"first bud open between {day_text(early)} and {day_text(late)}: is one open?",
        "Look at the buds, and write down whether they are closed, swollen or open.",
        spread * (PRIZED_WEIGHT if case.tree.value == "prized" else 1.0),
        (
            _spread_reason(stage),
            span_reason("asked for from a spread of", wide, "days"),
            span_reason("and before its early date by", ahead, "days"),
        ),
    )


def _spread_reason(stage: StageOutlook) -> Reason:
    early, late = stage.earliest, stage.latest
    days = (late - early).days if early and late else 0
    return Reason("spread of the first open bud", f"{count_text(days, 'day')}", "season model")


def _seen(case: Case, likely: date) -> bool:
    seen = case.tree.last(*SEEN)
    return seen is not None and seen.on > likely - timedelta(days=SPRING_DAYS)


def _due(case: Case) -> bool:
    """Whether the tree is due for repotting in this spring, by its taxon's interval."""
    last = case.tree.last("repotted")
    repotting = case.taxon.repotting
    training = case.tree.development == "training"
    interval = (repotting.years_young if training else repotting.years_mature).value
    return last is None or (case.on - last.on).days >= (interval - 0.5) * YEAR_DAYS


def _minimum(case: Case) -> Advice | None:
    practice = case.rulebook.practice
    low, high = practice.figure("observe.minimum_low"), practice.figure("observe.minimum_high")
    night = next((each for each in case.outlook.nights if each.lead_days == 0), None)
    if night is None or case.place.minimum_held is not None or not _clear(night):
        return None
    if not low.value <= night.air_minimum <= high.value:
        return None
    read = case.tree.last("minimum-read")
    pause = practice.figure("observe.minimum_pause_days")
    if read is not None and (case.on - read.on).days < pause.value:
        return None
    return _ask(
        case,
        "observe-minimum",
        f"{temperature_text(night.air_minimum, 0)} expected here tonight, clear and calm",
        "Hang a minimum thermometer among the trees tonight, at the height of the pots and away "
        "from walls, and write down its lowest reading in the morning.",
        night.spread,
        (
            Reason("spread of tonight's low", f"{night.spread:.1f} °C", "forecast errors"),
            span_reason("asked for on clear calm nights from", low, "°C"),
            span_reason("and up to", high, "°C"),
            span_reason("not asked again within", pause, "days"),
            span_reason("calm below", practice.figure("frost.radiation_wind"), "m/s"),
            share_reason("clear below a cloud of", practice.figure("frost.radiation_cloud")),
        ),
    )


def _clear(night: Night) -> bool:
    return night.frost_type == "radiation"


def _weigh(case: Case) -> Advice | None:
    practice = case.rulebook.practice
    least = practice.figure("observe.water_spread_share")
    today = next((water for water in case.outlook.water if water.day == case.on), None)
    available = case.outlook.available_water
    if today is None or today.frozen or available <= 0:
        return None
    weighed = case.tree.last("pot-weighed")
    pause = practice.figure("observe.weigh_pause_days")
    known = weighed is not None and (case.on - weighed.on).days < pause.value
    spread = today.spread / available
    if known or spread < least.value or case.tree.value == "ordinary":
        return None
    return _ask(
        case,
        "observe-weigh",
        f"a day's use is known to ± {today.spread:.2f} L of {available:.2f} L",
        "Weigh the pot an hour after watering through and again a day later without watering; "
        "write both masses down.",
        spread * (PRIZED_WEIGHT if case.tree.value == "prized" else 1.0),
        (
            Reason("use today", f"{today.use:.2f} ± {today.spread:.2f} L", "pot model"),
            share_reason("asked for from a spread of", least),
            span_reason("not asked again within", pause, "days"),
            Reason("last weighed", dated(weighed.on) if weighed else "never", "your records"),
        ),
    )


def _ask(
    case: Case,
    action: str,
    fact: str,
    deed: str,
    weight: float,
    reasons: tuple[Reason, ...],
) -> Advice:
    monday = case.on - timedelta(days=case.on.weekday())
    return Advice(
        kind=CareKind.OBSERVE,
        action=action,
        tree=case.tree.id,
        cycle=week_of(case.on),
        span=Days(monday, monday + timedelta(days=6)),
        fact=fact,
        deed=deed,
        urgency=Urgency.EXPECTED,
        severity=Severity.MINOR,
        certainty=Certainty.POSSIBLE,
        rule="observe where the models are least sure",
        reasons=reasons,
        weight=weight,
    )
