"""Winter: roots and tender trees in the coming nights, and the way into and out of shelter.

A pot is colder than the ground, and roots are less hardy than shoots. A tree is
to be protected tonight when its root ball is forecast below its limit for some
hours; or when the chance of real harm, some degrees below that limit, exceeds
what a tree of its value can bear. The limit itself stands well above what kills.
A tender tree is protected when the air falls below what its taxon wants. Before the first
frost of autumn every tree goes where its taxon wants to be in winter; tender
trees go earlier, and come out again when the last frost of spring is past.
Nights of a small chance are kept in view (``winter-watch``) without a deed.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from mebuki.domain.advice import (
    Advice,
    CareKind,
    Case,
    Certainty,
    Days,
    Moments,
    Reason,
    Severity,
    Urgency,
)
from mebuki.domain.outlook import LEVELS, Night, RootNight
from mebuki.domain.wording import chance_text, day_text, temperature_text
from mebuki.rules.hazards import lifting, lifting_reasons
from mebuki.rules.risk import (
    FORECAST_NIGHTS,
    certainty_of,
    harm_threshold,
    severity_of,
    share_reason,
    span_reason,
    urgency_of_days,
    urgency_of_night,
)
from mebuki.season.decision import probability_below

EARLY, MEDIAN, LATE = LEVELS.index(10), LEVELS.index(50), LEVELS.index(90)
GRACE = timedelta(days=14)
"""How long a window that has closed is still told, so that it does not come and go."""

LEAST = timedelta(days=7)
"""Least length of the window for moving hardy trees, also where a frost is forecast (default)."""

WARM = 5.0
"""Least air temperature [°C] that marks a taxon which waits for warm nights (default)."""

SHELTER_DEED = {
    "INDOOR": "Bring indoors or into a heated house, into good light",
    "FROST_FREE": "Bring into a frost-free, light place",
    "COLD_FRAME": "Put into a cold frame or unheated shed, out of wind",
    "HARDY": "Set the pot on the ground, mulch or insulate it, out of wind",
}
"""What each shelter class of the taxon files asks for."""


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the cold nights ahead for one tree, and its moves into and out of shelter."""
    seasonal = (_into_shelter(case), _out_of_shelter(case))
    return (*_nights(case), *(advice for advice in seasonal if advice is not None))


def _nights(case: Case) -> Iterable[Advice]:
    roots = {root.evening: root for root in case.outlook.roots}
    for night in case.outlook.nights:
        if 0 <= night.lead_days <= FORECAST_NIGHTS:
            advice = _night(case, night, roots.get(night.evening))
            if advice is not None:
                yield advice


def _night(case: Case, night: Night, root: RootNight | None) -> Advice | None:
    threshold = harm_threshold(case).value
    clear = threshold * case.rulebook.practice.value("frost.clear_share")
    cold_roots = _root_chance(case, root)
    cold_air = _air_chance(case, night)
    chance = max(cold_roots, cold_air)
    lasting = root is not None and root.hours_below >= case.rulebook.practice.value(
        "winter.cold_hours"
    )
    if chance < clear and not lasting:
        return None
    acts = lasting or chance > threshold
    return Advice(
        kind=CareKind.WINTER,
        action="winter-night" if acts else "winter-watch",
        tree=case.tree.id,
        cycle=night.evening.isoformat(),
        span=Moments(night.begins, night.ends),
        fact=_night_fact(night, root, cold_air > cold_roots, chance),
        deed=_night_deed(case, tender=cold_air > cold_roots),
        urgency=urgency_of_night(night.lead_days) if acts else Urgency.FUTURE,
        severity=severity_of(case, chance) if acts else Severity.MINOR,
        certainty=certainty_of(chance) if acts else Certainty.UNLIKELY,
        rule="winter R54 R55",
        reasons=(*_night_reasons(case, night, root), *lifting_reasons(case)),
        probability=chance,
        threshold=threshold,
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


def _night_fact(night: Night, root: RootNight | None, tender: bool, chance: float) -> str:
    if tender or root is None:
        return (
            f"air down to {temperature_text(night.air_minimum)}, too cold ({chance_text(chance)})"
        )
    return (
        f"root ball down to {temperature_text(root.mean_minimum)}, "
        f"limit {temperature_text(root.limit)} (harm {chance_text(chance)})"
    )


def _night_deed(case: Case, *, tender: bool) -> str:
    if tender and case.shelter_available:
        return "Bring into the warm before dark."
    if case.shelter_available:
        return (
            "Bring into a place kept free of hard frost before dark, unless the pot is frozen in."
        )
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
        ]
    if case.taxon.hardiness.keep_above is not None:
        reasons.append(span_reason("keep the air above", case.taxon.hardiness.keep_above, "°C"))
    return tuple(reasons)


