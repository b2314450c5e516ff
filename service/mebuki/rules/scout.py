"""Pests: when to look for what, by the warmth since spring.

Animals follow degree days as buds do. Each cue of the pest file names its hosts, its
window in degree days and the region in which the figures were gathered; elsewhere, and
under glass, it is a hint. The advice is always to look now, never to treat: what is
found is for the keeper to judge. Trees indoors get none, for no such figures hold there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity
from mebuki.domain.pest import PestCue
from mebuki.domain.warmth import DegreeDays
from mebuki.domain.wording import day_text, number_text
from mebuki.rules.risk import span_reason, urgency_of_days

PARTS = ((60.0, "early-spring"), (200.0, "spring"), (600.0, "early-summer"), (1100.0, "summer"))
"""Degree days [°C d] up to which a cue belongs to a part of the season, in order (default)."""

LATE = "late-summer"
"""The part of the season after those."""


@dataclass(frozen=True, slots=True)
class Look:
    """When to look for one pest: early, likely and late first day, and the last one."""

    early: date | None
    first: date
    late: date | None
    last: date


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the looks at pests that are due or near on one tree."""
    if case.place.kind == "indoors":
        return ()
    return tuple(_cues(case))


def _cues(case: Case) -> Iterable[Advice]:
    ahead = timedelta(days=case.rulebook.practice.value("scout.ahead_days"))
    for cue in case.rulebook.pests.values():
        if not cue.infests(case.taxon.id):
            continue
        for warmth in case.outlook.degree_days:
            look = _look(case, cue, warmth)
            if look is not None and look.first - ahead <= case.on <= look.last:
                yield _advice(case, cue, warmth, look)


def _look(case: Case, cue: PestCue, warmth: DegreeDays) -> Look | None:
    early, first, late = warmth.reached(cue.begins.value)
    if first is None:
        return None
    practice = case.rulebook.practice
    if cue.ends is None:
        last = first + timedelta(days=practice.value("scout.point_days"))
        return Look(early, first, late, last)
    longest = first + timedelta(days=practice.value("scout.look_days"))
    ends = warmth.reached(cue.ends.value)[1]
    return Look(early, first, late, min(longest, ends) if ends else longest)


def part_of(cue: PestCue) -> str:
    """Return the part of the season that a cue belongs to, by its degree days alone."""
    return next((name for limit, name in PARTS if cue.begins.value <= limit), LATE)


def _advice(case: Case, cue: PestCue, warmth: DegreeDays, look: Look) -> Advice:
    begun = look.late is not None and look.late <= case.on
    return Advice(
        kind=CareKind.SCOUT,
        action="scout",
        tree=case.tree.id,
        cycle=f"{warmth.season}/{part_of(cue)}/{cue.id}",
        span=Days(look.first, look.last),
        fact=f"{cue.name}: look {cue.look} (by figures from {cue.region})",
        deed="Look now, while they are few; what you find is for you to judge.",
        urgency=urgency_of_days(case.on, look.first, look.last),
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY if begun else Certainty.POSSIBLE,
        rule="scout degree days",
        reasons=_reasons(case, cue, warmth, look),
        cautions=("pesticides-and-preservatives",),
    )


def _reasons(case: Case, cue: PestCue, warmth: DegreeDays, look: Look) -> tuple[Reason, ...]:
    base, since = number_text(warmth.base), day_text(warmth.begins)
    window = number_text(cue.begins.value)
    if cue.ends is not None:
        window += f" to {number_text(cue.ends.value)}"
    early = day_text(look.early) if look.early else "unknown"
    late = day_text(look.late) if look.late else "later than can be seen"
    spread = "" if early == late else f" (8 of 10 cases {early} to {late})"
    told = [
        Reason(
            f"degree days above {base} °C since {since}",
            f"{number_text(round(warmth.total_on(case.on)))} °C d so far",
            "weather at this place",
        ),
        Reason("the cue", f"{window} °C d", cue.begins.source),
        Reason("region of these figures", f"{cue.region}; elsewhere a hint", cue.begins.source),
        Reason(
            "reached",
            f"{day_text(look.first)}{spread}",
            "this year so far, then past years here",
        ),
    ]
    practice = case.rulebook.practice
    longest = "scout.point_days" if cue.ends is None else "scout.look_days"
    told += [
        span_reason("told ahead by", practice.figure("scout.ahead_days"), "days"),
        span_reason("told for at most", practice.figure(longest), "days"),
    ]
    if cue.begins.note:
        told.append(Reason("note", cue.begins.note, cue.begins.source))
    return tuple(told)
