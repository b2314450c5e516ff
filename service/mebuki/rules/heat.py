"""Heat: pots whose wall gets too hot for roots, and leaves that scorch in dry air.

The wall of a pot in the sun is far warmer than the air; roots suffer from 38 °C and
die from a little more. Leaves scorch where the air stays dry for hours and either
wind blows or the pot is out of water. What to do depends on the place.
"""

from __future__ import annotations

from collections.abc import Mapping

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
from mebuki.domain.wording import count_text, number_text, temperature_text
from mebuki.rules.hazards import lifting, lifting_reasons
from mebuki.rules.risk import span_reason
from mebuki.season.heat_wind import WallHeat

DEEDS: Mapping[str, str] = {
    "bench": "Move it to half shade, or shade the pot's south and west side; water early, and "
    "keep it off hot stone.",
    "shade-bench": "Shade the pot's south and west side and water early.",
    "ground": "Shade the pot's south and west side and water early.",
    "cold-frame": "Open the frame, lay shade cloth over it and water early.",
    "greenhouse": "Ventilate, shade the glass and water early.",
    "shed": "Open door and window, and water early.",
    "indoors": "Draw it back from the glass out of the midday sun, and water early.",
}
"""What to do against heat, by kind of place."""

LEAVES = " Shade the leaves and keep the wind off them through the middle of the day."
TOMORROW = 1


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the hot or scorching days of today and the next three for one tree.

    Today's and tomorrow's ask for a deed, later ones are kept in view.
    """
    return tuple(_for_day(case, day) for day in case.outlook.hard_days if _matters(day))


def _matters(day: HardDay) -> bool:
    return day.heat >= WallHeat.WATCH or day.scorches


def _acts(day: HardDay) -> bool:
    """Whether to do something now: days further off are kept in view alone."""
    return day.lead_days <= TOMORROW and (day.heat >= WallHeat.ACT or day.scorches)


def _for_day(case: Case, day: HardDay) -> Advice:
    acts = _acts(day)
    urgent = day.heat >= WallHeat.URGENT
    return Advice(
        kind=CareKind.HEAT,
        action="heat-day" if acts else "heat-watch",
        tree=case.tree.id,
        cycle=day.day.isoformat(),
        span=Days(day.day, day.day),
        fact=_fact(day),
        deed=_deed(case, day) if acts else "Nothing yet: kept in view.",
        urgency=_urgency(day),
        severity=Severity.SEVERE if urgent else Severity.MODERATE if acts else Severity.MINOR,
        certainty=Certainty.LIKELY if acts else Certainty.POSSIBLE,
        rule="heat limits of wall and air",
        reasons=(*_reasons(case, day), *lifting_reasons(case)),
        cautions=lifting(case),
    )


def _urgency(day: HardDay) -> Urgency:
    if day.lead_days == 0:
        return Urgency.IMMEDIATE
    return Urgency.EXPECTED if day.lead_days == TOMORROW else Urgency.FUTURE


def _fact(day: HardDay) -> str:
    told = []
    if day.heat >= WallHeat.WATCH:
        told.append(f"pot wall up to {temperature_text(day.wall_warmest, 0)} in the sun")
    if day.scorches:
        told.append("leaves may scorch in dry air")
    return ", ".join(told)


def _deed(case: Case, day: HardDay) -> str:
    pot = DEEDS[case.place.kind] if day.heat >= WallHeat.ACT else "Water early."
    return pot + (LEAVES if day.scorches else "")


def _wall(day: HardDay) -> str:
    """Return how warm the wall gets, from the lower to the upper estimate."""
    most = temperature_text(day.wall_warmest, 0)
    if day.wall_least is None or round(day.wall_least) >= round(day.wall_warmest):
        return f"{most} at most"
    return f"{temperature_text(day.wall_least, 0)} to {most}"


def _reasons(case: Case, day: HardDay) -> tuple[Reason, ...]:
    practice = case.rulebook.practice
    act = practice.figure("heat.root_act")
    return (
        Reason(
            "pot wall, sunny side",
            f"{_wall(day)}, "
            f"{count_text(day.hours_hot, 'hour')} at {number_text(act.value)} °C or more",
            "pot model; that the sunny side adds 3 to 5 °C is a guess (default)",
        ),
        span_reason("watch from", practice.figure("heat.root_watch"), "°C"),
        span_reason("act from", act, "°C"),
        span_reason("if it lasts", practice.figure("heat.root_act_hours"), "hours"),
        span_reason("urgent from", practice.figure("heat.root_urgent"), "°C"),
        Reason(
            "dryness of the air", f"{number_text(round(day.deficit, 1))} kPa at most", "forecast"
        ),
        *_dry_reasons(case),
    )


def _dry_reasons(case: Case) -> tuple[Reason, ...]:
    practice = case.rulebook.practice
    return (
        span_reason("leaves scorch from", practice.figure("heat.dry_air_kpa"), "kPa"),
        span_reason("young leaves scorch from", practice.figure("heat.dry_air_kpa_fresh"), "kPa"),
        span_reason("dry air must last", practice.figure("heat.dry_air_hours"), "hours"),
        span_reason("in wind above", practice.figure("heat.dry_air_wind"), "m/s"),
    )
