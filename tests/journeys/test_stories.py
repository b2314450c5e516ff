"""Ten short stories: what was done, what the weather brings, what a good grower would say.

Each is told with the shipped taxa and rules: records and an outlook in, settled advice out.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from mebuki.agenda.conflicts import settle
from mebuki.domain.advice import Advice, Days, Urgency
from mebuki.domain.outlook import Milestone
from mebuki.domain.tree import Tree
from mebuki.rules.evaluate import evaluate
from tests.builders import (
    a_case,
    a_distribution,
    a_frost_free_place,
    a_garden,
    a_growth_clock,
    a_moment,
    a_night,
    a_place,
    a_record,
    a_refuge,
    a_root_night,
    a_stage,
    a_tree,
    a_water_day,
    some_stages,
)
from tests.journeys.gardens import rulebook, taxa

SHED, WINDOW = a_refuge("Shed", 2), a_refuge("South window", 15, frost_chance=0, held=15)


def told(tree: Tree, on: str | date, **case: Any) -> dict[str, Advice]:
    """Return what is advised for a tree on a day, by action; the soonest of each kind."""
    made = a_case(tree, taxon=taxa()[tree.taxon], rulebook=rulebook(), on=on, **case)
    found: dict[str, Advice] = {}
    for each in settle(evaluate(made), a_garden([tree]), rulebook().practice):
        found.setdefault(each.action, each)
    return found


def days(advice: Advice) -> Days:
    """Return the span of an all-day advice."""
    assert isinstance(advice.span, Days)
    return advice.span


def test_a_juniper_wired_in_october() -> None:
    """Kept from frost for four weeks; no look in winter; the first one well within growth.

    Common practice: wire stays for months, and dormant weeks count nothing.
    """
    tree = a_tree("Dragon", taxon="juniperus-chinensis",
                  records=[a_record("wired", "2012-10-13", amount=9)])  # fmt: skip
    growth = {
        "growth": ((2013, a_growth_clock("2013-03-25", "2013-07-13")),),
        "stages": some_stages("2013-04-14"),
    }
    october = told(tree, "2012-10-20", shelters=[SHED], **growth)
    assert days(october["bend-guard"]).last == date(2012, 11, 10)
    assert "Shed" in october["bend-guard"].deed
    january = told(tree, "2013-01-20", **growth)
    assert "bend-guard" not in january
    first = days(january["wire-check"]).first
    assert date(2013, 3, 1) < first < date(2013, 6, 1)
    assert any("copper, 2.3 mm" in reason.value for reason in january["wire-check"].reasons)
    assert "never unwind" in january["wire-check"].deed


def test_a_trident_maple_repotted_before_a_late_frost() -> None:
    """Repotted on 20 March, −3 °C on 2 April: into the shed tonight; no feed, shade, no cutting."""
    tree = a_tree("Old Trident", taxon="acer-buergerianum",
                  records=[a_record("repotted", "2013-03-20")])  # fmt: skip
    on = "2013-04-02"
    found = told(
        tree, on, nights=[a_night(on, -3)], shelters=[SHED], stages=some_stages("2013-04-20")
    )
    frost = found["frost-night"]
    assert frost.urgency is Urgency.IMMEDIATE
    assert frost.deed == "Bring into a frost-free place (Shed) before dark."
    assert frost.fact.startswith("fresh roots")
    care = found["aftercare"]
    assert "no feed until 1 May" in care.fact
    assert "no frost until 15 May" in care.fact
    assert "repot-window" not in found
    feed = found.get("feed-season")
    assert feed is None or feed.blocked or days(feed).first >= date(2013, 4, 17)


def test_a_black_pine_in_the_year_of_its_candles() -> None:
    """A strong pine repotted two years ago: candles cut weeks before frost, nothing heavy else."""
    tree = a_tree("Black Sail", taxon="pinus-thunbergii", vigour="strong", development="refined",
                  records=[a_record("repotted", "2011-04-01")])  # fmt: skip
    stages = (*some_stages("2013-04-28"), a_stage(Milestone.SHOOTS_GROWN, "2013-06-15"))
    found = told(tree, "2013-06-20", stages=stages)
    cut = found["decandle"]
    assert cut.blocked == ""
    weeks = (date(2013, 11, 8) - days(cut).first).days / 7
    assert 12 <= weeks <= 21
    weak = told(tree.model_copy(update={"vigour": "weak"}), "2013-06-20", stages=stages)
    assert "decandle" not in weak
    potted = tree.model_copy(update={"records": (a_record("repotted", "2013-04-10"),)})
    after = told(potted, "2013-06-20", stages=stages)["decandle"]
    assert "repotted on 10 Apr 2013" in after.blocked


def test_an_azalea_after_flowering() -> None:
    """Flowers about 25 May: repotted and clipped after them, in June, in kanuma."""
    tree = a_tree("Rose Lantern", taxon="rhododendron-indicum", substrate="kanuma",
                  records=[a_record("repotted", "2010-06-10")])  # fmt: skip
    stages = (*some_stages("2013-04-20"), a_stage(Milestone.FLOWERING, "2013-05-25"))
    found = told(tree, "2013-04-20", stages=stages)
    repot = found["repot-window"]
    assert "after flowering" in repot.fact
    assert days(repot).first == date(2013, 6, 8)
    assert any("kanuma" in reason.value for reason in repot.reasons if reason.what == "substrate")
    clip = found["clip-after-flowering"]
    assert days(clip).first > date(2013, 5, 25)


def test_a_fig_on_a_cold_windowsill() -> None:
    """It wants 12 °C; nights of 9 °C by the glass: a warmer place tonight, no repotting in cold."""
    sill = a_place("sill", name="North window", kind="indoors", minimum_held=8)
    tree = a_tree("Window Fig", taxon="ficus-microcarpa", place="sill",
                  records=[a_record("repotted", "2011-06-10")])  # fmt: skip
    on = "2013-02-10"
    found = told(
        tree, on, place=sill, nights=[a_night(on, 9, spread=0.5)], shelters=[WINDOW],
        stages=(a_stage(Milestone.WARM_NIGHTS, "2013-05-30"),), growth=(),
    )  # fmt: skip
    assert "South window" in found["winter-night"].deed
    assert "too cold" in found["winter-night"].fact
    assert "too-warm" not in found
    assert days(found["repot-window"]).first == date(2013, 5, 30)
    may = told(
        tree, "2013-06-02", place=sill, nights=[a_night("2013-06-03", 11)], shelters=[WINDOW],
        stages=(a_stage(Milestone.WARM_NIGHTS, "2013-05-30"),), growth=(),
    )  # fmt: skip
    assert "11.0 °C" in may["repot-window"].blocked


def test_a_beech_that_broke_early() -> None:
    """Leaves out by 10 April, −2 °C on the 20th: they are to be saved; repotting is over."""
    tree = a_tree("Field Beech", taxon="fagus-sylvatica",
                  records=[a_record("repotted", "2009-04-01"),
                           a_record("leaves-open-seen", "2013-04-10")])  # fmt: skip
    on = "2013-04-20"
    stages = (*some_stages("2013-04-02", sd=1), *some_stages("2014-04-25", 2014))
    found = told(tree, on, stages=stages, nights=[a_night(on, -2)], shelters=[SHED])
    assert "leaves" in found["frost-night"].fact
    assert found["frost-night"].rule == "frost R60 R61"
    assert found["repot-window"].cycle == "2014"
    assert "repot-autumn" not in found


def test_a_weak_tree_due_for_repotting() -> None:
    """Due for years, and weak: it waits, is not cut, and is told why; light care goes on."""
    records = [a_record("repotted", "2006-03-28"), a_record("wired", "2012-10-01")]
    tree = a_tree("Quiet Hill", taxon="carpinus-betulus", vigour="weak", records=records)
    found = told(tree, "2013-03-27")
    assert "the tree is weak" in found["repot-window"].blocked
    assert all(
        found[action].blocked
        for action in ("prune-structure", "defoliate", "decandle")
        if action in found
    )
    assert found["wire-check"].blocked == ""


def test_a_pot_that_dries_by_noon() -> None:
    """0.25 L of easy water and 0.9 L of use on a hot day: twice by hand, shade, nobody away."""
    tree = a_tree("Wind Sister", taxon="acer-palmatum")
    on = "2013-07-18"
    water = [
        a_water_day(date.fromisoformat(on) + timedelta(days=lead), 0, use=0.9, spread=0.2,
                    empties=3.6, dry_at=a_moment(on, 16), reference_evaporation=7.0)
        for lead in range(3)
    ]  # fmt: skip
    found = told(tree, on, water=water, available_water=0.25)
    advice = found["water-today"]
    assert advice.urgency is Urgency.IMMEDIATE
    assert advice.fact == "likely dry by 12:00, water twice"
    assert "shade" in advice.deed
    lasting = {reason.what: reason.value for reason in advice.reasons}["lasts without water"]
    assert lasting == "about 3 hours of day"


def test_an_olive_going_into_shelter() -> None:
    """Weeks before an early first frost, into the cool shed and not the warm window; out in May."""
    tree = a_tree("Grey Olive", taxon="olea-europaea",
                  records=[a_record("repotted", "2012-05-01")])  # fmt: skip
    autumn = told(tree, "2013-09-20", shelters=[SHED])["winter-shelter"]
    assert "Shed" in autumn.deed
    assert days(autumn).last <= date(2013, 10, 31)
    shed = a_place("shed", name="Shed", kind="shed")
    spring = told(
        tree.model_copy(update={"place": "shed"}), "2013-04-01", place=shed,
        spring_frost=a_distribution("2013-04-08", 8),
    )["out-of-shelter"]  # fmt: skip
    assert days(spring).first > date(2013, 4, 8)
    warm = a_place("window", kind="indoors", minimum_held=16)
    december = told(
        tree, "2012-12-10", place=warm, cold_weeks=0.5, shelters=[SHED], season=2013
    )  # fmt: skip
    assert "Shed" in december["too-warm"].deed


def test_a_maple_with_wire_forgotten() -> None:
    """Wired in May, never looked at: from June on it is told again each week, then each month."""
    tree = a_tree("Split Rock", taxon="acer-palmatum", records=[a_record("wired", "2013-05-04")])
    clock = {"growth": ((2013, a_growth_clock()),)}
    seen = [
        told(tree, date(2013, 5, 6) + timedelta(days=lead), **clock)["wire-check"]
        for lead in range(0, 120, 3)
    ]
    first = days(seen[0]).first
    assert first < date(2013, 6, 15)
    late = [each for each in seen if "due since" in each.fact]
    assert late
    assert all(each.urgency is Urgency.IMMEDIATE for each in late)
    starts = sorted({days(each).first for each in seen})
    assert max((later - before).days for before, later in pairwise(starts)) <= 35
    looked = tree.model_copy(
        update={"records": (*tree.records, a_record("wire-checked", starts[1]))}
    )
    after = told(looked, starts[1] + timedelta(days=1), **clock)["wire-check"]
    assert days(after).first > starts[1]
    assert "due since" not in after.fact


def test_a_maple_in_a_hard_winter_learns_what_studies_say() -> None:
    """A root ball at its limit: where studies differ both ends are shown with their source."""
    on = "2013-01-22"
    root = replace(
        a_root_night(on, -5, hours_below=6),
        killing_coldest=-13.0, killing_warmest=-7.0, killing_source="Havis 1976 and others",
    )  # fmt: skip
    tree = a_tree("Old Lantern", taxon="acer-palmatum")
    night = told(tree, on, nights=[a_night(on, -12)], roots=[root], shelter_available=False)
    told_ = {reason.what: reason for reason in night["winter-night"].reasons}
    kills = told_["what kills such roots"]
    assert kills.value == "from −7.0 °C to −13.0 °C, studies differ"
    assert kills.source == "Havis 1976 and others"


def test_common_practice_spring_repotting_comes_before_leaf_out() -> None:
    """For every deciduous taxon whose cue is its buds: early spring, done before leaves unfold."""
    for taxon in taxa().values():
        if not taxon.deciduous or taxon.repotting.cue != "bud-swell":
            continue
        window = days(told(a_tree(taxon=taxon.id), "2013-02-01")["repot-window"])
        assert date(2013, 3, 1) <= window.first <= window.last < date(2013, 4, 20), taxon.id


def test_a_tree_in_a_frost_free_house_is_not_called_in() -> None:
    """It stands where it should: no frost, no move, no shelter."""
    house = a_frost_free_place("house", name="House")
    tree = a_tree("Grey Olive", taxon="olea-europaea", place="house")
    found = told(tree, "2013-01-22", place=house, nights=[a_night("2013-01-22", 2.5, spread=0.5)])
    assert not {"frost-night", "winter-night", "winter-shelter"} & set(found)
