"""Frost on fresh roots, buds and leaves."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest

from mebuki.domain.advice import Advice, Case, Certainty, Moments, Severity, Urgency
from mebuki.domain.tree import ValueClass
from mebuki.rules import frost
from mebuki.rules.leaf_harm import below_text, leaf_frost, worse
from mebuki.season.frost_thresholds import CriticalTemperature
from tests.builders import (
    a_case,
    a_frost_free_place,
    a_night,
    a_place,
    a_record,
    a_root_night,
    a_southern_site,
    a_taxon,
    a_tree,
    some_stages,
)

FRESH = a_tree(records=[a_record("repotted", "2013-03-20")])
DORMANT = some_stages("2013-06-20")


def deeds(case: Case) -> list[Advice]:
    """Return the advice that asks for a deed."""
    return [advice for advice in frost.advise(case) if advice.action == "frost-night"]


def test_a_maple_repotted_a_week_ago_is_brought_in_before_a_frost() -> None:
    """Fresh roots stand no frost: −3 °C tonight calls for a deed."""
    (advice,) = deeds(a_case(FRESH, stages=DORMANT, nights=[a_night("2013-03-27", -3)]))
    assert advice.cycle == "2013-03-27"
    assert advice.urgency is Urgency.IMMEDIATE
    assert advice.severity is Severity.SEVERE
    assert advice.certainty is Certainty.LIKELY
    assert isinstance(advice.span, Moments)
    assert "fresh roots" in advice.fact
    assert "frost-free" in advice.deed


def test_a_dormant_tree_with_old_roots_stands_the_same_night() -> None:
    """Nothing is said of a tree that the night cannot harm."""
    assert frost.advise(a_case(stages=DORMANT, nights=[a_night("2013-03-27", -3)])) == ()


def test_where_frost_is_kept_out_nothing_is_said() -> None:
    """The edge: a place held at exactly 0 °C."""
    case = a_case(
        FRESH,
        a_frost_free_place(minimum_held=0),
        stages=DORMANT,
        nights=[a_night("2013-03-27", -3)],
    )
    assert frost.advise(case) == ()


def test_roots_are_fresh_for_eight_weeks() -> None:
    """The last night counts, the next does not (20 March + 56 days = 15 May)."""
    on = date(2013, 5, 15)
    nights = [a_night("2013-05-15", -3, on), a_night("2013-05-16", -3, on)]
    found = deeds(a_case(FRESH, on=on, stages=DORMANT, nights=nights))
    assert [advice.cycle for advice in found] == ["2013-05-15"]


def test_a_root_ball_colder_than_the_air_counts() -> None:
    """The pot model may see what the air does not: the wall below 0 °C."""
    night = a_night("2013-03-27", 3, spread=1)
    case = a_case(FRESH, stages=DORMANT, nights=[night], roots=[a_root_night("2013-03-27", -1)])
    assert len(deeds(case)) == 1
    assert deeds(a_case(FRESH, stages=DORMANT, nights=[night])) == []


@pytest.mark.parametrize(
    ("value", "told"), [("prized", True), ("good", False), ("ordinary", False)]
)
def test_a_small_chance_is_told_for_a_prized_tree_only(value: ValueClass, told: bool) -> None:
    """A chance of about 9 % lies above 5 %, below 15 % and 30 %."""
    tree = a_tree(value=value, records=[a_record("repotted", "2013-03-20")])
    case = a_case(tree, stages=DORMANT, nights=[a_night("2013-03-27", 2, spread=1.5)])
    assert bool(deeds(case)) is told


def test_a_chance_between_half_the_threshold_and_the_threshold_is_kept_in_view() -> None:
    """About 9 % for a good tree: no deed, but not clear either."""
    case = a_case(FRESH, stages=DORMANT, nights=[a_night("2013-03-27", 2, spread=1.5)])
    (advice,) = frost.advise(case)
    assert advice.action == "frost-watch"
    assert advice.certainty is Certainty.UNLIKELY
    clear = a_case(FRESH, stages=DORMANT, nights=[a_night("2013-03-27", 4, spread=1.5)])
    assert frost.advise(clear) == ()


@pytest.mark.parametrize(
    ("lowest", "actions"),
    [(1.4, ["frost-night"]), (2, ["frost-watch"]), (2.7, ["frost-trace"]), (3.1, [])],
)
def test_a_night_is_told_of_from_half_of_what_the_most_cautious_bear(
    lowest: float, actions: list[str]
) -> None:
    """18, 9, 3.6 and 1.9 % against 15, 7.5 and 2.5 %; each says its chance and what to do."""
    case = a_case(FRESH, stages=DORMANT, nights=[a_night("2013-03-27", lowest, spread=1.5)])
    found = frost.advise(case)
    assert [each.action for each in found] == actions
    for each in found:
        assert each.probability is not None
        assert each.deed.endswith("before dark.")


def test_unfolding_leaves_are_harmed_by_what_swelling_buds_stand() -> None:
    """The same −3 °C on the leaf: harm at leaf-out, none at swell."""
    night = a_night("2013-04-22", -2, date(2013, 4, 22))
    out = a_case(on="2013-04-22", stages=some_stages("2013-04-12"), nights=[night])
    swelling = a_case(on="2013-04-22", stages=some_stages("2013-05-16", sd=2), nights=[night])
    (advice,) = deeds(out)
    assert "unfolding leaves" in advice.fact
    assert deeds(swelling) == []


def test_hardened_leaves_of_late_summer_are_not_spoken_of() -> None:
    """Six weeks after they are grown, leaves count as hardened."""
    night = a_night("2013-10-01", -2, date(2013, 10, 1))
    assert frost.advise(a_case(on="2013-10-01", nights=[night])) == ()


def test_one_advice_a_night_and_none_beyond_three_days() -> None:
    """Single nights are told for tonight and three more."""
    nights = [a_night(date(2013, 3, day), -4) for day in range(27, 32)]
    found = deeds(a_case(FRESH, stages=DORMANT, nights=nights))
    assert [advice.cycle[-2:] for advice in found] == ["27", "28", "29", "30"]
    assert [advice.urgency for advice in found[:2]] == [Urgency.IMMEDIATE, Urgency.EXPECTED]


def test_without_shelter_the_tree_is_covered_where_it_stands() -> None:
    """The deed follows what the garden has, and says when a cover helps little."""
    windy = a_night("2013-03-27", -3, frost_type="advective")
    case = a_case(FRESH, a_place(), stages=DORMANT, nights=[windy], shelter_available=False)
    (advice,) = deeds(case)
    assert "cover with fleece" in advice.deed
    assert "helps little" in advice.deed


def test_a_southern_october_frost_harms_southern_leaves() -> None:
    """Stages come from the outlook; October is spring there."""
    on = date(2013, 10, 1)
    case = a_case(
        site=a_southern_site(), on=on, stages=some_stages("2013-09-22"),
        nights=[a_night(on, -2, on)],
    )  # fmt: skip
    assert len(deeds(case)) == 1


def test_the_numbers_and_the_threshold_are_told() -> None:
    """Probability, its threshold, and the coldest air with its spread."""
    (advice,) = deeds(a_case(FRESH, stages=DORMANT, nights=[a_night("2013-03-27", -3, spread=2)]))
    assert advice.probability == pytest.approx(0.933, abs=0.001)  # Φ(1.5)
    assert advice.threshold == 0.15
    assert any(reason.value == "−3.0 °C ± 2.0" for reason in advice.reasons)


LEAFY = date(2013, 4, 22)


def leafy(hours: list[float], **case: Any) -> Case:
    """Return a maple with unfolding leaves in a night of these leaf temperatures."""
    night = a_night(LEAFY, min(hours) + 1, LEAFY, leaf_hours=tuple(hours))
    return a_case(on=LEAFY, stages=some_stages("2013-04-12"), nights=[night], **case)


@pytest.mark.parametrize(
    ("hours", "severity", "told"),
    [
        ([6, -2.2, 9], Severity.MODERATE, "under half an hour below it"),
        ([2, -1.9, -1.9, 2], Severity.SEVERE, "1 hour below it"),
        ([2, -1.9, -1.9, -1.9, -1.9, -1.9, 2], Severity.EXTREME, "4 hours below it"),
        ([2, -4, -4, 2], Severity.EXTREME, "2 hours below it"),
    ],
)
def test_a_night_of_many_hours_is_worse_than_a_brief_dip(
    hours: list[float], severity: Severity, told: str
) -> None:
    """Own limit −1 °C: a dip, a short frost, two hours and more, and one of heavy damage."""
    (advice,) = deeds(leafy(hours, taxon=a_taxon(hardiness={"new_growth_damage": DAMAGE})))
    assert advice.severity is severity
    assert told in advice.fact
    assert ("leaves and their limit", told) in [(r.what, r.value) for r in advice.reasons]


DAMAGE = {"value": -1, "source": "a trial", "low": -2, "high": 0}


def test_a_small_chance_is_no_worse_for_many_hours() -> None:
    """Below one half nothing is at stake that hours could make worse."""
    night = a_night(LEAFY, -0.5, LEAFY, spread=5, leaf_minimum=1, leaf_hours=(1.0, 0.5, 1.0))
    case = a_case(on=LEAFY, stages=some_stages("2013-04-12"), nights=[night])
    (advice,) = deeds(case)
    assert advice.severity is Severity.MODERATE
    assert "below it" not in advice.fact


def test_hours_that_are_unknown_are_not_told() -> None:
    """A night with a missing leaf hour, or none at all, speaks of the chance alone."""
    assert leaf_frost(a_night(LEAFY, -3, leaf_hours=(1.0, math.nan)), LIMIT) is None
    assert leaf_frost(a_night(LEAFY, -3), LIMIT) is None
    (advice,) = deeds(leafy([2, math.nan, -3]))
    assert "below it" not in advice.fact


LIMIT = CriticalTemperature(-1, -3.5, "a trial")


def test_where_studies_of_leaves_differ_the_range_is_shown() -> None:
    """A beech: Lenz et al. 2013 (−4.8 °C) beside the seven trees of Vitasse et al. 2014."""
    beech = a_taxon("fagus-sylvatica", hardiness={"new_growth_damage": DAMAGE})
    (advice,) = deeds(leafy([2, -4, -4, 2], taxon=beech))
    told = {reason.what: reason for reason in advice.reasons}
    studies = told["what kills half of such growth"]
    assert studies.value == "from −3.5 °C to −8.3 °C, studies differ"
    assert "Vitasse" in studies.source
    assert "Lenz" in studies.source
    assert told["unfolding leaves, first damage"].value == "−1 °C (usually −2 to 0)"


def test_a_guess_for_buds_is_called_one() -> None:
    """Swelling buds of a maple: no study; fruit trees differ, 20 to 0 °F (Michigan State)."""
    on = date(2013, 3, 27)
    night = a_night(on, -12, on, leaf_hours=(-9.0, -13.0, -9.0))
    case = a_case(on=on, stages=some_stages("2013-04-22", sd=1), nights=[night])
    (advice,) = deeds(case)
    told = {reason.what: reason for reason in advice.reasons}
    span = told["what kills buds at this stage"]
    assert span.value == "from −6.7 °C to −17.8 °C, fruit trees differ; a guess for this taxon"
    assert "Michigan State University" in span.source
    assert "for swelling" in told["swelling buds, first damage"].source


def test_the_worst_stays_the_worst() -> None:
    """Classes rise one by one and end at extreme; none hours are said as such."""
    assert [worse(each) for each in (Severity.MINOR, Severity.SEVERE, Severity.EXTREME)] == [
        Severity.MODERATE, Severity.EXTREME, Severity.EXTREME,
    ]  # fmt: skip
    assert below_text(0) == "not below it"
