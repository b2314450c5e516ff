"""Wire: when the next look is due."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from mebuki.domain.advice import Advice, Days, Urgency
from mebuki.domain.tree import Vigour
from mebuki.rules import wire
from tests.builders import (
    a_case,
    a_growth_clock,
    a_record,
    a_southern_site,
    a_taxon,
    a_tree,
)

OCTOBER = a_record("wired", "2012-10-20")


def first_day(advice: Advice) -> date:
    """Return the first day of an all-day advice."""
    assert isinstance(advice.span, Days)
    return advice.span.first


def test_a_tree_without_wire_gets_no_check() -> None:
    """Never wired, or the wire is off again."""
    off = a_tree(records=[OCTOBER, a_record("wire-removed", "2013-03-01")])
    assert wire.advise(a_case()) == ()
    assert wire.advise(a_case(off)) == ()


def test_wire_of_october_is_first_looked_at_when_growth_has_begun() -> None:
    """Nothing in dormancy: the first check falls between onset and the day it may bite."""
    taxon = a_taxon(wiring={"months_max": {"value": 12, "source": "practice"}})
    (advice,) = wire.advise(a_case(a_tree(records=[OCTOBER]), taxon=taxon, on="2012-12-01"))
    assert date(2013, 4, 15) < first_day(advice) < date(2013, 5, 20)
    assert advice.cycle == "2012-10-20/1"
    assert advice.urgency is Urgency.FUTURE
    assert "may bite by" in advice.fact


def test_the_usual_longest_time_is_the_outer_bound() -> None:
    """A maple's five months end on 21 March, before growth: it is looked at then."""
    (advice,) = wire.advise(a_case(a_tree(records=[OCTOBER]), on="2012-12-01"))
    assert first_day(advice) == date(2013, 3, 21)
    assert "longest time" in advice.fact


def test_wire_set_in_full_growth_follows_the_published_worked_example() -> None:
    """Ring 1.5 mm, gap 0.3 mm, clock 129/194, wired day 135: bites day 148, check at 6/10.

    The worked example's clock: bud break on day 115, 10 % two weeks later, 90 % after 65 days.
    """
    clock = a_growth_clock("2013-05-09", "2013-07-13")
    tree = a_tree(records=[a_record("wired", "2013-05-15")])
    (advice,) = wire.advise(a_case(tree, on="2013-05-15", growth=((2013, clock),)))
    bites = date(2013, 1, 1) + timedelta(days=148 - 1)
    assert abs((first_day(advice) - date(2013, 5, 15)).days - 0.6 * 13) <= 1
    assert f"{bites.day} May" in advice.fact


@pytest.mark.parametrize(("vigour", "sooner"), [("strong", True), ("weak", False)])
def test_a_strong_tree_is_looked_at_sooner(vigour: Vigour, sooner: bool) -> None:
    """Ring width follows vigour: 3 mm against 1.5 mm against 0.3 mm."""
    record = a_record("wired", "2013-05-01")
    normal = first_day(wire.advise(a_case(a_tree(records=[record]), on="2013-05-02"))[0])
    other = first_day(
        wire.advise(a_case(a_tree(records=[record], vigour=vigour), on="2013-05-02"))[0]
    )
    assert (other < normal) is sooner


def test_in_fast_growth_a_check_is_followed_by_another_within_ten_days() -> None:
    """A fast tree: ten days after the last look."""
    tree = a_tree(records=[a_record("wired", "2013-05-01"), a_record("wire-checked", "2013-05-10")])
    (advice,) = wire.advise(a_case(tree, on="2013-05-11"))
    assert first_day(advice) == date(2013, 5, 20)
    assert advice.cycle == "2013-05-01/2"


