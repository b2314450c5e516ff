"""Into winter shelter and out again, and the cold that a temperate tree needs.

Before the first frost of autumn every tree goes where its taxon wants to be in
winter; tender trees go earlier, and come out again when the last frost of spring is
past. Trees of cold winters come out of shed and frame before they grow, and stay out
of warmth until they have had their weeks of cold.
"""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity
from mebuki.domain.outlook import LEVELS, Milestone
from mebuki.domain.wording import day_text, listing, number_text, temperature_text
from mebuki.rules.hazards import lifting, lifting_reasons
from mebuki.rules.risk import harm_threshold, span_reason, urgency_of_days
from mebuki.rules.shelter import frost_free, needs_cold, shelter_reasons
from mebuki.season.seasons import season_start

EARLY, MEDIAN, LATE = LEVELS.index(10), LEVELS.index(50), LEVELS.index(90)
GRACE = timedelta(days=14)
"""How long a window that has closed is still told, so that it does not come and go."""

LEAST = timedelta(days=7)
"""Least length of the window for moving hardy trees, also where a frost is forecast (default)."""

SHELTER_DEED = {
    "INDOOR": "Bring indoors or into a heated house, into good light",
    "FROST_FREE": "Bring into a frost-free, light place",
    "COLD_FRAME": "Put into a cold frame or unheated shed, out of wind",
    "HARDY": "Set the pot on the ground, mulch or insulate it, out of wind",
}
"""What each shelter class of the taxon files asks for."""

CLOSED = ("cold-frame", "shed", "indoors")
"""Kinds of place that trees come out of in spring."""


def moves(case: Case) -> tuple[Advice, ...]:
    """Return the moves into and out of shelter that are ahead, and a place that is too warm."""
    found = (_into_shelter(case), _out_of_shelter(case), _out_of_store(case), _too_warm(case))
    return tuple(advice for advice in found if advice is not None)


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
    reasons += _kept_elsewhere(case, shelter)
    return _move(
        case,
        "winter-shelter",
        _autumn_of(median),
        Days(first, last),
        f"{SHELTER_DEED[shelter]}{_where(case, shelter)}.",
        (*reasons, *(shelter_reasons(case) if shelter != "HARDY" else ())),
    )


def _kept_elsewhere(case: Case, shelter: str) -> tuple[Reason, ...]:
    """Return at what temperature arboreta keep such trees in winter."""
    practice = case.rulebook.practice
    if shelter == "COLD_FRAME":
        store = practice.figure("winter.store_temperature")
        return (span_reason("an arboretum's cold store is kept at", store, "°C"),)
    if case.taxon.group == "tropical":
        warm = practice.figure("winter.tropical_minimum")
        return (span_reason("an arboretum keeps tropical trees above", warm, "°C"),)
    return ()


def _where(case: Case, shelter: str) -> str:
    """Return the names of the garden's places for a shelter class, in brackets, or nothing."""
    if shelter == "HARDY":
        return ""
    fit = case.shelters
    if shelter != "COLD_FRAME":
        fit = frost_free(fit, harm_threshold(case).value)
    return f" ({listing([each.place for each in fit], 'or')})" if fit else ""


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
    practice = case.rulebook.practice
    warm_taxon, out = practice.figure("winter.warm_taxon"), practice.figure("winter.out_days")
    warm = keep_above is not None and keep_above.value >= warm_taxon.value
    lead = case.rulebook.practice.figure("winter.tender_lead_weeks")
    first = late + timedelta(days=1, weeks=lead.value if warm else 0)
    last = first + timedelta(days=out.value)
    if case.on > last + GRACE:
        return None
    nights = "the nights are free of frost"
    if keep_above is not None:
        nights = f"the nights stay above {temperature_text(keep_above.value, 0)}"
    reasons = [
        span_reason("brought out over", out, "days"),
        Reason("last frost", f"past by {day_text(late)} in nine years of ten", "past years here"),
    ]
    if warm:
        reasons.append(span_reason("trees that want warm nights wait", lead, "weeks"))
        reasons.append(span_reason("wants warm nights if kept above", warm_taxon, "°C"))
    deed = f"Bring out when {nights}, into shade and out of wind for the first two weeks."
    return _move(case, "out-of-shelter", late.year, Days(first, last), deed, tuple(reasons))


