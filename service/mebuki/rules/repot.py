"""Repotting: when it is due, when its window opens and closes, and the care after it.

A tree is due when the years since its last repotting reach the interval of its
taxon (shorter in training and for a strong tree, longer once refined or old), or when
no repotting is on record. The window follows the taxon's cue, for temperate trees from bud swell
to the day before the first bud opens, always before the leaves unfold. Roots
just cut stand no frost: where frost is still likely afterwards, the advice asks
for a frost-free place, and waits if the garden has none. A weak tree waits.
Where the spring was missed and the taxon allows it, early autumn is offered. For
some weeks after repotting the tree wants shade, no feed and no frost.
"""

from __future__ import annotations

from datetime import timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity
from mebuki.domain.figure import Figure
from mebuki.domain.wording import (
    chance_text,
    dated,
    day_text,
    number_text,
    percent_text,
    temperature_text,
)
from mebuki.rules.aftercare import aftercare
from mebuki.rules.hazards import lifting, lifting_reasons, toxicity
from mebuki.rules.recipe import materials
from mebuki.rules.risk import (
    certainty_of,
    harm_threshold,
    share_reason,
    span_reason,
    urgency_of_days,
    weak_reason,
)
from mebuki.rules.shelter import named, shelter_reasons
from mebuki.rules.spans import span_reasons
from mebuki.rules.windows import Window, later_window, repot_window

YEAR_DAYS = 365.25
GRACE = timedelta(days=7)
"""How long a window that has just closed is still told (design default).

Its last day may move by some days from one forecast to the next; without this
the advice would come and go.
"""

