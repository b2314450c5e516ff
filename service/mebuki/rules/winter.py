"""Winter: roots and tender trees in the coming nights, and the way into and out of shelter.

A pot is colder than the ground, and roots are less hardy than shoots. A tree is
to be protected tonight when its root ball is forecast below its limit for some
hours; or when the chance of real harm, some degrees below that limit, exceeds
what a tree of its value can bear. The limit itself stands well above what kills.
A tender tree is protected when the air falls below what its taxon wants. Before the first
frost of autumn every tree goes where its taxon wants to be in winter; tender
trees go earlier, and come out again when the last frost of spring is past.
Nights of a small chance are kept in view (``winter-watch``, ``winter-trace``).
"""

from __future__ import annotations

from collections.abc import Iterable

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
from mebuki.domain.outlook import Night, RootNight
from mebuki.domain.wording import chance_text, listing, temperature_text
from mebuki.rules.hazards import lifting, lifting_reasons
from mebuki.rules.leaf_harm import below_text, worse
from mebuki.rules.moves import moves
from mebuki.rules.risk import (
    certainty_of,
    harm_threshold,
    night_word,
    severity_of,
    share_reason,
    span_reason,
    told_ahead,
    urgency_of_night,
)
from mebuki.rules.shelter import place_words, shelter_reasons
from mebuki.season.decision import LIKELY, probability_below


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the cold nights ahead for one tree, and its moves into and out of shelter."""
    return (*_nights(case), *moves(case))


def _nights(case: Case) -> Iterable[Advice]:
    roots = {root.evening: root for root in case.outlook.roots}
    for night in case.outlook.nights:
        if told_ahead(case, night.lead_days):
            advice = _night(case, night, roots.get(night.evening))
            if advice is not None:
                yield advice


def _night(case: Case, night: Night, root: RootNight | None) -> Advice | None:
    cold_roots = _root_chance(case, root)
    cold_air = _air_chance(case, night)
    chance = max(cold_roots, cold_air)
    lasting = root is not None and root.hours_below >= case.rulebook.practice.value(
        "winter.cold_hours"
    )
    word = "night" if lasting else night_word(case, chance)
    if not word:
        return None
    acts = word == "night"
    return Advice(
        kind=CareKind.WINTER,
        action=f"winter-{word}",
        tree=case.tree.id,
        cycle=night.evening.isoformat(),
        span=Moments(night.begins, night.ends),
        fact=_night_fact(night, root, cold_air > cold_roots, chance),
        deed=_night_deed(case, root, tender=cold_air > cold_roots),
        urgency=urgency_of_night(night.lead_days) if acts else Urgency.FUTURE,
        severity=_severity(case, root, cold_roots, chance) if acts else Severity.MINOR,
        certainty=certainty_of(chance) if acts else Certainty.UNLIKELY,
        rule="winter R54 R55",
        reasons=(*_night_reasons(case, night, root), *lifting_reasons(case)),
        probability=chance,
        threshold=harm_threshold(case).value,
        cautions=("frozen-pots", "night-work", *lifting(case)),
    )


def _root_chance(case: Case, root: RootNight | None) -> float:
    """Return the chance of harm to mature roots: the ball well below its limit."""
    if root is None:
        return 0.0
    harm = root.limit - case.rulebook.practice.value("winter.limit_margin")
    return float(probability_below(harm, root.mean_minimum, root.spread))


def _air_chance(case: Case, night: Night) -> float:
    keep_above = case.taxon.hardiness.keep_above
    if keep_above is None:
        return 0.0
    return float(probability_below(keep_above.value, night.air_minimum, night.spread))


def _severity(case: Case, root: RootNight | None, cold_roots: float, chance: float) -> Severity:
    """Return what is at stake: a long frost on the roots is a class worse than a short one."""
    usual = severity_of(case, chance)
    long = case.rulebook.practice.value("winter.long_hours")
    if root is None or cold_roots < LIKELY or root.hours_below < long:
        return usual
    return worse(usual)


def _night_fact(night: Night, root: RootNight | None, tender: bool, chance: float) -> str:
    if tender or root is None:
        return (
            f"air down to {temperature_text(night.air_minimum)}, too cold ({chance_text(chance)})"
        )
    hours = f", {below_text(root.hours_below)}" if root.hours_below else ""
    return (
        f"root ball down to {temperature_text(root.mean_minimum)}, "
        f"limit {temperature_text(root.limit)}{hours} (harm {chance_text(chance)})"
    )


def _night_deed(case: Case, root: RootNight | None, *, tender: bool) -> str:
    harm = harm_threshold(case).value
    if tender and case.shelter_available:
        return f"Bring into {place_words(case, harm, 'the warm')} before dark."
    if case.shelter_available:
        where = place_words(case, harm, "a place kept free of hard frost")
        return f"Bring into {where} before dark, unless the pot is frozen in."
    milder = [
        each.place
        for each in case.shelters
        if root is not None
        and each.lowest is not None
        and each.lowest >= root.limit
        and each.place != case.place.name
    ]
    if milder and not tender:
        return f"Bring into {listing(milder, 'or')} before dark, unless the pot is frozen in."
    return "Set the pot on the ground, pack it round and cover it before dark."


def _night_reasons(case: Case, night: Night, root: RootNight | None) -> tuple[Reason, ...]:
    reasons = [
        Reason("lowest air temperature", temperature_text(night.air_minimum), "forecast"),
        share_reason("acts above a chance of", harm_threshold(case)),
    ]
    if root is not None:
        ball = f"{temperature_text(root.mean_minimum)} ± {root.spread:.1f}"
        margin = case.rulebook.practice.figure("winter.limit_margin")
        reasons += [
            Reason("root ball", ball, "pot model"),
            Reason("limit of the roots now", temperature_text(root.limit), root.limit_source),
            span_reason("harm is taken to begin below the limit by", margin, "°C"),
            Reason("hours below it", str(root.hours_below), "pot model"),
            span_reason(
                "dangerous from", case.rulebook.practice.figure("winter.cold_hours"), "hours"
            ),
            span_reason(
                "a class worse from", case.rulebook.practice.figure("winter.long_hours"), "hours"
            ),
            *_studies(root),
        ]
    if case.taxon.hardiness.keep_above is not None:
        reasons.append(span_reason("keep the air above", case.taxon.hardiness.keep_above, "°C"))
    return (*reasons, *shelter_reasons(case))


def _studies(root: RootNight) -> tuple[Reason, ...]:
    """Return what studies say kills such roots now: a range where they differ, with its source."""
    cold, warm = root.killing_coldest, root.killing_warmest
    if cold is None or warm is None:
        return ()
    told = temperature_text(warm)
    if cold < warm:
        told = f"from {temperature_text(warm)} to {temperature_text(cold)}, studies differ"
    return (Reason("what kills such roots", told, root.killing_source or "studies"),)
