"""When a tree may be repotted in one season, by the cue its taxon file names.

Temperate trees are repotted when their buds swell and before they open: roots
start before leaves, and cut roots heal without leaf demand. Other cues are
reckoned from bud break, flowering, the first autumn frost, or the calendar of
warm nights; where that is a default and not a computed date, the window says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from mebuki.domain.advice import Case
from mebuki.domain.outlook import Milestone, StageOutlook
from mebuki.domain.taxon import RepotCue
from mebuki.rules.risk import LEVELS_MEDIAN
from mebuki.rules.spans import span


@dataclass(frozen=True, slots=True)
class Window:
    """An inclusive window of days.

    Parameters
    ----------
    cue
        What a person sees when it opens, as the end of a sentence.
    opens, closes
        Distributions behind it, where it was computed.
    basis
        How it was reckoned.
    keys
        The practice figures it was reckoned with; see `mebuki.rules.spans`.
    """

    season: int
    first: date
    last: date
    cue: str
    basis: str
    source: str = "default"
    opens: StageOutlook | None = None
    closes: StageOutlook | None = None
    keys: tuple[str, ...] = ()

    @property
    def likely(self) -> date:
        """The middle of the window."""
        return self.first + (self.last - self.first) // 2

    def chance_on(self, day: date) -> float | None:
        """Return the probability [0..1] that a day lies in the window, where computed."""
        if self.opens is None or self.closes is None:
            return None
        return max(self.opens.probability_by(day) - self.closes.probability_by(day), 0.0)


def repot_window(case: Case, season: int) -> Window | None:
    """Return the window of a season; none where it cannot be foreseen.

    A deciduous tree's window always ends before its leaves unfold; where its
    own cue would come too late, the window of swelling buds is taken.
    """
    window = _by_cue(case, season, case.taxon.repotting.cue)
    if not case.taxon.deciduous or window is None:
        return window
    leaf_out = _median(case, Milestone.UNFOLDED, season)
    if leaf_out is None or window.last < leaf_out or _autumnal(case.taxon.repotting.cue):
        return window
    if window.first < leaf_out:
        return replace(window, last=leaf_out - timedelta(days=1))
    return _bud_swell(case, season)


def later_window(case: Case, season: int) -> Window | None:
    """Return the early-autumn or late-summer window that a taxon allows, or none.

    Where its file allows it in mild climates alone, the window ends by the longer
    of the usual gaps before the first frost.
    """
    repotting = case.taxon.repotting
    if not _autumnal(repotting.alternative):
        return None
    window = _before_frost(case, season, repotting.alternative)
    if window is None or "mild" not in repotting.alternative_note:
        return window
    gap = case.rulebook.practice.figure("repot.autumn_weeks_before_frost")
    earlier = timedelta(weeks=(gap.high or gap.value) - gap.value)
    return replace(window, first=window.first - earlier, last=window.last - earlier)


def _autumnal(cue: RepotCue) -> bool:
    return cue in ("early-autumn", "late-summer")


def _by_cue(case: Case, season: int, cue: RepotCue) -> Window | None:
    if cue == "bud-swell":
        return _bud_swell(case, season)
    if cue in ("spring-growth-start", "before-growth"):
        return _round_break(case, season, before=True)
    if cue == "late-spring":
        return _round_break(case, season, before=False)
    if cue == "after-flowering":
        return _after_flowering(case, season)
    if cue == "warm-nights":
        return _warm_nights(case, season)
    return _before_frost(case, season, cue) if _autumnal(cue) else None


def _median(case: Case, milestone: Milestone, season: int) -> date | None:
    stage = case.outlook.stage(milestone, season)
    return stage.likely if stage else None


def _weeks(case: Case) -> timedelta:
    return span(case, "repot.window_weeks")


def _bud_swell(case: Case, season: int) -> Window | None:
    opens = case.outlook.stage(Milestone.MODERATE_SWELL, season)
    closes = case.outlook.stage(Milestone.FIRST_OPEN, season)
    if opens is None or closes is None or opens.likely is None or closes.likely is None:
        return None
    last = closes.likely - timedelta(days=1)
    leaf_out = _median(case, Milestone.UNFOLDED, season)
    if leaf_out is not None:
        last = min(last, leaf_out - timedelta(days=1))
    return Window(
        season=season,
        first=min(opens.likely, last),
        last=last,
        cue="when buds swell",
        basis="from moderate bud swell to the day before the first bud opens (medians)",
        source="practice; bud stages as in O'Keefe, Harvard Forest HF003",
        opens=opens,
        closes=closes,
    )


def _round_break(case: Case, season: int, *, before: bool) -> Window | None:
    growth = _median(case, Milestone.BREAK, season)
    if growth is None:
        return None
    if before:
        return Window(
            season, growth - _weeks(case), growth - timedelta(days=1),
            "as growth starts", "the weeks before bud break", keys=("repot.window_weeks",),
        )  # fmt: skip
    first = growth + span(case, "repot.growth_weeks")
    return Window(
        season, first, first + _weeks(case), "once growth has started", "after bud break",
        keys=("repot.growth_weeks", "repot.window_weeks"),
    )  # fmt: skip


def _after_flowering(case: Case, season: int) -> Window | None:
    bloom = _median(case, Milestone.FLOWERING, season)
    if bloom is not None:
        first = bloom + span(case, "repot.after_flowering_days")
        return Window(
            season, first, first + _weeks(case), "after flowering",
            "after the first flowers (median)",
            keys=("repot.after_flowering_days", "repot.window_weeks"),
        )  # fmt: skip
    growth = _median(case, Milestone.BREAK, season)
    if case.taxon.deciduous or growth is None:
        return _bud_swell(case, season)
    first = growth + span(case, "repot.bloom_weeks")
    return Window(
        season, first, first + _weeks(case), "after flowering",
        "flowering not computed for this taxon: reckoned from bud break",
        keys=("repot.bloom_weeks", "repot.window_weeks"),
    )  # fmt: skip


def _warm_nights(case: Case, season: int) -> Window:
    begin = _median(case, Milestone.WARM_NIGHTS, season)
    if begin is not None:
        return Window(
            season, begin, begin + span(case, "repot.warm_window_weeks"), "when nights stay warm",
            "from the first week of warm nights outdoors (median)", "practice",
            keys=("repot.warm_window_weeks",),
        )  # fmt: skip
    months = ((season, 11, 20), (season + 1, 1, 15)) if case.site.southern else (
        (season, 5, 20), (season, 7, 15)
    )  # fmt: skip
    return Window(
        season, date(*months[0]), date(*months[1]), "when nights stay warm",
        "late spring to midsummer (default), while nights are warm enough",
    )  # fmt: skip


def _before_frost(case: Case, season: int, cue: RepotCue) -> Window | None:
    frost = case.outlook.autumn_frost[LEVELS_MEDIAN] if case.outlook.autumn_frost else None
    if frost is None or season != case.outlook.season:
        return None
    gap = span(case, "repot.autumn_weeks_before_frost")
    last = frost - (gap if cue == "early-autumn" else 2 * gap)
    word = "in early autumn" if cue == "early-autumn" else "in late summer"
    return Window(
        season, last - _weeks(case), last, word,
        "so that roots grow before the first frost (median)", "practice",
        keys=("repot.autumn_weeks_before_frost", "repot.window_weeks"),
    )  # fmt: skip
