"""Wire: when to look whether it bites.

Wire bites when the branch has thickened into it, and branches thicken only while
the tree grows. From the growth clock of the season and the ring width expected
of a tree of this vigour follows the day on which the wire may bite; the first
check comes after six tenths of that time, and no later than the taxon's usual
weeks of growth. Further checks follow quickly while growth is fast, monthly
afterwards, and not at all in dormancy, but for the usual longest time that wire
stays on this taxon. The advice is always to look, never to remove on a date:
no threshold of biting has been published. Wire is cut off, never unwound. Where the
thickness of the branch is on record, the wire that suits it is named; a tree bent in
autumn or winter is kept from frost.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from mebuki.domain.advice import Advice, CareKind, Case, Certainty, Days, Reason, Severity, Urgency
from mebuki.domain.outlook import GrowthClock
from mebuki.domain.tree import Record
from mebuki.domain.wording import dated, day_text, percent_text
from mebuki.rules.bends import bend_guard
from mebuki.rules.gauge import gauge_reasons
from mebuki.rules.risk import (
    LEVELS_MEDIAN,
    months_after,
    share_reason,
    span_reason,
    urgency_of_days,
)
from mebuki.season.growth import bite_day, growth_share

WEEK, MONTH = 7, 28
"""How often an overdue check is told anew [d]: at first, and later (design default)."""

CHECK_DAYS = 6
"""Days after the first on which a check is still in time (design default)."""

ONSET = 0.17
"""Part of the time from 10 to 90 % of growth by which growth begins before 10 %.

On a Gompertz curve 2 % of growth is reached about so much earlier.
"""

DEED = (
    "Look under the wire where the branch is thickest, before it bites. Where it lies flush "
    "with the bark, cut it off turn by turn; never unwind it."
)


@dataclass(frozen=True, slots=True)
class Wired:
    """Wire that is on a tree: when it went on, when it was looked at, how thick the branch is.

    ``removed_after`` is the usual longest time on the tree [months], ``branch`` the
    thickness of the branch [mm] where it is on record.
    """

    on: date
    checks: tuple[date, ...]
    removed_after: float
    branch: float | None = None

    @property
    def anchor(self) -> date:
        """The last day on which somebody looked."""
        return self.checks[-1] if self.checks else self.on


@dataclass(frozen=True, slots=True)
class Check:
    """The next check: its day, why then, and the day on which the wire may bite."""

    day: date
    why: str
    bites: date | None = None
    share: float | None = None
    clock: GrowthClock | None = None


def advise(case: Case) -> tuple[Advice, ...]:
    """Return the next check of the wire on a tree, and the care after a bend in the cold."""
    found = (_check_advice(case), bend_guard(case))
    return tuple(advice for advice in found if advice is not None)


def _check_advice(case: Case) -> Advice | None:
    wired = _wire_on(case)
    if wired is None:
        return None
    check = _next_check(case, wired)
    first = check.day + timedelta(days=_put_by((case.on - check.day).days))
    last = first + timedelta(days=CHECK_DAYS)
    number = len(wired.checks) + 1
    overdue = f", due since {day_text(check.day)}" if first > check.day else ""
    return Advice(
        kind=CareKind.WIRE,
        action="wire-check",
        tree=case.tree.id,
        cycle=f"{wired.on.isoformat()}/{number}",
        span=Days(first, last, first),
        fact=f"check the wire of {dated(wired.on)}: {check.why}{overdue}",
        deed=DEED,
        urgency=Urgency.IMMEDIATE if overdue else urgency_of_days(case.on, first, last),
        severity=Severity.MODERATE,
        certainty=Certainty.POSSIBLE,
        rule="wire R13 R14 R15 R16",
        reasons=_reasons(case, wired, check),
        cautions=("wire-cutting",),
    )


def _put_by(late: int) -> int:
    """Return by how many days an overdue check is told anew: weekly, after four weeks monthly."""
    step = WEEK if late < MONTH else MONTH
    return step * max(late // step, 0)


def _wire_on(case: Case) -> Wired | None:
    wired: Record | None = case.tree.last("wired")
    removed = case.tree.last("wire-removed")
    if wired is None or (removed is not None and removed.on >= wired.on):
        return None
    checks = (
        record.on
        for record in case.tree.records
        if record.kind == "wire-checked" and record.on >= wired.on
    )
    months = case.taxon.wiring.months_max.value
    return Wired(wired.on, tuple(sorted(checks)), months, wired.amount)


def _next_check(case: Case, wired: Wired) -> Check:
    outer = Check(
        months_after(wired.on, wired.removed_after),
        "it has been on for the usual longest time",
    )
    found = _by_growth(case, wired) if case.outlook.growth else _by_weeks(case, wired)
    if found is None or (outer.day < found.day and outer.day > wired.anchor):
        return outer if outer.day > wired.anchor else _monthly(case, wired)
    return found


def _monthly(case: Case, wired: Wired) -> Check:
    slow = case.rulebook.practice.value("wire.slow_recheck_days")
    day = wired.anchor + timedelta(days=slow)
    return Check(day, "it has been on longer than is usual")


def _by_weeks(case: Case, wired: Wired) -> Check:
    """Return the check by the taxon's usual weeks, where no growth can be foreseen."""
    wiring = case.taxon.wiring
    weeks = wiring.recheck_weeks if wired.checks else wiring.first_check_weeks
    return Check(
        wired.anchor + timedelta(weeks=weeks.value), "by the usual weeks; growth is not foreseen"
    )


