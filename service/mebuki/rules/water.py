"""Watering: which pots will have used up their easily available water today or tomorrow.

A pot asks for water when by the evening it has used the trigger share of its
easily available water. It is a reminder to look, not a command. A frozen root
ball is not watered, lifted or moved. Where the reckoned use empties the pot
absurdly often or never in dry summer air, the sizes on record are doubted
rather than the keeper called; a pot that empties more than a few times a day
wants two waterings and some shade, not five notices. In winter pots under cover are
felt once a week, and dry ones watered before hard frost.
"""

from __future__ import annotations

import calendar
from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity, Urgency
from mebuki.domain.outlook import WaterDay
from mebuki.domain.wording import clock_text, count_text, day_text, number_text, percent_text
from mebuki.rules.endurance import endurance
from mebuki.rules.risk import share_reason, span_reason
from mebuki.rules.water_model import model_reasons
from mebuki.rules.winter_water import before_frost, weekly_check

DRY_AIR = 3.0
"""Reference evaporation [mm d-1] from which a pot that never empties is doubted."""

GUESSES = ("default", "memory", "guess")
"""Words in a source that mark a value nobody measured."""


def advise(case: Case) -> tuple[Advice, ...]:
    """Return what today and tomorrow ask of one pot, and what winter asks."""
    near = _near_days(case)
    today = any(each.action == "water-today" and each.urgency is Urgency.IMMEDIATE for each in near)
    winter = (weekly_check(case), None if today else before_frost(case))
    return (*near, *(advice for advice in winter if advice is not None))


def _near_days(case: Case) -> tuple[Advice, ...]:
    near = (case.on, case.on + timedelta(days=1))
    days = [water for water in case.outlook.water if water.day in near]
    if any(_doubtful(case, water) for water in days):
        return (_check_size(case, next(water for water in days if _doubtful(case, water))),)
    found = [_frozen(case, water) if water.frozen else _thirsty(case, water) for water in days]
    if case.outlook.available_doubt and days:
        found.append(_check_records(case, days[0]))
    return tuple(advice for advice in found if advice is not None)


def _doubtful(case: Case, water: WaterDay) -> bool:
    practice = case.rulebook.practice
    if water.frozen:
        return False
    too_often = water.empties > practice.value("water.empties_high")
    never = water.empties < practice.value("water.empties_low")
    return too_often or (never and water.reference_evaporation >= DRY_AIR)


def _thirsty(case: Case, water: WaterDay) -> Advice | None:
    trigger = case.rulebook.practice.figure("water.trigger_share")
    if water.share_evening > 1 - trigger.value:
        return None
    twice = water.empties > case.rulebook.practice.value("water.twice_above")
    dry = f"likely dry by {clock_text(water.dry_at, case.site.zone)}" if water.dry_at else (
        f"{percent_text(max(water.share_evening, 0.0))} of its easy water left by evening"
    )  # fmt: skip
    return _advice(
        case,
        water,
        action="water-today",
        fact=f"{dry}{', water twice' if twice else ''}",
        deed=(
            "Water twice by hand, morning and afternoon, and give shade or a wet tray."
            if twice
            else "Look at midday, or before the hour given; water through where the top is dry."
        ),
        rule="water R40 R41",
        extra=(
            share_reason("water when so much is used", trigger),
            *_manner(case, twice=twice),
            *model_reasons(case),
            *_when(case, water),
            *_lasts(case),
        ),
    )


def _when(case: Case, water: WaterDay) -> tuple[Reason, ...]:
    """Return between which hours the pot is dry, as unsure as its use and its size are."""
    if water.dry_earliest is None:
        return ()
    first, zone = clock_text(water.dry_earliest, case.site.zone), case.site.zone
    told = f"from {first} on, if at all today"
    if water.dry_latest is not None:
        told = f"between {first} and {clock_text(water.dry_latest, zone)}"
    return (Reason("dry, two times in three", told, "spread of use and of what the pot holds"),)


def _manner(case: Case, *, twice: bool) -> tuple[Reason, ...]:
    """Return how to water, and from when twice a day."""
    practice = case.rulebook.practice
    told = (
        span_reason("top dry to a depth of", practice.figure("water.dry_depth_mm"), "mm"),
        span_reason("when dry, pour through", practice.figure("water.passes"), "times"),
    )
    often = practice.figure("water.twice_above")
    return (*told, span_reason("twice a day above", often, "emptyings")) if twice else told