def test_a_juniper_is_looked_at_again_after_four_weeks() -> None:
    """Medium thickening, four weeks between looks; a strong tree after ten days."""
    taxon = a_taxon(
        "juniperus-chinensis",
        wiring={"thickening": "medium", "recheck_weeks": {"value": 4, "source": "practice"}},
    )
    records = [a_record("wired", "2013-05-01"), a_record("wire-checked", "2013-05-10")]
    (usual,) = wire.advise(a_case(a_tree(records=records), taxon=taxon, on="2013-05-11"))
    assert first_day(usual) == date(2013, 6, 7)
    strong = a_tree(records=records, vigour="strong")
    assert first_day(wire.advise(a_case(strong, taxon=taxon, on="2013-05-11"))[0]) == date(
        2013, 5, 20
    )


def test_after_the_main_growth_checks_are_monthly() -> None:
    """Checked in July, after nine tenths of growth: looked at a month later."""
    taxon = a_taxon(wiring={"months_max": {"value": 12, "source": "practice"}})
    tree = a_tree(records=[a_record("wired", "2013-05-01"), a_record("wire-checked", "2013-07-10")])
    (advice,) = wire.advise(a_case(tree, taxon=taxon, on="2013-07-11"))
    assert first_day(advice) == date(2013, 8, 9)


def test_a_check_in_autumn_is_not_followed_by_one_in_winter() -> None:
    """The next look after late October is in the growth of the next year."""
    taxon = a_taxon(wiring={"months_max": {"value": 24, "source": "practice"}})
    tree = a_tree(records=[a_record("wired", "2013-05-01"), a_record("wire-checked", "2013-10-20")])
    growth = ((2013, a_growth_clock()), (2014, a_growth_clock("2014-04-26", "2014-06-30")))
    (advice,) = wire.advise(a_case(tree, taxon=taxon, on="2013-11-01", growth=growth))
    assert first_day(advice) > date(2014, 4, 10)


def test_an_overdue_check_comes_back_once_a_week() -> None:
    """The days move by whole weeks, so that the entry is not rewritten every day."""
    tree = a_tree(records=[a_record("wired", "2013-05-01"), a_record("wire-checked", "2013-05-10")])
    starts = []
    for day in range(28, 32):
        (advice,) = wire.advise(a_case(tree, on=date(2013, 5, day)))
        assert advice.urgency is Urgency.IMMEDIATE
        assert "due since 20 May" in advice.fact
        starts.append(first_day(advice))
    assert set(starts) == {date(2013, 5, 27)}


def test_a_check_long_overdue_comes_back_once_a_month() -> None:
    """After four weeks it is told every four weeks."""
    tree = a_tree(records=[a_record("wired", "2013-05-01"), a_record("wire-checked", "2013-05-10")])
    late = date(2013, 5, 20) + timedelta(days=28)
    starts = {
        first_day(wire.advise(a_case(tree, on=late + timedelta(days=day)))[0]) for day in range(28)
    }
    assert starts == {late}


def test_without_a_growth_clock_the_usual_weeks_are_counted() -> None:
    """Four weeks to the first look at a maple; two to the next."""
    tree = a_tree(records=[a_record("wired", "2013-05-01")])
    (advice,) = wire.advise(a_case(tree, on="2013-05-02", growth=()))
    assert first_day(advice) == date(2013, 5, 29)


def test_wire_of_a_southern_autumn_is_looked_at_in_the_southern_spring() -> None:
    """Wired in April there: the look falls in October."""
    taxon = a_taxon(wiring={"months_max": {"value": 12, "source": "practice"}})
    tree = a_tree(records=[a_record("wired", "2013-04-20")])
    case = a_case(
        tree, taxon=taxon, site=a_southern_site(), on="2013-06-01",
        growth=((2013, a_growth_clock("2013-10-05", "2013-12-10")),), autumn_frost=(),
    )  # fmt: skip
    assert first_day(wire.advise(case)[0]).month == 10


def test_it_is_always_a_look_and_never_an_order_to_unwind() -> None:
    """The words of the deed, and the caution on cutting."""
    (advice,) = wire.advise(a_case(a_tree(records=[OCTOBER])))
    assert advice.deed.startswith("Look")
    assert "never unwind" in advice.deed
    assert advice.cautions == ("wire-cutting",)