def _out_of_store(case: Case) -> Advice | None:
    """Return the way out of shed or frame for a tree of cold winters: before it grows."""
    season = case.outlook.season
    swell = case.outlook.stage(Milestone.SWELL, season)
    growth = case.outlook.stage(Milestone.BREAK, season)
    tender = shelter_class(case) in ("INDOOR", "FROST_FREE")
    if tender or case.place.kind not in ("shed", "cold-frame") or _fresh_roots(case):
        return None
    if swell is None or growth is None or swell.likely is None or growth.likely is None:
        return None
    first = swell.likely
    last = max(growth.likely - timedelta(days=1), first)
    if case.on > last + GRACE:
        return None
    reasons = (
        Reason("buds swell", f"likely {day_text(first)}", "season model"),
        Reason("first growth", f"likely {day_text(growth.likely)}", "season model"),
        span_reason(
            "an arboretum's trees stay in store for",
            case.rulebook.practice.figure("winter.store_months"),
            "months",
        ),
        *_cold_so_far(case),
    )
    deed = (
        "Bring out before the buds open, so that the leaves grow in light and wind; protect it "
        "on nights of frost once they have opened."
    )
    return _move(case, "out-of-shelter", season, Days(first, last), deed, reasons)


def _fresh_roots(case: Case) -> bool:
    """Whether its root ball must still be kept above freezing after a repotting."""
    last = case.tree.last("repotted")
    weeks = case.rulebook.practice.value("repot.frost_free_weeks")
    return last is not None and case.on <= last.on + timedelta(weeks=weeks)


def _cold_so_far(case: Case) -> tuple[Reason, ...]:
    weeks = case.outlook.cold_weeks
    practice = case.rulebook.practice
    if weeks is None or not needs_cold(case.taxon, practice):
        return ()
    wanted, below = practice.figure("winter.chill_weeks"), practice.value("winter.chill_below")
    told = f"{weeks:.1f} of {number_text(wanted.value)} weeks below {temperature_text(below)}"
    return (Reason("cold so far", told, wanted.source),)


def _too_warm(case: Case) -> Advice | None:
    """Return that a tree stands too warm in winter to get the cold it needs."""
    held, weeks = case.place.minimum_held, case.outlook.cold_weeks
    practice = case.rulebook.practice
    if held is None or held < practice.value("winter.warm_place"):
        return None
    if not needs_cold(case.taxon, practice):
        return None
    begins = date.fromordinal(season_start(case.outlook.season, case.site.southern))
    ends = begins + timedelta(days=practice.value("winter.cold_days"))
    enough = weeks is not None and weeks >= practice.value("winter.chill_weeks")
    if enough or not begins <= case.on <= ends:
        return None
    names = listing([each.place for each in case.shelters], "or")
    where = f" ({names})" if names else ""
    had = f"{weeks:.1f}" if weeks is not None else "unknown how many"
    return Advice(
        kind=CareKind.WINTER,
        action="too-warm",
        tree=case.tree.id,
        cycle=str(case.outlook.season),
        span=Days(begins, ends),
        fact=(
            f"it needs {number_text(practice.value('winter.chill_weeks'))} weeks of cold and has "
            f"had {had}"
        ),
        deed=(
            f"Move to a cold place where the pot does not freeze hard{where}"
            "; in the warm it wakes early and weak."
        ),
        urgency=urgency_of_days(case.on, begins, ends),
        severity=Severity.MODERATE,
        certainty=Certainty.LIKELY,
        rule="winter R50",
        reasons=(
            Reason("held here", temperature_text(held), "your garden file"),
            *_cold_so_far(case),
            span_reason("too warm from", practice.figure("winter.warm_place"), "°C"),
            span_reason("told in the first", practice.figure("winter.cold_days"), "days"),
            *shelter_reasons(case),
        ),
        cautions=lifting(case),
    )


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
