"""Wind: gusts that tip pots over, and wind or sun on frozen root balls.

A strong gust throws a tree with its pot off the bench; a tree just repotted loses its
grip long before. Evergreens go on losing water when the ball is frozen: wind and sun
above freezing dry them where roots cannot follow.
"""

from __future__ import annotations

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
from mebuki.domain.exposure import HardDay
from mebuki.domain.figure import Figure
from mebuki.domain.wording import count_text, number_text
from mebuki.rules.hazards import lifting, lifting_reasons
from mebuki.rules.risk import span_reason

CLOSED = ("cold-frame", "greenhouse", "shed", "indoors")
TOMORROW = 1


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the days of gale, or of wind on a frozen root ball, for one tree."""
    days = case.outlook.hard_days
    gales = () if case.place.kind in CLOSED else tuple(day for day in days if _gale(case, day))
    drying = tuple(day for day in days if _dries(case, day))
    return (*(_for_gale(case, day) for day in gales), *(_for_drying(case, day) for day in drying))


def _gale(case: Case, day: HardDay) -> bool:
    return day.lead_days <= TOMORROW and day.gust_least >= _limit(case, day).value


def _limit(case: Case, day: HardDay) -> Figure:
    """Return the gust to tie pots down for; more is asked where gusts are only reckoned."""
    known = day.gust_least == day.gust_most
    return case.rulebook.practice.figure("wind.gust_limit" if known else "wind.gust_estimated")


def _dries(case: Case, day: HardDay) -> bool:
    hours = case.rulebook.practice.value("winter.drying_hours")
    return case.taxon.evergreen and day.lead_days <= TOMORROW and day.drying_hours >= hours


def _for_gale(case: Case, day: HardDay) -> Advice:
    gusts = f"{day.gust_least:.0f} to {day.gust_most:.0f} m/s"
    if day.gust_least == day.gust_most:
        gusts = f"{day.gust_most:.0f} m/s"
    low = case.place.pot_on_ground
    fresh = " It was repotted lately: keep it still." if _loose(case) else ""
    first = "Tie the pot down" if low else "Tie the pot down or set it on the ground"
    return _advice(
        case,
        day,
        action="gale-day",
        fact=f"gusts of {gusts}",
        deed=f"{first}, out of the wind, and take in shade cloth and covers.{fresh}",
        rule="wind gusts",
        reasons=(
            Reason("gusts", f"{gusts}, from the hourly wind where no gust is known", "forecast"),
            span_reason("tie down from", _limit(case, day), "m/s"),
            *_loose_reasons(case),
        ),
        severe=_loose(case),
    )


def _loose(case: Case) -> bool:
    """Whether it was repotted so lately that its roots hold it poorly."""
    last = case.tree.last("repotted")
    weeks = case.rulebook.practice.value("repot.shelter_weeks")
    return last is not None and (case.on - last.on).days <= 7 * weeks


def _loose_reasons(case: Case) -> tuple[Reason, ...]:
    if not _loose(case):
        return ()
    weeks = case.rulebook.practice.figure("repot.shelter_weeks")
    return (span_reason("roots hold poorly after repotting for", weeks, "weeks"),)


def _for_drying(case: Case, day: HardDay) -> Advice:
    hours = count_text(day.drying_hours, "hour")
    figure = case.rulebook.practice.figure("winter.drying_hours")
    return _advice(
        case,
        day,
        action="frozen-wind",
        fact=f"root ball frozen and {hours} of wind or sun above 0 °C",
        deed="Shade it and keep the wind off until the ball has thawed; do not lift or water it.",
        rule="wind on frozen roots R42",
        reasons=(
            Reason("hours of wind or sun on a frozen ball", number_text(day.drying_hours), "model"),
            span_reason("told from", figure, "hours"),
        ),
        severe=False,
        frozen=True,
    )


def _advice(  # noqa: PLR0913 - the parts in which one day's advice differs from another's
    case: Case,
    day: HardDay,
    *,
    action: str,
    fact: str,
    deed: str,
    rule: str,
    reasons: tuple[Reason, ...],
    severe: bool,
    frozen: bool = False,
) -> Advice:
    weights = () if frozen else lifting_reasons(case)
    return Advice(
        kind=CareKind.WIND,
        action=action,
        tree=case.tree.id,
        cycle=day.day.isoformat(),
        span=Days(day.day, day.day),
        fact=fact,
        deed=deed,
        urgency=Urgency.IMMEDIATE if day.lead_days == 0 else Urgency.EXPECTED,
        severity=Severity.SEVERE if severe else Severity.MODERATE,
        certainty=Certainty.LIKELY,
        rule=rule,
        reasons=(*reasons, *weights),
        cautions=("frozen-pots",) if frozen else lifting(case),
    )
