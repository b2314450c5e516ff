"""Bends: frost kept from a tree bent in autumn or winter.

Bent wood has fine cracks that frost opens. A tree bent or wired once growth is
over is kept from frost for some weeks; frozen wood is not bent strongly at all.
"""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Severity, Urgency
from mebuki.domain.tree import Record, RecordKind
from mebuki.domain.wording import dated, day_text
from mebuki.rules.risk import harm_threshold, span_reason
from mebuki.rules.shelter import named, shelter_reasons

COLD_MONTHS = {False: (9, 10, 11, 12, 1, 2), True: (3, 4, 5, 6, 7, 8)}
"""Months of autumn and winter, by ``southern``."""


def bent(case: Case, *kinds: RecordKind) -> Record | None:
    """Return the newest bend of autumn or winter from which frost is still to be kept."""
    record = case.tree.last(*kinds)
    if record is None or record.on.month not in COLD_MONTHS[case.site.southern]:
        return None
    return record if case.on <= guarded_until(case, record.on) else None


def guarded_until(case: Case, day: date) -> date:
    """Return until when a tree bent on a day is kept from frost."""
    weeks = case.rulebook.practice.value("wire.frost_guard_weeks")
    return day + timedelta(weeks=weeks)


def bend_guard(case: Case) -> Advice | None:
    """Return the care after a bend or a wiring in autumn or winter, while it lasts."""
    record = bent(case, "major-bend", "wired")
    if record is None or case.taxon.group == "tropical":
        return None
    practice = case.rulebook.practice
    until = guarded_until(case, record.on)
    names = named(case, harm_threshold(case).value)
    where = f", such as {names}" if names else ""
    done = "bent strongly" if record.kind == "major-bend" else "wired"
    return Advice(
        kind=CareKind.WIRE,
        action="bend-guard",
        tree=case.tree.id,
        cycle=record.on.isoformat(),
        span=Days(record.on, until),
        fact=f"{done} {day_text(record.on)}: keep from frost until {day_text(until)}",
        deed=(
            f"Keep it out of frost and wind, in a bright cold place{where}. Bend nothing "
            "strongly while the wood is frozen."
        ),
        urgency=Urgency.EXPECTED,
        severity=Severity.MODERATE,
        certainty=Certainty.OBSERVED,
        rule="wire R18 R19",
        reasons=(
            span_reason(f"kept from frost after {dated(record.on)}",
                        practice.figure("wire.frost_guard_weeks"), "weeks"),
            span_reason("no strong bend below", practice.figure("wire.bend_minimum"), "°C"),
            span_reason("no strong bend after repotting within",
                        practice.figure("wire.bend_after_repotting_weeks"), "weeks"),
            *shelter_reasons(case),
        ),
    )  # fmt: skip
