"""When shoots and branches may be cut in one season, by the clocks of buds, shoots and frost.

Every window is reckoned from days that the season's models give: buds that swell and
break, leaves that are grown, flowers, warm nights, the first frost of autumn. The
weeks between are practice or our own defaults and stand in the practice file. Where a
clock is missing for a tree, its window is left out and not guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from mebuki.domain.advice import Case
from mebuki.domain.outlook import Milestone, StageOutlook
from mebuki.domain.taxon import StructuralWindow
from mebuki.rules.risk import LEVELS_MEDIAN
from mebuki.rules.spans import span

SEASON_DAYS = 330
"""A first frost within so many days after bud break ends the same season."""


@dataclass(frozen=True, slots=True)
class Slot:
    """An inclusive window for cutting, in one season.

    Parameters
    ----------
    code
        Which part of the year it is; with the season it is the window's identity.
    basis
        How it was reckoned.
    opens, after
        The stage that opens it, and how long after that stage.
    keys
        The practice figures it was reckoned with; see `mebuki.rules.spans`.
    """

    season: int
    code: str
    first: date
    last: date
    basis: str
    opens: StageOutlook | None = None
    after: timedelta = timedelta()
    keys: tuple[str, ...] = ()

    def chance_on(self, day: date) -> float | None:
        """Return the probability [0..1] that it has opened by a day, where computed."""
        return None if self.opens is None else self.opens.probability_by(day - self.after)


def seasons_told(case: Case) -> tuple[int, ...]:
    """Return the seasons of which the outlook speaks, in order."""
    found = {stage.season for stage in case.outlook.stages}
    return tuple(sorted(found | {season for season, _ in case.outlook.growth}))


def median(case: Case, milestone: Milestone, season: int) -> date | None:
    """Return the likely day of a milestone, or none."""
    stage = case.outlook.stage(milestone, season)
    return stage.likely if stage else None


def autumn_frost_of(case: Case, season: int) -> date | None:
    """Return the usual first frost that ends a season; none where it is not told."""
    points = case.outlook.autumn_frost
    frost = points[LEVELS_MEDIAN] if points else None
    start = median(case, Milestone.BREAK, season) or median(case, Milestone.WARM_NIGHTS, season)
    if frost is None or start is None:
        return None
    return frost if 0 < (frost - start).days < SEASON_DAYS else None


def leaves_hard(case: Case, season: int) -> Slot | None:
    """Return the weeks that begin when the leaves of spring are grown and firm."""
    return _after(
        case, season, Milestone.GROWN, "prune.harden_days", "early-summer",
        "once the leaves of spring are firm",
    )  # fmt: skip


def shoots_run(case: Case, season: int) -> Slot | None:
    """Return the weeks in which shoots that were let run are cut back."""
    return _after(
        case, season, Milestone.GROWN, "prune.run_weeks", "run",
        "weeks after the leaves are grown, while flower buds are not yet set",
    )  # fmt: skip


def opening_buds(case: Case, season: int) -> Slot | None:
    """Return the time from opening buds until the leaves are grown, or the candle weeks."""
    opens = case.outlook.stage(Milestone.BREAK, season)
    if opens is None or opens.likely is None:
        return None
    grown = median(case, Milestone.GROWN, season)
    last = grown or opens.likely + span(case, "prune.candle_weeks")
    basis = "from bud break until the leaves are grown" if grown else "weeks after bud break"
    keys = () if grown else ("prune.candle_weeks",)
    return Slot(season, "opening", opens.likely, max(last, opens.likely), basis, opens, keys=keys)


def second_flush(case: Case, season: int) -> Slot | None:
    """Return the weeks of a second clip; none where frost comes too soon after it."""
    first = leaves_hard(case, season) or growing_weeks(case, season)
    frost = autumn_frost_of(case, season)
    if first is None:
        return None
    begins = first.first + span(case, "prune.recut_weeks")
    last = begins + span(case, "prune.window_weeks")
    if frost is not None:
        last = min(last, frost - span(case, "prune.late_weeks"))
    if begins >= last:
        return None
    keys = (*first.keys, "prune.recut_weeks", "prune.window_weeks", "prune.late_weeks")
    return Slot(season, "second", begins, last, "after the second flush", keys=keys)


def decandling(case: Case, season: int) -> Slot | None:
    """Return the weeks in which candles are cut, counted back from the first frost of autumn.

    Candles still lengthening are left: the window opens no earlier than the shoots
    have grown. None where that leaves no time.
    """
    before = case.taxon.upkeep.decandle_weeks
    frost = autumn_frost_of(case, season)
    if before is None or frost is None:
        return None
    most = before.value if before.high is None else before.high
    least = before.value if before.low is None else before.low
    first, last = frost - timedelta(weeks=most), frost - timedelta(weeks=least)
    grown = median(case, Milestone.SHOOTS_GROWN, season)
    first = max(first, grown) if grown else first
    if first > last:
        return None
    return Slot(season, "decandle", first, last, "weeks before the usual first frost")


def autumn_buds(case: Case, season: int) -> Slot | None:
    """Return the weeks of choosing buds and thinning needles on pines."""
    frost = autumn_frost_of(case, season)
    if frost is None:
        return None
    half = span(case, "prune.window_weeks") / 2
    return Slot(
        season, "autumn", frost - half, frost + half, "about the usual first frost",
        keys=("prune.window_weeks",),
    )  # fmt: skip


def growing_weeks(case: Case, season: int) -> Slot | None:
    """Return the weeks of full growth of an evergreen or tropical tree."""
    if case.taxon.group == "tropical":
        return _after(
            case, season, Milestone.WARM_NIGHTS, "prune.window_weeks", "active-growth",
            "weeks after warm nights begin",
        )  # fmt: skip
    return _after(
        case, season, Milestone.BREAK, "prune.flush_weeks", "flush",
        "once the flush of spring is grown",
    )  # fmt: skip


def after_flowering(case: Case, season: int) -> Slot | None:
    """Return the weeks after bloom; reckoned from bud break where bloom is not computed."""
    bloom = case.outlook.stage(Milestone.FLOWERING, season)
    if bloom is not None and bloom.likely is not None:
        return _after(
            case, season, Milestone.FLOWERING, "repot.after_flowering_days",
            "after-flowering", "after the first flowers",
        )  # fmt: skip
    return _after(
        case, season, Milestone.BREAK, "prune.flush_weeks", "after-flowering",
        "bloom is not computed for this taxon: weeks after bud break",
    )  # fmt: skip


def structural(case: Case, season: int) -> Iterator[Slot]:
    """Yield the windows of a season in which the taxon's branches may be cut."""
    for code in case.taxon.upkeep.structural_windows:
        slot = _STRUCTURAL[code](case, season)
        if slot is not None:
            yield replace(slot, code=code)


