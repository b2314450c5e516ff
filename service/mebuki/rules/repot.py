"""Repotting: when it is due, when its window opens and closes, and the care after it.

A tree is due when the years since its last repotting reach the interval of its
taxon (shorter in training, longer once refined), or when no repotting is on
record. The window follows the taxon's cue, for temperate trees from bud swell
to the day before the first bud opens, always before the leaves unfold. Roots
just cut stand no frost: where frost is still likely afterwards, the advice asks
for a frost-free place, and waits if the garden has none. A weak tree waits.
For some weeks after repotting the tree wants shade, no feed and no frost.
"""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity, Urgency
from mebuki.domain.figure import Figure
from mebuki.domain.wording import chance_text, dated, day_text, percent_text, temperature_text
from mebuki.rules.hazards import lifting, lifting_reasons, toxicity
from mebuki.rules.risk import (
    certainty_of,
    harm_threshold,
    share_reason,
    span_reason,
    urgency_of_days,
)
from mebuki.rules.windows import Window, repot_window

YEAR_DAYS = 365.25
GRACE = timedelta(days=7)
"""How long a window that has just closed is still told (design default).

Its last day may move by some days from one forecast to the next; without this
the advice would come and go.
"""

EARLY_YEARS = 0.4
"""A spring may come early: so much less than whole years counts as whole [years]."""


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the coming repotting window, if due, and the care after a recent repotting."""
    found = (_window_advice(case), _aftercare(case))
    return tuple(advice for advice in found if advice is not None)


def _window_advice(case: Case) -> Advice | None:
    for season in (case.outlook.season, case.outlook.season + 1):
        window = repot_window(case, season)
        if window is not None and case.on <= window.last + GRACE:
            return _for_window(case, window) if _due(case, window) else None
    return None


def _interval(case: Case) -> Figure:
    repotting = case.taxon.repotting
    training = case.tree.development == "training"
    return repotting.years_young if training else repotting.years_mature


def _due(case: Case, window: Window) -> bool:
    last = case.tree.last("repotted")
    if last is None:
        return True
    years = (window.likely - last.on).days / YEAR_DAYS
    return years >= _interval(case).value - EARLY_YEARS


def _for_window(case: Case, window: Window) -> Advice:
    day = case.on if window.first <= case.on else window.likely
    chance = window.chance_on(day)
    frost = _frost_after(case, window)
    return Advice(
        kind=CareKind.REPOT,
        action="repot-window",
        tree=case.tree.id,
        cycle=str(window.season),
        span=Days(window.first, window.last, window.likely),
        fact=f"repot {window.cue}",
        deed=_deed(case, window, frost),
        urgency=urgency_of_days(case.on, window.first, window.last),
        severity=Severity.MODERATE,
        certainty=Certainty.POSSIBLE if chance is None else certainty_of(chance),
        rule="repot R20 R23 R26",
        reasons=(*_due_reasons(case), *_window_reasons(window), *_frost_reasons(case, frost)),
        probability=chance,
        cautions=("sharp-tools", *lifting(case), *toxicity(case)),
        blocked=_blocked(case, window, frost),
    )


def _due_reasons(case: Case) -> tuple[Reason, ...]:
    last = case.tree.last("repotted")
    told = f"{dated(last.on)}" if last else "not on record"
    return (
        Reason("last repotted", told, "your records"),
        span_reason(f"interval, {case.tree.development}", _interval(case), "years"),
        share_reason("roots removed at most", case.taxon.repotting.root_share_max),
    )


def _window_reasons(window: Window) -> tuple[Reason, ...]:
    told = [Reason("window", window.basis, window.source)]
    for name, stage in (("buds swell", window.opens), ("first bud open", window.closes)):
        if stage is not None and stage.likely is not None:
            early = day_text(stage.earliest) if stage.earliest else "not in one case of ten"
            late = day_text(stage.latest) if stage.latest else "later than can be seen"
            told.append(
                Reason(name, f"{day_text(stage.likely)} (8 of 10 cases {early} to {late})", "model")
            )
    return tuple(told)


def _frost_after(case: Case, window: Window) -> float:
    """Return the probability [0..1] that frost comes after the likely day of the window."""
    points = case.outlook.spring_frost
    if not points or window.season != case.outlook.season or case.place.sheltered:
        return 0.0
    return sum(1 for day in points if day is not None and day > window.likely) / len(points)


def _frost_reasons(case: Case, frost: float) -> tuple[Reason, ...]:
    practice = case.rulebook.practice
    reasons = [
        span_reason(
            "frost-free after repotting", practice.figure("repot.frost_free_weeks"), "weeks"
        )
    ]
    if frost > 0:
        reasons.append(Reason("frost after the likely day", percent_text(frost), "past years here"))
    return (*reasons, *lifting_reasons(case))


def _deed(case: Case, window: Window, frost: float) -> str:
    weeks = case.rulebook.practice.value("repot.frost_free_weeks")
    share = case.taxon.repotting.root_share_max.value
    told = f"Repot {window.cue}; take no more than {share:.0%} of the roots".replace("%", " %")
    told += "; tie the tree in and water through. "
    if frost > harm_threshold(case).value:
        return told + (
            f"Frost afterwards is {chance_text(frost)}: keep the root ball above 0 °C for "
            f"{weeks:g} weeks; it needs shelter on frosty nights."
        )
    return told + f"Keep the root ball above 0 °C for {weeks:g} weeks."


def _blocked(case: Case, window: Window, frost: float) -> str:
    practice = case.rulebook.practice
    if case.tree.vigour == "weak":
        months = practice.value("recovery.weak_months")
        return f"the tree is weak, it has to grow well for {months:g} months first"
    return _blocked_by_frost(case, window, frost) or _blocked_by_nights(case, window)


def _blocked_by_frost(case: Case, window: Window, frost: float) -> str:
    if case.shelter_available or frost <= harm_threshold(case).value:
        return ""
    late = max((day for day in case.outlook.spring_frost if day is not None), default=window.last)
    return (
        f"frost afterwards is {chance_text(frost)} and no place in the garden keeps it out: "
        f"make a frost-free place first, or wait until about {day_text(late)} and repot only if "
        "the buds are still closed"
    )


def _blocked_by_nights(case: Case, window: Window) -> str:
    """Return why the coming nights forbid a start today, if the window is open."""
    practice = case.rulebook.practice
    ahead = practice.value("repot.start_days")
    nights = [night for night in case.outlook.nights if night.lead_days < ahead]
    if case.on < window.first or not nights:
        return ""
    coldest = min(night.air_minimum for night in nights)
    if case.taxon.repotting.cue == "warm-nights":
        limit = practice.value("repot.warm_night_minimum")
        cold = f"a coming night falls to {temperature_text(coldest)}; wait until nights stay at"
        return f"{cold} {limit:g} °C or more" if coldest < limit else ""
    limit = practice.value("repot.start_minimum")
    if case.shelter_available or case.place.sheltered or coldest >= limit:
        return ""
    last = max(night.evening for night in nights if night.air_minimum < limit)
    return (
        f"a coming night falls to {temperature_text(coldest)} and no place keeps frost out: "
        f"wait until after {day_text(last)}"
    )


def _aftercare(case: Case) -> Advice | None:
    last = case.tree.last("repotted")
    practice = case.rulebook.practice
    frost_free = practice.figure("repot.frost_free_weeks")
    if last is None or case.on > _after(last.on, frost_free):
        return None
    shade, feed = practice.figure("repot.shelter_weeks"), practice.figure("repot.feed_pause_weeks")
    steps = (("shade and wind shelter", shade), ("no feed", feed), ("no frost", frost_free))
    told = ", ".join(f"{name} until {day_text(_after(last.on, span))}" for name, span in steps)
    return Advice(
        kind=CareKind.REPOT,
        action="aftercare",
        tree=case.tree.id,
        cycle=last.on.isoformat(),
        span=Days(last.on, _after(last.on, frost_free)),
        fact=f"repotted {day_text(last.on)}: {told}",
        deed=(
            "Shade and shelter from wind first, no feed until the roots have grown, and no frost "
            "on the root ball; the days are named below. Water when the surface dries."
        ),
        urgency=Urgency.EXPECTED,
        severity=Severity.MODERATE,
        certainty=Certainty.OBSERVED,
        rule="repot R24 R25 R26",
        reasons=tuple(span_reason(name, span, "weeks") for name, span in steps),
    )


def _after(day: date, weeks: Figure) -> date:
    return day + timedelta(weeks=weeks.value)
