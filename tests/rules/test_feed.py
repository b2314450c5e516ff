"""Feeding: when its season begins and ends, and what stops it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.advice import Advice, Case, Days
from mebuki.domain.outlook import Milestone
from mebuki.domain.taxon import Taxon
from mebuki.rules import feed
from tests.builders import (
    a_case,
    a_distribution,
    a_growth_clock,
    a_record,
    a_southern_site,
    a_stage,
    a_taxon,
    a_tree,
    a_tropical_taxon,
    a_water_day,
    some_hours,
    some_stages,
)

FROST = date(2013, 11, 8)
GROWTH = ((2013, a_growth_clock()),)


def fed(start: float = 5, stop: float | None = 4) -> Taxon:
    """Return a maple fed so many weeks after bud break until so many before frost."""
    figures: dict[str, object] = {"feed_start_weeks": {"value": start, "source": "practice"}}
    if stop is not None:
        figures["feed_stop_weeks"] = {"value": stop, "source": "practice"}
    return a_taxon(upkeep=figures)


def season(case: Case) -> Advice:
    """Return the advice on the season of feeding."""
    (found,) = [each for each in feed.advise(case) if each.action == "feed-season"]
    return found


def test_the_season_runs_from_weeks_after_bud_break_to_weeks_before_frost() -> None:
    """Bud break 12 April, five weeks: 17 May; frost 8 November, four weeks: 11 October."""
    advice = season(a_case(taxon=fed()))
    assert advice.span == Days(date(2013, 5, 17), date(2013, 10, 11))
    assert advice.cycle == "2013/late"
    assert advice.blocked == ""
    assert season(a_case(taxon=fed(0))).cycle == "2013/early"


def test_the_end_comes_from_the_practice_file_where_the_taxon_says_nothing() -> None:
    """Common practice: three to five weeks before the first frost, four by the file."""
    assert season(a_case(taxon=fed(stop=None))).span == season(a_case(taxon=fed())).span


def test_a_taxon_that_says_nothing_of_its_start_is_not_fed() -> None:
    """Unknown is not guessed; neither is a spring that cannot be foreseen."""
    assert feed.advise(a_case(growth=GROWTH)) == ()
    assert feed.advise(a_case(taxon=fed(), stages=())) == ()


def test_the_end_is_told_as_the_last_fortnight() -> None:
    """From a month before it the last feed is told, not in spring."""
    assert len(feed.advise(a_case(taxon=fed(), on="2013-09-12"))) == 1
    (_, end) = feed.advise(a_case(taxon=fed(), on="2013-09-13"))
    assert end.action == "feed-stop"
    assert end.span == Days(date(2013, 9, 27), date(2013, 10, 11))


def test_a_weak_tree_is_told_no_last_feed() -> None:
    """Rule R72: what is not fed has no last feed either."""
    weak = a_tree(vigour="weak")
    (only,) = feed.advise(a_case(weak, taxon=fed(), on="2013-09-13"))
    assert only.action == "feed-season"
    assert only.blocked != ""


def test_a_season_that_is_over_gives_way_to_the_next() -> None:
    """In October the next season stands from bud break of the next spring."""
    stages = (*some_stages(), *some_stages("2014-04-14", season=2014))
    growth = (*GROWTH, (2014, a_growth_clock("2014-04-28", "2014-07-02")))
    advice = season(a_case(taxon=fed(), on="2013-10-12", stages=stages, growth=growth))
    assert advice.span == Days(date(2014, 5, 19), date(2014, 7, 2))
    assert advice.cycle == "2014/late"


def test_no_feed_for_six_weeks_after_repotting() -> None:
    """Rule R24, common practice: repotted on 20 April, fed from 1 June."""
    tree = a_tree(records=[a_record("repotted", "2013-04-20")])
    advice = season(a_case(tree, taxon=fed()))
    assert advice.span == Days(date(2013, 6, 1), date(2013, 10, 11))
    assert any("no feed until 1 Jun 2013" in each.value for each in advice.reasons)
    early = a_tree(records=[a_record("repotted", "2013-03-16")])
    assert season(a_case(early, taxon=fed())).span == season(a_case(taxon=fed())).span


def test_no_feed_after_candles_are_cut() -> None:
    """Common practice: four to six weeks, so that the second flush stays short."""
    tree = a_tree(records=[a_record("decandled", "2013-07-20")])
    advice = season(a_case(tree, taxon=fed(), on="2013-07-25"))
    assert advice.span == Days(date(2013, 8, 31), date(2013, 10, 11))


def test_a_tree_repotted_in_autumn_is_not_fed_before_the_next_spring() -> None:
    """A pause that outlasts the season leaves nothing of it."""
    tree = a_tree(records=[a_record("repotted", "2013-09-10")])
    assert feed.advise(a_case(tree, taxon=fed(), on="2013-09-15")) == ()


def test_a_weak_tree_is_not_fed() -> None:
    """Put off with the reason, also out of season."""
    assert "weak" in season(a_case(a_tree(vigour="weak"), taxon=fed())).blocked


def test_heat_puts_feeding_off() -> None:
    """Rule R71: above 33 °C today or in the next two days; a hot day beyond does not count."""
    begins = datetime(2013, 7, 4, 11, tzinfo=UTC)
    hot = a_case(taxon=fed(), on="2013-07-05", hours=some_hours(begins, air=35))
    assert season(hot).blocked == "35 °C expected: no feed above 33 °C"
    mild = a_case(taxon=fed(), on="2013-07-05", hours=some_hours(begins, air=33))
    assert season(mild).blocked == ""
    far = some_hours(begins + timedelta(days=4), air=35)
    assert season(a_case(taxon=fed(), on="2013-07-05", hours=far)).blocked == ""
    unseen = some_hours(begins, air=float("nan"))
    assert season(a_case(taxon=fed(), on="2013-07-05", hours=unseen)).blocked == ""


@pytest.mark.parametrize(
    ("water", "word"),
    [
        (a_water_day("2013-06-01", 0.2, share_morning=0.0), "dry"),
        (a_water_day("2013-06-01", 0.2, frozen=True), "frozen"),
    ],
)
def test_no_feed_on_a_dry_or_frozen_root_ball(water: object, word: str) -> None:
    """Rule R72: water first; and only where the season is open."""
    assert word in season(a_case(taxon=fed(), on="2013-06-01", water=(water,))).blocked
    out = a_case(taxon=fed(), on="2013-05-01", water=(a_water_day("2013-05-01", 0, frozen=True),))
    assert season(out).blocked == ""


def test_colour_ends_feeding_where_frost_is_kept_out() -> None:
    """A maple in a shed, first frost after Christmas: its leaves colour on 25 October."""
    stages = (*some_stages(), a_stage(Milestone.COLOUR, "2013-10-25"))
    case = a_case(taxon=fed(), stages=stages, autumn_frost=a_distribution("2013-12-27"))
    advice = season(case)
    assert advice.span == Days(date(2013, 5, 17), date(2013, 10, 25))
    assert any("rest" in each.value for each in advice.reasons)


def test_an_evergreen_rests_ninety_days_after_most_of_its_growth() -> None:
    """Growth done to nine tenths on 30 June: fed until 28 September where frost is kept out."""
    olive = a_taxon(
        "olea-europaea", group="evergreen-broadleaf",
        upkeep={"feed_start_weeks": {"value": 0, "source": "practice"}},
    )  # fmt: skip
    case = a_case(taxon=olive, autumn_frost=a_distribution("2013-12-27"))
    assert season(case).span == Days(date(2013, 4, 12), date(2013, 9, 28))


def test_a_fig_is_fed_while_nights_are_warm() -> None:
    """No bud break, no frost: the growth clock of warm nights."""
    clock = a_growth_clock("2013-06-15", "2013-09-20")
    case = a_case(taxon=a_tropical_taxon(), stages=(), growth=((2013, clock),))
    advice = season(case)
    assert advice.span == Days(date(2013, 6, 15), date(2013, 9, 20))
    assert advice.cycle == "2013/warm"


def test_the_south_is_fed_over_new_year() -> None:
    """Bud break 10 September, frost on 20 May: from October to April."""
    case = a_case(
        taxon=fed(), site=a_southern_site(), on="2013-09-20", stages=some_stages("2013-09-10"),
        growth=((2013, a_growth_clock("2013-09-24", "2013-11-28")),),
        autumn_frost=a_distribution("2014-05-20"),
    )  # fmt: skip
    assert season(case).span == Days(date(2013, 10, 15), date(2014, 4, 22))


@given(
    repotted=st.dates(date(2012, 10, 1), date(2013, 12, 31)),
    bud_break=st.dates(date(2013, 2, 20), date(2013, 6, 1)),
    frost=st.dates(date(2013, 9, 1), date(2013, 12, 31)),
    on=st.dates(date(2013, 1, 1), date(2013, 12, 31)),
)
def test_feeding_never_breaks_its_rules(
    repotted: date, bud_break: date, frost: date, on: date
) -> None:
    """Law: never before growth, within six weeks after repotting, or four weeks before frost."""
    case = a_case(
        a_tree(records=[a_record("repotted", repotted)]), taxon=fed(0), on=on,
        stages=some_stages(bud_break), autumn_frost=a_distribution(frost),
        growth=((2013, a_growth_clock(bud_break, bud_break + timedelta(days=80))),),
    )  # fmt: skip
    for advice in feed.advise(case):
        assert isinstance(advice.span, Days)
        assert advice.span.first >= bud_break
        assert advice.span.first >= repotted + timedelta(weeks=6) or repotted > advice.span.last
        assert advice.span.last <= frost - timedelta(weeks=4)
