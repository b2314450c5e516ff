"""Predicted stages: their order, their spread, and how little they move from day to day."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.outlook import LEVELS, Milestone, StageOutlook
from mebuki.domain.taxon import Phenology, StageFraction
from mebuki.season.bud_break import CWTT, SIGDL
from mebuki.season.crossing import event_moments
from mebuki.season.members import Members, season_members
from mebuki.season.prediction import predict, probability_within
from mebuki.season.seasons import season_days
from tests.season.clock_tables import (
    PUBLISHED,
    daily_series,
    noaa_climate,
    noaa_extremes,
    phenology,
    rows_of,
    thermal,
)

MAPLE = phenology(thermal(265, 0.3, sigdl=211))
BUD_ORDER = list(Milestone)[:6]


def known_season(location: str, season: int) -> Members:
    """Return a past season as one member, all of it measured."""
    start, extremes = noaa_extremes(location)
    span = season_days(season, False)
    low, high = extremes[:, span.start - start : span.stop - start]
    return Members(span.start, low[np.newaxis], high[np.newaxis], span.stop, span.stop)


def stages(found: tuple[StageOutlook, ...]) -> dict[Milestone, StageOutlook]:
    """Return predicted stages by milestone."""
    return {outlook.milestone: outlook for outlook in found}


def test_one_known_season_and_a_sure_requirement_give_the_tabled_day() -> None:
    """With one member and no spread every level is the day of the check table (NOAA).

    In Seattle chill is short in early March, so there only the median is held to a day.
    """
    for row in rows_of(PUBLISHED / "cwtt_noaa_expected.csv"):
        sure = phenology(thermal(float(row["F"]), 0.0))
        members = known_season(row["location"], int(row["season"]))
        found = stages(predict(sure, members, int(row["season"]), 45.0))[Milestone.BREAK]
        if row["location"] == "New York":
            assert {str(day) for day in found.quantiles} == {row["date"]}
        else:
            assert found.likely is not None
            assert abs((found.likely - date.fromisoformat(row["date"])).days) <= 1


def test_the_default_date_is_the_mean_of_both_clocks() -> None:
    """The median lies at the mean of the two moments, rounded up to a day."""
    members = known_season("New York", 2014)
    moments = [
        event_moments(clock.read(members.mean, members.start, 2014, 40.78), [need])[0, 0]
        for clock, need in ((CWTT, 265.0), (SIGDL, 211.0))
    ]
    sure = phenology(thermal(265, 0.0, sigdl=211))
    found = stages(predict(sure, members, 2014, 40.78))[Milestone.BREAK]
    expected = date.fromordinal(members.start + int(np.ceil(np.mean(moments))))
    assert found.likely == expected


def test_clocks_that_disagree_widen_the_spread() -> None:
    """With a second clock a month late the 10-90 % range spans a good part of the month."""
    members = known_season("New York", 2014)
    alone = stages(predict(phenology(thermal(265, 0.05)), members, 2014, 40.78))
    apart = stages(predict(phenology(thermal(265, 0.05, sigdl=480)), members, 2014, 40.78))

    def width(found: dict[Milestone, StageOutlook]) -> int:
        outlook = found[Milestone.BREAK]
        assert outlook.earliest is not None
        assert outlook.latest is not None
        return (outlook.latest - outlook.earliest).days

    assert width(apart) >= width(alone) + 14


def test_short_chill_widens_the_spread() -> None:
    """A winter 10 °C warmer makes the same requirement less sure, not more."""
    cold = known_season("New York", 2014)
    winter = np.arange(cold.minimum.shape[1]) < 120
    warm = Members(
        cold.start,
        np.where(winter, cold.minimum + 12.0, cold.minimum),
        np.where(winter, cold.maximum + 12.0, cold.maximum),
        cold.on,
        cold.known_until,
    )
    widths = []
    for members in (cold, warm):
        outlook = stages(predict(phenology(thermal(400, 0.1)), members, 2014, 40.78))
        found = outlook[Milestone.BREAK]
        assert found.earliest is not None
        assert found.latest is not None
        widths.append((found.latest - found.earliest).days)
    assert widths[1] >= 1.5 * widths[0]


@given(
    need=st.floats(40, 700),
    sd_ln=st.floats(0.0, 0.9),
    both=st.booleans(),
    season=st.sampled_from([2013, 2014]),
)
def test_stages_keep_their_order_at_every_level(
    need: float, sd_ln: float, both: bool, season: int
) -> None:
    """Swell, moderate swell, first open, break, unfolded, grown: never out of order."""
    taxon = phenology(thermal(need, sd_ln, sigdl=need * 0.8 if both else None))
    found = stages(predict(taxon, known_season("Seattle", season), season, 47.45))
    end = date(3000, 1, 1)
    for level in LEVELS:
        days = [found[stage].at(level) or end for stage in BUD_ORDER]
        assert days == sorted(days)
    for stage in BUD_ORDER:
        along = [day or end for day in found[stage].quantiles]
        assert along == sorted(along)


def test_a_taxon_may_bring_its_own_fractions() -> None:
    """Fractions of its own replace the default ones; moderate swelling follows swelling."""
    members = known_season("New York", 2014)
    own = StageFraction(value=0.6, low=0.5, high=0.7, source="default")
    grown = StageFraction(value=3.0, low=2.5, high=3.5, source="default")
    plain = stages(predict(MAPLE, members, 2014, 40.78))
    changed = stages(
        predict(MAPLE.model_copy(update={"swell": own, "grown": grown}), members, 2014, 40.78)
    )
    for stage in (Milestone.SWELL, Milestone.MODERATE_SWELL, Milestone.GROWN):
        first, second = plain[stage].likely, changed[stage].likely
        assert first is not None
        assert second is not None
        assert second >= first + timedelta(days=7)
    assert plain[Milestone.BREAK] == changed[Milestone.BREAK]


def test_flowering_is_predicted_where_the_taxon_has_a_requirement() -> None:
    """Flowering is there with its own requirement, and absent without one."""
    members = known_season("New York", 2014)
    cherry = phenology(thermal(135, 0.3), flowering=thermal(221, 0.13))
    with_bloom = stages(predict(cherry, members, 2014, 40.78))
    (moment,) = event_moments(CWTT.read(members.mean[0], members.start, 2014, 40.78), [221.0])
    likely = with_bloom[Milestone.FLOWERING].likely
    assert likely is not None
    assert abs(likely.toordinal() - members.start - moment) <= 1
    assert Milestone.FLOWERING not in stages(predict(MAPLE, members, 2014, 40.78))


def test_flowering_far_ahead_is_wider_than_seen_from_nearby() -> None:
    """The same members give a wider range for bloom when they are read weeks ahead."""
    near = known_season("New York", 2014)
    far = Members(near.start, near.minimum, near.maximum, near.start, near.start)
    cherry = phenology(thermal(135, 0.3), flowering=thermal(221, 0.13))
    widths = []
    for members in (near, far):
        bloom = stages(predict(cherry, members, 2014, 40.78))[Milestone.FLOWERING]
        assert bloom.earliest is not None
        assert bloom.latest is not None
        widths.append((bloom.latest - bloom.earliest).days)
    assert widths[1] > widths[0]


def test_a_gap_hides_the_dates_after_it_without_a_crash() -> None:
    """A long gap in February leaves every stage without a day."""
    members = known_season("New York", 2014)
    minimum = members.minimum.copy()
    minimum[:, 95:110] = np.nan
    hidden = Members(members.start, minimum, members.maximum, members.on, members.known_until)
    for outlook in predict(MAPLE, hidden, 2014, 40.78):
        assert set(outlook.quantiles) == {None}


def test_a_season_too_cold_for_a_stage_says_so_in_its_share_of_cases() -> None:
    """In a cold year and a mild one half of the cases never get there."""
    days = season_days(2014, False)
    low = np.stack([np.full(len(days), -10.0), np.full(len(days), 10.0)])
    members = Members(days.start, low, low, days.start, days.start)
    found = stages(predict(phenology(thermal(265, 0.1)), members, 2014, 60.0))[Milestone.BREAK]
    assert found.at(45) is not None
    assert found.at(55) is None


def test_buds_seen_closed_rule_out_the_early_cases() -> None:
    """Told on the median day that buds are closed, half of the cases go: all levels come later."""
    members = known_season("New York", 2014)
    plain = stages(predict(MAPLE, members, 2014, 40.78))[Milestone.BREAK]
    assert plain.likely is not None
    told = stages(predict(MAPLE, members, 2014, 40.78, not_open_on=plain.likely))
    for level in LEVELS:
        before, after = plain.at(level), told[Milestone.BREAK].at(level)
        assert before is not None
        assert after is not None
        assert after > plain.likely
        assert after >= before
    late = date(2014, 8, 1)
    again = stages(predict(MAPLE, members, 2014, 40.78, not_open_on=late))[Milestone.BREAK]
    assert set(again.quantiles) == {late + timedelta(days=1)}


def test_a_day_is_within_the_window_between_its_ends() -> None:
    """The probability rises from 0 before the window, peaks between its ends, and falls to 0."""
    found = stages(predict(MAPLE, known_season("New York", 2014), 2014, 40.78))
    opens, closes = found[Milestone.MODERATE_SWELL], found[Milestone.FIRST_OPEN]
    assert opens.likely is not None
    assert closes.likely is not None
    middle = opens.likely + (closes.likely - opens.likely) / 2
    assert probability_within(opens, closes, date(2014, 1, 1)) == 0.0
    assert probability_within(opens, closes, middle) > 0.4
    assert probability_within(opens, closes, date(2014, 9, 1)) == 0.0


def _round(on: date, errors: np.random.Generator) -> Members:
    """Return what a round in New York would know on a day of 2013, with a forecast error."""
    start, extremes = noaa_extremes("New York")
    count = on.toordinal() - start + 1
    seen = extremes[:, : count + 16].copy()
    seen[:, count:] += errors.normal(0, np.linspace(1.0, 4.0, 16))
    climate = noaa_climate("New York", (2012, 2014, 2015))
    return season_members(daily_series(start, seen[0], seen[1], 16), climate, 2013, False, on)


@pytest.mark.parametrize("need", [(99, 77), (265, 211), (415, 355)])
def test_the_repotting_window_moves_less_than_a_week_from_day_to_day(
    need: tuple[int, int],
) -> None:
    """From 1 January to July, with three past years, both ends move less than 7 days a day."""
    errors = np.random.default_rng(20130101)
    taxon: Phenology = phenology(thermal(need[0], 0.3, sigdl=need[1]))
    before: list[date] = []
    for count in range(180):
        on = date(2013, 1, 1) + timedelta(days=count)
        found = stages(predict(taxon, _round(on, errors), 2013, 40.78))
        ends = [found[stage].likely for stage in (Milestone.MODERATE_SWELL, Milestone.FIRST_OPEN)]
        now = [day for day in ends if day is not None]
        assert len(now) == 2
        for last, this in zip(before, now, strict=False):
            assert abs((this - last).days) < 7
        before = now


def test_the_spread_narrows_as_spring_comes() -> None:
    """The 10-90 % range of bud break is narrower in late April than at New Year."""
    errors = np.random.default_rng(1)
    sure = phenology(thermal(265, 0.05, sigdl=211))
    widths = []
    for on in (date(2013, 1, 1), date(2013, 4, 25)):
        outlook = stages(predict(sure, _round(on, errors), 2013, 40.78))[Milestone.BREAK]
        assert outlook.earliest is not None
        assert outlook.latest is not None
        widths.append((outlook.latest - outlook.earliest).days)
    assert widths[1] < widths[0]
