"""Water in winter: a weekly feel of the pots under cover, and a drink before hard frost.

Dry roots die in winter too, and water in the ball holds warmth: pots in sheds and
frames are felt once a week while the trees are at rest; before a night of hard frost
what is dry and not frozen is watered by day.
"""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity, Urgency
from mebuki.domain.outlook import Milestone
from mebuki.domain.wording import day_text, temperature_text
from mebuki.rules.risk import LEVELS_MEDIAN, span_reason
from mebuki.season.seasons import season_start

UNDER_COVER = ("cold-frame", "shed")
"""Kinds of place where trees rest in winter without rain."""

SURE_DAYS = 30
"""Days into the season of chill by which every tree under cover is at rest (default).

Under cover the first frost may come late or never; rest does not wait for it.
"""

ONE_NIGHT = 1
"""Nights ahead, after tonight, before which pots are watered by day."""


def weekly_check(case: Case) -> Advice | None:
    """Return this week's feel of a pot that rests under cover in winter."""
    if case.place.kind not in UNDER_COVER or not at_rest(case):
        return None
    days = case.rulebook.practice.figure("water.winter_check_days")
    monday = case.on - timedelta(days=case.on.weekday())
    year, week, _ = case.on.isocalendar()
    return Advice(
        kind=CareKind.WATER,
        action="winter-water",
        tree=case.tree.id,
        cycle=f"{year}-W{week:02d}",
        span=Days(monday, monday + timedelta(days=6)),
        fact="at rest under cover, no rain reaches it",
        deed="Feel the substrate; where it is dry and not frozen, water a little by day.",
        urgency=Urgency.EXPECTED,
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY,
        rule="water R43",
        reasons=(span_reason("a look every", days, "days"),),
        cautions=("frozen-pots",),
    )


def at_rest(case: Case) -> bool:
    """Return whether a tree is between its last growth and its next: cold, and buds closed."""
    outlook = case.outlook
    frost = outlook.autumn_frost[LEVELS_MEDIAN] if outlook.autumn_frost else None
    swell = outlook.stage(Milestone.SWELL, outlook.season)
    if case.taxon.group == "tropical" or swell is None or swell.likely is None:
        return False
    if case.on >= swell.likely:
        return frost is not None and frost > swell.likely and case.on >= frost
    chill = date.fromordinal(season_start(outlook.season, case.site.southern))
    if case.on >= chill + timedelta(days=SURE_DAYS):
        return True
    return frost is None or case.on >= frost or frost > swell.likely


def before_frost(case: Case) -> Advice | None:
    """Return the drink before the first hard frost of a spell, for a pot that is not frozen."""
    hard = case.rulebook.practice.figure("water.hard_frost")
    coming = [
        night
        for night in case.outlook.nights
        if 0 <= night.lead_days <= ONE_NIGHT and night.air_minimum <= hard.value
    ]
    today = next((water for water in case.outlook.water if water.day == case.on), None)
    if not coming or (today is not None and today.frozen) or _moist(case):
        return None
    night = coming[0]
    return Advice(
        kind=CareKind.WATER,
        action="water-before-frost",
        tree=case.tree.id,
        cycle=night.evening.isoformat(),
        span=Days(case.on, night.evening),
        fact=f"{temperature_text(night.air_minimum)} in the night of {day_text(night.evening)}",
        deed="Feel the pot by day: where it is dry and not frozen, water it before noon.",
        urgency=Urgency.IMMEDIATE,
        severity=Severity.MODERATE,
        certainty=Certainty.POSSIBLE,
        rule="water R44",
        reasons=(
            span_reason("hard frost from", hard, "°C"),
            span_reason("hours before", case.rulebook.practice.figure("water.before_frost_hours"),
                        "hours"),
            Reason("a wet root ball", "holds more warmth than a dry one", "practice"),
        ),
        cautions=("frozen-pots",),
    )  # fmt: skip


def _moist(case: Case) -> bool:
    """Whether the keeper watered it, or saw it wet, within two days."""
    seen = case.tree.last("watered", "wet-seen")
    return seen is not None and (case.on - seen.on).days <= 1 + ONE_NIGHT
