"""Frost: which trees the coming nights would harm, and what to do with them before dark.

A root ball just repotted stands no frost for some weeks: its new tips have no
hardiness. Wood bent in autumn or winter stands none either. Buds stand less the
further they have moved, open leaves almost none.

The chance of harm is taken over what the stage may be that night and how far the
forecast may be wrong; a deed is asked for when it exceeds what a tree of this value
can bear. A smaller chance is kept in view (``frost-watch``), so that a warning is
not taken back too soon; a smaller one still (``frost-trace``) matters to people who
want to be told early. Trees where frost is kept out get none.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.domain.advice import (
    Advice,
    CareKind,
    Case,
    Certainty,
    Moments,
    Reason,
    Severity,
    Urgency,
)
from mebuki.domain.outlook import Milestone, Night, RootNight
from mebuki.domain.wording import chance_text, dated, percent_text, temperature_text
from mebuki.rules.bends import bent, guarded_until
from mebuki.rules.hazards import lifting, lifting_reasons
from mebuki.rules.leaf_harm import (
    below_text,
    growth_reasons,
    hours_reasons,
    leaf_frost,
    severity_by_hours,
)
from mebuki.rules.risk import (
    certainty_of,
    harm_threshold,
    night_word,
    share_reason,
    span_reason,
    told_ahead,
    urgency_of_night,
)
from mebuki.rules.shelter import place_words
from mebuki.season.decision import probability_below
from mebuki.season.frost_hours import FrostHours
from mebuki.season.frost_thresholds import (
    CriticalTemperature,
    bud_stage,
    critical_temperature,
)
from mebuki.season.parameters import BudLimits

STAGES = (
    (Milestone.SWELL, "swelling buds"),
    (Milestone.BREAK, "opening buds"),
    (Milestone.UNFOLDED, "unfolding leaves"),
    (Milestone.GROWN, "soft leaves"),
)
"""Tender stages in order, each with its name."""

BENT, ROOTS = "bent wood", "fresh roots"
"""What a night may harm beside buds and leaves."""

RULE = {ROOTS: "frost R26", BENT: "frost R19"}
"""The rule behind each of these; for growth R60 and R61."""

NEGLIGIBLE = 0.001
"""Chance below which no reader of any level is told anything; nothing is worked out for it."""

SHELTERED = ("cold-frame", "shed", "indoors")


@dataclass(frozen=True, slots=True)
class Harm:
    """One way in which a night may harm a tree."""

    what: str
    chance: float
    lowest: float
    limit: float
    reasons: tuple[Reason, ...]
    frost: FrostHours | None = None


def advise(case: Case) -> tuple[Advice, ...]:
    """Return one advice for each coming night that may harm the tree."""
    if case.place.sheltered:
        return ()
    return tuple(_nights(case))


def _nights(case: Case) -> Iterable[Advice]:
    roots = {root.evening: root for root in case.outlook.roots}
    for night in case.outlook.nights:
        if not told_ahead(case, night.lead_days):
            continue
        harms = [
            *_to_roots(case, night, roots.get(night.evening)),
            *_to_bent_wood(case, night),
            *_to_growth(case, night),
        ]
        worst = max(harms, key=lambda harm: harm.chance, default=None)
        word = night_word(case, worst.chance) if worst is not None else ""
        if worst is not None and word:
            yield _for_night(case, night, worst, word)


def _to_roots(case: Case, night: Night, root: RootNight | None) -> Iterable[Harm]:
    last = case.tree.last("repotted")
    practice = case.rulebook.practice
    weeks = practice.figure("repot.frost_free_weeks")
    if last is None or night.evening > last.on + timedelta(weeks=weeks.value):
        return
    limit = practice.figure("repot.root_frost_limit")
    chance = _below(limit.value, night.air_minimum, night.spread)
    reasons = [
        Reason("repotted", dated(last.on), "your records"),
        span_reason("frost-free after repotting", weeks, "weeks"),
        span_reason("fresh roots stand down to", limit, "°C"),
    ]
    if root is not None:
        chance = max(chance, _below(limit.value, root.wall_minimum, root.spread))
        wall = f"{temperature_text(root.wall_minimum)} ± {root.spread:.1f}"
        reasons.append(Reason("root ball at the wall", wall, "pot model"))
    yield Harm(ROOTS, chance, night.air_minimum, limit.value, tuple(reasons))


def _to_bent_wood(case: Case, night: Night) -> Iterable[Harm]:
    record = bent(case, "major-bend")
    if record is None or night.evening > guarded_until(case, record.on):
        return
    limit = case.rulebook.practice.figure("wire.bend_frost_limit")
    reasons = (
        Reason("bent strongly", dated(record.on), "your records"),
        span_reason(
            "kept from frost after a bend",
            case.rulebook.practice.figure("wire.frost_guard_weeks"),
            "weeks",
        ),
        span_reason("bent wood stands down to", limit, "°C"),
    )
    chance = _below(limit.value, night.air_minimum, night.spread)
    yield Harm(BENT, chance, night.air_minimum, limit.value, reasons)


def _to_growth(case: Case, night: Night) -> Iterable[Harm]:
    """Return harm to buds and leaves, over the stages that the night may find."""
    shares = _stage_shares(case, night.evening)
    limits = {milestone: _limit(case, milestone) for milestone in shares}
    chances = {
        milestone: share * _below(limit.ten_percent, night.leaf_minimum, night.spread)
        for milestone, share in shares.items()
        if (limit := limits[milestone]) is not None
    }
    if sum(chances.values()) < NEGLIGIBLE:
        return
    milestone = max(chances, key=lambda stage: shares[stage])
    limit = limits[milestone]
    if limit is None:
        return
    name, frost = dict(STAGES)[milestone], leaf_frost(night, limit)
    reasons = (
        Reason("stage that night", f"{name}, {percent_text(shares[milestone])}", "season model"),
        *growth_reasons(case, bud_stage(milestone), name, limit),
        Reason("lowest leaf temperature", temperature_text(night.leaf_minimum), "energy balance"),
        *hours_reasons(frost),
        span_reason(
            "leaves count as hardened after they are grown by",
            case.rulebook.practice.figure("frost.hardened_days"),
            "days",
        ),
    )
    yield Harm(name, sum(chances.values()), night.leaf_minimum, limit.ten_percent, reasons, frost)


def _limit(case: Case, milestone: Milestone) -> CriticalTemperature | None:
    limits = BudLimits.of(case.rulebook.practice)
    return critical_temperature(case.taxon, bud_stage(milestone), limits)


def _stage_shares(case: Case, evening: date) -> dict[Milestone, float]:
    """Return the probability [0..1] of being in each tender stage on a night."""
    reached = [_reached(case, milestone, evening) for milestone, _ in STAGES]
    days = case.rulebook.practice.value("frost.hardened_days")
    hardened = _reached(case, Milestone.GROWN, evening - timedelta(days=days))
    following = [*reached[1:], hardened]
    shares = {
        stage[0]: max(here - after, 0.0)
        for stage, here, after in zip(STAGES, reached, following, strict=True)
    }
    return {milestone: share for milestone, share in shares.items() if share > 0}


def _reached(case: Case, milestone: Milestone, day: date) -> float:
    stage = case.outlook.stage(milestone, case.outlook.season)
    return stage.probability_by(day) if stage else 0.0


def _below(limit: float, mean: float, spread: float) -> float:
    return float(probability_below(limit, mean, spread))


def _for_night(case: Case, night: Night, harm: Harm, word: str) -> Advice:
    acts = word == "night"
    return Advice(
        kind=CareKind.FROST,
        action=f"frost-{word}",
        tree=case.tree.id,
        cycle=night.evening.isoformat(),
        span=Moments(night.begins, night.ends),
        fact=_fact(harm),
        deed=_deed(case, night),
        urgency=urgency_of_night(night.lead_days) if acts else Urgency.FUTURE,
        severity=severity_by_hours(case, harm.chance, harm.frost) if acts else Severity.MINOR,
        certainty=certainty_of(harm.chance) if acts else Certainty.UNLIKELY,
        rule=RULE.get(harm.what, "frost R60 R61"),
        reasons=(*_night_reasons(case, night), *harm.reasons, *lifting_reasons(case)),
        probability=harm.chance,
        threshold=harm_threshold(case).value,
        cautions=("night-work", *lifting(case)),
    )


def _fact(harm: Harm) -> str:
    hours = ""
    if harm.frost is not None and harm.frost.hours_first_damage > 0:
        hours = f", {below_text(float(harm.frost.hours_first_damage))}"
    return (
        f"{harm.what}, {temperature_text(harm.lowest)} expected, "
        f"limit {temperature_text(harm.limit)}{hours} ({chance_text(harm.chance)})"
    )


def _night_reasons(case: Case, night: Night) -> tuple[Reason, ...]:
    air = f"{temperature_text(night.air_minimum)} ± {night.spread:.1f}"
    return (
        Reason("lowest air temperature", air, "forecast at this place"),
        Reason("kind of frost", night.frost_type, "wind and cloud of the night"),
        share_reason("acts above a chance of", harm_threshold(case)),
    )


def _deed(case: Case, night: Night) -> str:
    if case.shelter_available:
        where = place_words(case, harm_threshold(case).value, "a frost-free place")
        return f"Bring into {where} before dark."
    if case.place.kind in SHELTERED:
        return "Close the place before dark and lay fleece over it."
    cover = "Set on the ground against a wall and cover with fleece before dark"
    if night.frost_type == "advective":
        return f"{cover}; in wind a cover helps little, indoors for the night is better."
    return f"{cover}."