def _by_growth(case: Case, wired: Wired) -> Check | None:
    for season, clock in sorted(case.outlook.growth):
        check = _within(case, wired, season, clock)
        if check is not None:
            return check
    return None


def _within(case: Case, wired: Wired, season: int, clock: GrowthClock) -> Check | None:
    """Return the next check within one season of growth, or none if it is over."""
    onset = clock.ten_percent - ONSET * (clock.ninety_percent - clock.ten_percent)
    dormant = _dormancy(case, season, clock)
    anchor = wired.anchor
    if anchor >= dormant:
        return None
    looked = any(onset <= day for day in wired.checks)
    day, why = (
        _recheck(case, anchor, clock) if looked else _first_check(case, max(anchor, onset), clock)
    )
    if day >= dormant:
        return None
    ring, gap = _ring(case), case.rulebook.practice.value("wire.bite_gap")
    bites = bite_day(clock, max(anchor, onset), ring, gap)
    return Check(day, why, bites, growth_share(clock, case.on), clock)


def _dormancy(case: Case, season: int, clock: GrowthClock) -> date:
    frost = case.outlook.autumn_frost[LEVELS_MEDIAN] if case.outlook.autumn_frost else None
    if frost is not None and season == case.outlook.season and frost > clock.ninety_percent:
        return frost
    return clock.ninety_percent + timedelta(days=case.rulebook.practice.value("wire.dormancy_days"))


def _first_check(case: Case, begins: date, clock: GrowthClock) -> tuple[date, str]:
    practice = case.rulebook.practice
    usual = begins + timedelta(weeks=case.taxon.wiring.first_check_weeks.value)
    bites = bite_day(clock, begins, _ring(case), practice.value("wire.bite_gap"))
    if bites is None:
        return usual, "first look after the usual weeks of growth"
    early = begins + practice.value("wire.first_check_share") * (bites - begins)
    if early <= usual:
        return early, f"it may bite by {day_text(bites)}"
    return usual, "first look after the usual weeks of growth"


def _recheck(case: Case, anchor: date, clock: GrowthClock) -> tuple[date, str]:
    practice, wiring = case.rulebook.practice, case.taxon.wiring
    if anchor >= clock.ninety_percent:
        slow = practice.value("wire.slow_recheck_days")
        return anchor + timedelta(days=slow), "growth is slow now"
    days = practice.value("wire.fast_recheck_days")
    if case.tree.vigour != "strong":
        factor = practice.value(f"wire.factor_{wiring.thickening}")
        days = max(days, 7 * factor * wiring.recheck_weeks.value)
    return anchor + timedelta(days=days), "the tree is in growth"


def _ring(case: Case) -> float:
    return case.rulebook.practice.value(f"wire.ring_width_{case.tree.vigour}")


def _reasons(case: Case, wired: Wired, check: Check) -> tuple[Reason, ...]:
    practice, wiring = case.rulebook.practice, case.taxon.wiring
    looked = dated(wired.checks[-1]) if wired.checks else "not yet"
    told = [
        Reason("wired", dated(wired.on), "your records"),
        Reason("last check", looked, "your records"),
        span_reason(
            f"ring width, {case.tree.vigour} growth",
            practice.figure(f"wire.ring_width_{case.tree.vigour}"), "mm a year",
        ),
        span_reason("thickening before it bites", practice.figure("wire.bite_gap"), "mm"),
        span_reason("usual shortest time", wiring.months_min, "months"),
        span_reason("usual longest time", wiring.months_max, "months"),
    ]  # fmt: skip
    if check.bites is not None:
        told.append(
            Reason("may bite by", f"{day_text(check.bites)}; no threshold is published", "default")
        )
    if check.share is not None:
        told.append(
            Reason("this season's growth so far", percent_text(check.share), "growth clock")
        )
    if check.clock is not None:
        told.append(Reason("growth", check.clock.basis, "growth clock"))
    return (*told, *_check_reasons(case), *gauge_reasons(case, wired.branch or 0.0))


def _check_reasons(case: Case) -> tuple[Reason, ...]:
    """Return what sets the days between looks."""
    practice, pace = case.rulebook.practice, case.taxon.wiring.thickening
    first = practice.figure("wire.first_check_share")
    fast, slow = (
        practice.figure("wire.fast_recheck_days"),
        practice.figure("wire.slow_recheck_days"),
    )
    return (
        share_reason("first look at this part of the time until it bites", first),
        span_reason("between looks in growth, at least", fast, "days"),
        span_reason(
            f"usual weeks between looks on taxa that thicken at a {pace} rate, times",
            practice.figure(f"wire.factor_{pace}"),
        ),
        span_reason("between looks after growth", slow, "days"),
        span_reason(
            "at rest after nine tenths of growth where no frost is told by",
            practice.figure("wire.dormancy_days"),
            "days",
        ),
    )
