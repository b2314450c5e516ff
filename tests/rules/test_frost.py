"""Frost on fresh roots, buds and leaves."""

from __future__ import annotations

from datetime import date

import pytest

from mebuki.domain.advice import Advice, Case, Certainty, Moments, Severity, Urgency
from mebuki.domain.tree import ValueClass
from mebuki.rules import frost
from tests.builders import (
    a_case,
    a_frost_free_place,
    a_night,
    a_place,
    a_record,
    a_root_night,
    a_southern_site,
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