OFFERED = timedelta(days=60)
"""How long before it opens a later window is offered for one that was missed (default)."""


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the coming repotting window, if due, and the care after a recent repotting."""
    found = (_window_advice(case), _later_advice(case), aftercare(case))
    return tuple(advice for advice in found if advice is not None)


def _window_advice(case: Case) -> Advice | None:
    for season in (case.outlook.season, case.outlook.season + 1):
        window = repot_window(case, season)
        if window is not None and case.on <= window.last + GRACE:
            return _for_window(case, window) if _due(case, window) else None
    return None


def _later_advice(case: Case) -> Advice | None:
    """Return the early-autumn window of a tree whose own window of this season was missed."""
    season = case.outlook.season
    missed = repot_window(case, season)
    later = later_window(case, season)
    if missed is None or later is None or case.on <= missed.last + GRACE:
        return None
    if not later.first - OFFERED <= case.on <= later.last + GRACE:
        return None
    if later.first <= missed.last or not _due(case, later):
        return None
    return _for_window(case, later, missed)


def _interval(case: Case) -> Figure:
    """Return the years between repottings: of a young or a mature tree, less for a strong one."""
    repotting, practice = case.taxon.repotting, case.rulebook.practice
    born, grown = case.tree.born, practice.value("repot.mature_age_years")
    old = born is not None and case.on.year - born > grown
    young = case.tree.development == "training" and not old
    figure = repotting.years_young if young else repotting.years_mature
    if case.tree.vigour != "strong":
        return figure
    factor = practice.value("repot.strong_factor")
    return figure.model_copy(update={"value": max(figure.value * factor, 1.0)})


def _interval_name(case: Case) -> str:
    strong = ", strong tree" if case.tree.vigour == "strong" else ""
    return f"interval, {case.tree.development}{strong}"


def _due(case: Case, window: Window) -> bool:
    last = case.tree.last("repotted")
    if last is None:
        return True
    years = (window.likely - last.on).days / YEAR_DAYS
    early = case.rulebook.practice.value("repot.early_years")
    return years >= _interval(case).value - early


def _for_window(case: Case, window: Window, missed: Window | None = None) -> Advice:
    day = case.on if window.first <= case.on else window.likely
    chance = window.chance_on(day)
    frost = _frost_after(case, window)
    return Advice(
        kind=CareKind.REPOT,
        action="repot-autumn" if missed else "repot-window",
        tree=case.tree.id,
        cycle=str(window.season),
        span=Days(window.first, window.last, window.likely),
        fact=f"repot {window.cue}",
        deed=_deed(case, window, frost),
        urgency=urgency_of_days(case.on, window.first, window.last),
        severity=Severity.MODERATE,
        certainty=Certainty.POSSIBLE if chance is None else certainty_of(chance),
        rule="repot R31 R23 R26" if missed else "repot R20 R23 R26",
        reasons=(
            *_due_reasons(case),
            *_window_reasons(window),
            *span_reasons(case, window.keys),
            *_missed_reasons(case, missed),
            *_frost_reasons(case, frost),
            *shelter_reasons(case),
            *materials(case),
        ),
        probability=chance,
        cautions=("sharp-tools", *lifting(case), *toxicity(case)),
        blocked=_blocked(case, window, frost),
    )


def _due_reasons(case: Case) -> tuple[Reason, ...]:
    last = case.tree.last("repotted")
    told = f"{dated(last.on)}" if last else "not on record"
    return (
        Reason("last repotted", told, "your records"),
        *_interval_reasons(case),
        share_reason("roots removed at most", case.taxon.repotting.root_share_max),
    )


def _interval_reasons(case: Case) -> tuple[Reason, ...]:
    """Return the interval and what it was reckoned with."""
    practice, tree = case.rulebook.practice, case.tree
    told = [span_reason(_interval_name(case), _interval(case), "years")]
    if tree.vigour == "strong":
        told.append(
            span_reason("interval of a strong tree, times", practice.figure("repot.strong_factor"))
        )
    if tree.born is not None and tree.development == "training":
        old = practice.figure("repot.mature_age_years")
        told.append(span_reason("counts as mature from an age of", old, "years"))
    early = practice.figure("repot.early_years")
    told.append(span_reason("a spring may come early by", early, "years"))
    return tuple(told)


def _missed_reasons(case: Case, missed: Window | None) -> tuple[Reason, ...]:
    if missed is None:
        return ()
    note = case.taxon.repotting.alternative_note
    return (
        Reason("missed", f"its window {missed.cue}, until {dated(missed.last)}", missed.source),
        Reason("instead of waiting", f"autumn is second best{f': {note}' if note else ''}",
               "practice"),
    )  # fmt: skip


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
        ),
        *_start_reasons(case),
    ]
    if frost > 0:
        reasons.append(Reason("frost after the likely day", percent_text(frost), "past years here"))
    return (*reasons, *lifting_reasons(case))


def _start_reasons(case: Case) -> tuple[Reason, ...]:
    """Return what the coming nights must be for a start, and the rest of a weak tree."""
    practice = case.rulebook.practice
    warm = case.taxon.repotting.cue == "warm-nights"
    key = "repot.warm_night_minimum" if warm else "repot.start_minimum"
    told = (
        span_reason("no start if a coming night falls below", practice.figure(key), "°C"),
        span_reason("nights looked at ahead", practice.figure("repot.start_days"), "days"),
    )
    return (*told, weak_reason(case)) if case.tree.vigour == "weak" else told


def _deed(case: Case, window: Window, frost: float) -> str:
    weeks = case.rulebook.practice.value("repot.frost_free_weeks")
    share = case.taxon.repotting.root_share_max.value
    told = f"Repot {window.cue}; take no more than {share:.0%} of the roots".replace("%", " %")
    told += "; tie the tree in and water through. "
    if case.taxon.repotting.cue != "warm-nights":
        told += "Let a frozen root ball thaw first. "
    if frost > harm_threshold(case).value:
        return told + (
            f"Frost afterwards is {chance_text(frost)}: keep the root ball above 0 °C for "
            f"{number_text(weeks)} weeks; it needs shelter on frosty nights{_where(case)}."
        )
    return told + f"Keep the root ball above 0 °C for {number_text(weeks)} weeks."


def _where(case: Case) -> str:
    """Return which place would give shelter: one that keeps frost out now, or one to watch."""
    names = named(case, harm_threshold(case).value)
    if names:
        return f", such as {names}"
    if case.shelters:
        return f"; watch the thermometer in {case.shelters[0].place}, frost gets in there now"
    return ""


def _blocked(case: Case, window: Window, frost: float) -> str:
    practice = case.rulebook.practice
    if case.tree.vigour == "weak":
        months = practice.value("recovery.weak_months")
        return f"the tree is weak, it has to grow well for {months:g} months first"
    return _blocked_by_frost(case, window, frost) or _blocked_by_nights(case, window)


def _blocked_by_frost(case: Case, window: Window, frost: float) -> str:
    sheltered = case.shelter_available or case.shelters
    if sheltered or frost <= harm_threshold(case).value:
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
