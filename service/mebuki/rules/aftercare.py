"""Care after repotting: first watering, shade and calm, rest from feed, no frost, no floods."""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity, Urgency
from mebuki.domain.figure import Figure
from mebuki.domain.wording import day_text, number_text
from mebuki.rules.risk import harm_threshold, span_reason
from mebuki.rules.shelter import named, shelter_reasons

FIRST_DAYS = 2
"""Days after repotting in which the first watering is told (default)."""


def aftercare(case: Case) -> Advice | None:
    """Return the care after the last repotting, while any of it lasts."""
    last = case.tree.last("repotted")
    practice = case.rulebook.practice
    frost_free = practice.figure("repot.frost_free_weeks")
    if last is None or case.on > after(last.on, frost_free):
        return None
    shade, feed = practice.figure("repot.shelter_weeks"), practice.figure("repot.feed_pause_weeks")
    rain = practice.figure("repot.rain_guard_weeks")
    steps = (("shade and wind shelter", shade), ("no feed", feed), ("no frost", frost_free))
    told = ", ".join(f"{name} until {day_text(after(last.on, span))}" for name, span in steps)
    return Advice(
        kind=CareKind.REPOT,
        action="aftercare",
        tree=case.tree.id,
        cycle=last.on.isoformat(),
        span=Days(last.on, after(last.on, frost_free)),
        fact=f"repotted {day_text(last.on)}: {told}",
        deed=_deed(case, last.on),
        urgency=Urgency.EXPECTED,
        severity=Severity.MODERATE,
        certainty=Certainty.OBSERVED,
        rule="repot R24 R25 R26 R29",
        reasons=(
            *(span_reason(name, span, "weeks") for name, span in steps),
            span_reason("out of heavy rain", rain, "weeks"),
            Reason(
                "heavy rain", f"{number_text(practice.value('repot.rain_guard_mm'))} mm in a day",
                practice.figure("repot.rain_guard_mm").source,
            ),
            *shelter_reasons(case),
        ),
    )  # fmt: skip


def _deed(case: Case, repotted: date) -> str:
    first = ""
    if case.on <= repotted + timedelta(days=FIRST_DAYS):
        first = "Water through now until it runs clear from the holes. "
    names = named(case, harm_threshold(case).value)
    where = f"; {names} would keep frost out in the coming nights" if names else ""
    return (
        f"{first}Shade and shelter from wind first, no feed until the roots have grown, and no "
        f"frost on the root ball{where}; the days are named below. Then water when the surface "
        "dries, and keep it out of heavy rain for the first weeks."
    )


def after(day: date, weeks: Figure) -> date:
    """Return the day so many weeks later."""
    return day + timedelta(weeks=weeks.value)
