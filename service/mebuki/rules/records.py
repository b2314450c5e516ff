"""Records that contradict others: shown to the keeper to mend, and not used until then."""

from __future__ import annotations

import calendar

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
from mebuki.domain.wording import count_text


def advise(case: Case) -> tuple[Advice, ...]:
    """Return one advice that names the records of a tree which cannot be so."""
    if not case.doubts:
        return ()
    length = calendar.monthrange(case.on.year, case.on.month)[1]
    doubts = count_text(len(case.doubts), "record")
    return (
        Advice(
            kind=CareKind.OBSERVE,
            action="mend-records",
            tree=case.tree.id,
            cycle=f"{case.on:%Y-%m}",
            span=Days(case.on.replace(day=1), case.on.replace(day=length)),
            fact="; ".join(case.doubts),
            deed="Look into your notes and mend the records named; they are not used until then.",
            urgency=Urgency.FUTURE,
            severity=Severity.MINOR,
            certainty=Certainty.OBSERVED,
            rule="observe records",
            reasons=tuple(
                Reason(f"record {number} of {doubts}", told, "your records")
                for number, told in enumerate(case.doubts, 1)
            ),
        ),
    )
