"""Deadwood: which trees, which days, how far."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from mebuki.domain.advice import Advice, Case, Days
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.warmth import HoursAhead
from mebuki.rules import deadwood
from tests.builders import (
    a_case,
    a_distribution,
    a_growth_clock,
    a_record,
    a_southern_site,
    a_taxon,
    a_tree,
    some_hours,
)

ON = date(2013, 5, 20)
BEGINS = datetime(2013, 5, 19, 11, tzinfo=UTC)
"""A day before 07:00 in New York; hour 29 is noon of the day of the round."""


def a_juniper(value: str = "yes", **upkeep: object) -> Taxon:
    """Return a juniper whose file says what it bears."""
    told = {"deadwood": {"value": value, "source": "practice"}} | upkeep
    return a_taxon("juniperus-chinensis", group="scale-juniper", upkeep=told)


def the_case(tree: Tree | None = None, taxon: Taxon | None = None, **changes: Any) -> Case:
    """Return a juniper in growth in a dry, warm week, or what is changed of it."""
    start: dict[str, Any] = {
        "on": ON, "hours": some_hours(BEGINS), "growth": ((2013, a_growth_clock()),),
    }  # fmt: skip
    return a_case(tree, taxon=taxon or a_juniper(), **(start | changes))


def one(case: Case) -> Advice:
    """Return the one advice of a case."""
    (advice,) = deadwood.advise(case)
    return advice


def test_dry_warm_days_in_growth_are_named() -> None:
    """A week of 20 °C without rain: every day whose dry day after is in sight."""
    advice = one(the_case())
    assert advice.fact.endswith("dry, warm days: 20–25 May")
    assert advice.cycle == "2013"
    assert "thin and short" in advice.fact


@pytest.mark.parametrize("value", ["no", "no (wounds decay)"])
def test_taxa_that_bear_none_get_none(value: str) -> None:
    """Neither do those of which nothing is known."""
    assert deadwood.advise(the_case(taxon=a_juniper(value))) == ()
    assert deadwood.advise(the_case(taxon=a_taxon())) == ()
    assert deadwood.advise(the_case(taxon=a_juniper("partial (hollow trunks)"))) != ()


def test_a_refined_tree_is_asked_only_if_it_has_deadwood() -> None:
    """In training, or with deadwood on record, and not again within a year."""
    refined = a_tree(development="refined")
    carved = a_tree(development="refined", records=[a_record("deadwood-carved", "2011-06-01")])
    lately = a_tree(records=[a_record("deadwood-carved", "2012-07-01")])
    assert deadwood.advise(the_case(refined)) == ()
    assert one(the_case(carved)).fact.startswith("carved in 1 year")
    assert deadwood.advise(the_case(lately)) == ()


def test_rain_shuts_a_day_before_and_after_it() -> None:
    """Rain on Tuesday at 15:00: Monday to Wednesday noon are too near to it.

    Published trade rule, common practice: 12 to 24 hours dry on either side.
    """
    tuesday = 29 + 24 + 3
    advice = one(the_case(hours=some_hours(BEGINS, rain={tuesday: 3.0})))
    assert advice.fact.endswith("dry, warm days: 23–25 May")


@pytest.mark.parametrize(
    "hours",
    [
        some_hours(BEGINS, air=14.9),
        some_hours(BEGINS, air=float("nan")),
        some_hours(BEGINS, rain=dict.fromkeys(range(300), float("nan"))),
        None,
    ],
    ids=["cold", "air unknown", "rain unknown", "no weather"],
)
def test_without_a_dry_warm_day_in_sight_it_says_so(hours: HoursAhead | None) -> None:
    """Under 15 °C at midday, or where the weather is not known."""
    advice = one(the_case(hours=hours))
    assert advice.fact.endswith("dry, warm days: none in sight")
    assert advice.span == Days(date(2013, 4, 26), date(2013, 9, 13))


def test_the_season_runs_from_first_growth_until_edges_can_no_longer_close() -> None:
    """From 26 April until eight weeks before a first frost on 8 November, 13 September."""

    def told(day: date) -> bool:
        begins = datetime(day.year, day.month, day.day, 11, tzinfo=UTC) - timedelta(days=1)
        return bool(deadwood.advise(the_case(on=day, hours=some_hours(begins))))

    assert not told(date(2013, 4, 25))
    assert told(date(2013, 4, 26))
    assert told(date(2013, 9, 13))
    assert not told(date(2013, 9, 14))


def test_in_the_south_the_season_is_that_of_its_growth() -> None:
    """Growth from October, frost of the next May: dry days in December count."""
    begins = datetime(2013, 12, 9, 20, tzinfo=UTC)
    case = the_case(
        on=date(2013, 12, 11), hours=some_hours(begins), site=a_southern_site(),
        growth=((2013, a_growth_clock("2013-10-01", "2013-12-20")),),
        autumn_frost=a_distribution("2014-05-20"),
    )  # fmt: skip
    advice = one(case)
    assert advice.span == Days(date(2013, 10, 1), date(2014, 3, 25))
    assert advice.fact.endswith("dry, warm days: 11–16 Dec")


def test_a_line_is_widened_over_years_and_no_further() -> None:
    """Common practice: a tenth of the girth a year, and half of it stays alive: five years."""
    years = [a_record("deadwood-carved", f"{year}-05-01") for year in range(2007, 2012)]
    some = one(the_case(a_tree(records=years[:2])))
    all_ = one(the_case(a_tree(records=years)))
    assert "widen a little" in some.fact
    assert "swell for a year" in some.deed
    assert "widen no further" in all_.fact
    assert all_.deed == "Brush the deadwood clean; leave the live vein whole."
    dead = next(each for each in all_.reasons if each.what.startswith("dead so far"))
    assert dead.value == "50 % of the girth"


def test_a_weak_or_freshly_repotted_tree_waits() -> None:
    """Six weeks after repotting the trunk may be worked on again; a weak tree later."""
    assert "weak" in one(the_case(a_tree(vigour="weak"))).blocked
    potted = one(the_case(a_tree(records=[a_record("repotted", "2013-04-20")])))
    assert "until 1 Jun 2013" in potted.blocked
    assert one(the_case(a_tree(records=[a_record("repotted", "2013-03-20")]))).blocked == ""


def test_treatment_is_a_caution_and_never_an_advice() -> None:
    """No product and no dose: the caution defers to the label."""
    advice = one(the_case(taxon=a_juniper(toxicity={"value": "TOXIC", "source": "practice"})))
    assert advice.cautions == ("sharp-tools", "pesticides-and-preservatives", "toxic-taxon")
    told = " ".join([advice.deed, advice.fact, *(each.value for each in advice.reasons)]).lower()
    for word in ("sulphur", "sulfur", "preserv", "paint", "apply"):
        assert word not in told