def shelter_class(case: Case) -> str:
    """Return the shelter class of a taxon: a key of `SHELTER_DEED`."""
    word = case.taxon.hardiness.shelter.value.upper().replace("-", "_").replace(" ", "_")
    return next((key for key in SHELTER_DEED if word.startswith(key)), "HARDY")


def _suits(case: Case, shelter: str) -> bool:
    """Whether the tree already stands where its taxon wants to be in winter."""
    place = case.place
    if shelter == "INDOOR":
        wanted = case.taxon.hardiness.keep_above
        held = place.minimum_held
        return held is not None and (wanted is None or held >= wanted.value)
    if shelter == "FROST_FREE":
        return place.sheltered
    if shelter == "COLD_FRAME":
        return place.sheltered or place.kind in ("cold-frame", "greenhouse", "shed")
    return place.pot_on_ground or place.insulation > 0 or place.kind not in ("bench", "shade-bench")


def _into_shelter(case: Case) -> Advice | None:
    shelter = shelter_class(case)
    frost = case.outlook.autumn_frost
    if not frost or _suits(case, shelter):
        return None
    early, median = frost[EARLY], frost[MEDIAN]
    if early is None or median is None:
        return None
    tender = shelter in ("INDOOR", "FROST_FREE")
    lead = case.rulebook.practice.figure("winter.tender_lead_weeks")
    first = early - timedelta(weeks=lead.value) if tender else early
    last = early if tender else max(median, early + LEAST)
    if case.on > last + GRACE:
        return None
    told = f"{day_text(early)} in an early year, {day_text(median)} usual"
    kept = case.taxon.hardiness.shelter
    reasons = [
        Reason("first frost", told, "past years here"),
        Reason("winter shelter", kept.value.lower().replace("_", " "), kept.source),
    ]
    if tender:
        reasons.append(span_reason("tender trees come in before the early date by", lead, "weeks"))
    return _move(
        case,
        "winter-shelter",
        _autumn_of(median),
        Days(first, last),
        f"{SHELTER_DEED[shelter]}.",
        tuple(reasons),
    )


def _autumn_of(frost: date) -> int:
    """Return the year of the autumn of a first frost, which may fall after new year."""
    return (frost - timedelta(days=60)).year


def _out_of_shelter(case: Case) -> Advice | None:
    tender = shelter_class(case) in ("INDOOR", "FROST_FREE")
    frost = case.outlook.spring_frost
    if not frost or not tender or case.place.kind not in ("indoors", "shed", "cold-frame"):
        return None
    late = frost[LATE]
    if late is None:
        return None
    keep_above = case.taxon.hardiness.keep_above
    warm = keep_above is not None and keep_above.value >= WARM
    lead = case.rulebook.practice.figure("winter.tender_lead_weeks")
    first = late + timedelta(days=1, weeks=lead.value if warm else 0)
    last = first + timedelta(days=case.rulebook.practice.value("winter.out_days"))
    if case.on > last + GRACE:
        return None
    nights = "the nights are free of frost"
    if keep_above is not None:
        nights = f"the nights stay above {temperature_text(keep_above.value, 0)}"
    reasons = [
        Reason("last frost", f"past by {day_text(late)} in nine years of ten", "past years here")
    ]
    if warm:
        reasons.append(span_reason("trees that want warm nights wait", lead, "weeks"))
    deed = f"Bring out when {nights}, into shade and out of wind for the first two weeks."
    return _move(case, "out-of-shelter", late.year, Days(first, last), deed, tuple(reasons))


def _move(
    case: Case, action: str, year: int, span: Days, deed: str, reasons: tuple[Reason, ...]
) -> Advice:
    inward = action == "winter-shelter"
    closed = inward and shelter_class(case) != "HARDY"
    return Advice(
        kind=CareKind.WINTER,
        action=action,
        tree=case.tree.id,
        cycle=str(year),
        span=span,
        fact="into winter shelter" if inward else "out of shelter",
        deed=deed,
        urgency=urgency_of_days(case.on, span.first, span.last),
        severity=Severity.MODERATE,
        certainty=Certainty.POSSIBLE,
        rule="winter R50 R53" if inward else "winter R52",
        reasons=(*reasons, *lifting_reasons(case)),
        cautions=(*lifting(case), *(("heaters", "electricity-outdoors") if closed else ())),
    )