def _after(
    case: Case, season: int, milestone: Milestone, key: str, code: str, basis: str
) -> Slot | None:
    gap = span(case, key)
    stage = case.outlook.stage(milestone, season)
    if stage is None or stage.likely is None:
        return None
    first = stage.likely + gap
    last = first + span(case, "prune.window_weeks")
    return Slot(season, code, first, last, basis, stage, gap, (key, "prune.window_weeks"))


def _winter(case: Case, season: int) -> Slot | None:
    return _before_swell(case, season, "prune.winter_weeks")


def _late_winter(case: Case, season: int) -> Slot | None:
    return _before_swell(case, season, "prune.late_winter_weeks")


def _before_swell(case: Case, season: int, key: str) -> Slot | None:
    swell = median(case, Milestone.SWELL, season) or median(case, Milestone.BREAK, season)
    if swell is None:
        return None
    return Slot(
        season, "winter", swell - span(case, key), swell, "the weeks before the buds swell",
        keys=(key,),
    )  # fmt: skip


def _until_break(case: Case, season: int) -> Slot | None:
    opens = _late_winter(case, season)
    growth = median(case, Milestone.BREAK, season)
    if opens is None or growth is None:
        return None
    return Slot(
        season, "spring", opens.first, growth, "from before the buds swell to bud break",
        keys=opens.keys,
    )  # fmt: skip


def _from_break(case: Case, season: int) -> Slot | None:
    growth = case.outlook.stage(Milestone.BREAK, season)
    if growth is None or growth.likely is None:
        return None
    last = growth.likely + 2 * span(case, "prune.window_weeks")
    return Slot(
        season, "spring", growth.likely, last, "two such windows after bud break", growth,
        keys=("prune.window_weeks",),
    )  # fmt: skip


def _late_spring(case: Case, season: int) -> Slot | None:
    return _after(
        case, season, Milestone.BREAK, "prune.candle_weeks", "late-spring",
        "weeks after bud break",
    )  # fmt: skip


def _summer(case: Case, season: int) -> Slot | None:
    hard, frost = leaves_hard(case, season), autumn_frost_of(case, season)
    if hard is None or frost is None:
        return hard
    last = frost - span(case, "prune.late_weeks")
    if last <= hard.first:
        return None
    return Slot(
        season, "summer", hard.first, last, "from firm leaves to weeks before the first frost",
        hard.opens, hard.after, ("prune.harden_days", "prune.late_weeks"),
    )  # fmt: skip


def _early_autumn(case: Case, season: int) -> Slot | None:
    frost = autumn_frost_of(case, season)
    if frost is None:
        return None
    last = frost - span(case, "prune.late_weeks")
    first = last - span(case, "prune.window_weeks")
    return Slot(
        season, "early-autumn", first, last, "weeks before the usual first frost",
        keys=("prune.late_weeks", "prune.window_weeks"),
    )  # fmt: skip


def _leaf_fall(case: Case, season: int) -> Slot | None:
    return _after(
        case, season, Milestone.LEAF_FALL, "prune.leaf_fall_weeks", "leaf-fall", "as leaves fall"
    )


_STRUCTURAL: Mapping[StructuralWindow, Callable[[Case, int], Slot | None]] = {
    "winter": _winter,
    "late-winter": _late_winter,
    "late-winter-to-spring": _until_break,
    "spring-to-early-summer": _from_break,
    "late-spring": _late_spring,
    "after-flowering": after_flowering,
    "early-summer": leaves_hard,
    "summer": _summer,
    "early-autumn": _early_autumn,
    "leaf-fall": _leaf_fall,
    "active-growth": growing_weeks,
}