def _lasts(case: Case) -> tuple[Reason, ...]:
    found = endurance(case.outlook, case.rulebook.practice.value("water.absence_days"))
    if found is None:
        return ()
    told, shortest = str(found), int(found.shortest)
    if not found.open_end and 1 <= shortest < int(found.days):
        told += f", likely no less than {count_text(shortest, 'day')}"
    return (Reason("lasts without water", told, "model, no rain"),)


def _frozen(case: Case, water: WaterDay) -> Advice | None:
    return _advice(
        case,
        water,
        action="do-not-water-frozen",
        fact="the root ball is frozen",
        deed="Do not water, lift, move or repot it until it has thawed.",
        rule="water R42",
        cautions=("frozen-pots",),
    )


def _advice(  # noqa: PLR0913 - the parts in which one day's advice differs from another's
    case: Case,
    water: WaterDay,
    *,
    action: str,
    fact: str,
    deed: str,
    rule: str,
    extra: tuple[Reason, ...] = (),
    cautions: tuple[str, ...] = (),
) -> Advice:
    today = water.day == case.on
    return Advice(
        kind=CareKind.WATER,
        action=action,
        tree=case.tree.id,
        cycle=water.day.isoformat(),
        span=Days(water.day, water.day),
        fact=fact,
        deed=deed,
        urgency=Urgency.IMMEDIATE if today else Urgency.EXPECTED,
        severity=Severity.MODERATE if today else Severity.MINOR,
        certainty=Certainty.LIKELY if today else Certainty.POSSIBLE,
        rule=rule,
        reasons=(*_numbers(case, water), *extra),
        cautions=cautions,
    )


def _numbers(case: Case, water: WaterDay) -> tuple[Reason, ...]:
    return (
        Reason(
            f"reference evaporation {day_text(water.day)}",
            f"{number_text(round(water.reference_evaporation, 1))} mm",
            "Allen et al. 1998, FAO-56",
        ),
        Reason(
            "use of the tree",
            f"{water.use:.2f} ± {water.spread:.2f} L of {case.outlook.available_water:.2f} L "
            "easily available",
            "model",
        ),
        *_held(case),
    )


def _held(case: Case) -> tuple[Reason, ...]:
    """Return what the full pot holds as a range, and whether that is a guess."""
    low, high = case.outlook.available_low, case.outlook.available_high
    if low is None or high is None:
        return ()
    source = case.outlook.available_source
    guess = any(word in source for word in GUESSES) and "found dry" not in source
    told = f"{low:.2f} to {high:.2f} L"
    return (
        Reason(
            "easily available water of the full pot",
            f"a guess, {told}: weigh the pot to know it" if guess else f"likely {told}",
            source,
        ),
    )


def _check_size(case: Case, water: WaterDay) -> Advice:
    practice = case.rulebook.practice
    often = f"{number_text(float(f'{water.empties:.2g}'))} times a day"
    return _check(
        case,
        f"its pot would empty {often}: check pot and canopy size on record",
        "Measure the pot and the crown again; until then water it by eye.",
        (
            *_numbers(case, water),
            span_reason("believable at least", practice.figure("water.empties_low"), "a day"),
            span_reason("believable at most", practice.figure("water.empties_high"), "a day"),
        ),
    )


def _check_records(case: Case, water: WaterDay) -> Advice:
    """Return the question whether records or sizes are right; they are not used until then."""
    return _check(
        case,
        f"{case.outlook.available_doubt}: check its records and sizes",
        "Weigh the pot drained and again when it wants water, and measure pot and crown; "
        "until then these records are left out.",
        _numbers(case, water),
    )


def _check(case: Case, fact: str, deed: str, reasons: tuple[Reason, ...]) -> Advice:
    first, last = _month(case.on)
    return Advice(
        kind=CareKind.WATER,
        action="check-size",
        tree=case.tree.id,
        cycle=f"{first:%Y-%m}",
        span=Days(first, last),
        fact=fact,
        deed=deed,
        urgency=Urgency.FUTURE,
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY,
        rule="water sanity",
        reasons=reasons,
    )


def _month(day: date) -> tuple[date, date]:
    length = calendar.monthrange(day.year, day.month)[1]
    return day.replace(day=1), day.replace(day=length)
