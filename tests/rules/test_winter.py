"""Winter: cold nights at the roots, tender trees, the way into and out of shelter."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from mebuki.domain.advice import Days, Severity, Urgency
from mebuki.rules import winter
from tests.builders import (
    a_case,
    a_distribution,
    a_frost_free_place,
    a_night,
    a_place,
    a_root_night,
    a_southern_site,
    a_taxon,
    a_tropical_taxon,
)

JANUARY = date(2013, 1, 20)


def actions(**case: Any) -> list[str]:
    """Return the actions advised for a case."""
    return [advice.action for advice in winter.advise(a_case(**case))]


def january(wall: float, **changes: Any) -> dict[str, Any]:
    """Return a case in January with one cold night at the roots."""
    return {
        "on": JANUARY,
        "nights": [a_night(JANUARY, wall - 3, JANUARY)],
        "roots": [a_root_night(JANUARY, wall, JANUARY, **changes)],
        "autumn_frost": (),
        "spring_frost": (),
    }


def test_roots_below_their_limit_are_protected_tonight() -> None:
    """A ball at −8 °C where harm begins 3 °C below a limit of −4 °C, spread 1 °C: 84 %."""
    (advice,) = winter.advise(a_case(**january(-9)))
    assert advice.probability == pytest.approx(0.841, abs=0.001)
    assert advice.action == "winter-night"
    assert advice.cycle == "2013-01-20"
    assert "limit −4.0 °C" in advice.fact
    assert "frozen-pots" in advice.cautions


@pytest.mark.parametrize(
    ("hours", "severity"), [(3, Severity.SEVERE), (11, Severity.SEVERE), (12, Severity.EXTREME)]
)
def test_twelve_hours_of_frost_on_the_roots_are_a_class_worse(
    hours: int, severity: Severity
) -> None:
    """The hours stand in the fact; a likely harm is severe, and extreme in a long night."""
    (advice,) = winter.advise(a_case(**january(-9, hours_below=hours)))
    assert advice.severity is severity
    assert f"{hours} hours below it" in advice.fact


def test_long_cold_above_what_harms_is_no_worse() -> None:
    """A ball at −6 °C for a day: below its limit, the chance of harm one in six."""
    (advice,) = winter.advise(a_case(**january(-7, hours_below=20)))
    assert advice.severity is Severity.MODERATE


def test_roots_well_above_their_limit_are_left_alone() -> None:
    """A ball at −4 °C, on its limit, is three spreads above harm."""
    assert actions(**january(-5)) == []


def test_a_small_chance_is_kept_in_view() -> None:
    """A ball 1.17 spreads above harm: 12 % lies between half of 15 % and 15 %."""
    assert actions(**january(-6.83)) == ["winter-watch"]


def test_two_hours_below_the_limit_are_enough() -> None:
    """Duration counts as well as the lowest value."""
    assert actions(**january(-1, hours_below=2)) == ["winter-night"]
    assert actions(**january(-1, hours_below=1)) == []


def test_a_tender_tree_is_protected_from_cold_air() -> None:
    """A fig wants 12 °C: a night of 8 °C is too cold, one of 18 °C is not."""
    on = date(2013, 9, 20)
    case: dict[str, Any] = {"taxon": a_tropical_taxon(), "on": on, "autumn_frost": ()}
    assert actions(nights=[a_night(on, 8, on)], **case) == ["winter-night"]
    assert actions(nights=[a_night(on, 18, on)], **case) == []


def test_a_maple_goes_into_a_cold_frame_between_the_early_and_the_usual_first_frost() -> None:
    """10 % and 50 % day of the first autumn frost."""
    (advice,) = winter.advise(a_case(on="2013-10-01"))
    assert advice.action == "winter-shelter"
    assert advice.span == Days(date(2013, 10, 29), date(2013, 11, 8))
    assert "cold frame" in advice.deed


def test_a_forecast_frost_leaves_a_week_for_the_move() -> None:
    """Where every year agrees on one day, the window is not one day long."""
    (advice,) = winter.advise(a_case(on="2013-10-01", autumn_frost=a_distribution("2013-10-25", 0)))
    assert advice.span == Days(date(2013, 10, 25), date(2013, 11, 1))


def test_a_fig_comes_in_six_weeks_before_the_early_frost() -> None:
    """Tender trees do not wait for frost."""
    (advice,) = winter.advise(a_case(taxon=a_tropical_taxon(), on="2013-09-01"))
    assert advice.span == Days(date(2013, 9, 17), date(2013, 10, 29))


@pytest.mark.parametrize(
    ("shelter", "place", "told"),
    [
        ("cold frame", a_place(kind="cold-frame"), False),
        ("hardy outdoors, roots protected", a_place(pot_on_ground=True), False),
        ("hardy outdoors, roots protected", a_place(), True),
        ("HARDY_OUTDOORS_ROOT_PROTECTION", a_place(insulation=0.5), False),
        ("frost-free", a_frost_free_place(minimum_held=0), False),
        ("frost-free", a_place(kind="cold-frame"), True),
        ("indoors", a_frost_free_place(), False),
    ],
)
def test_a_tree_that_stands_right_is_not_sent_anywhere(
    shelter: str, place: Any, told: bool
) -> None:
    """Each shelter class with a place that suits it, and with one that does not."""
    taxon = a_taxon(hardiness={"shelter": {"value": shelter, "source": "practice"}})
    found = actions(taxon=taxon, place=place, on="2013-10-01")
    assert ("winter-shelter" in found) is told


def test_a_fig_in_a_cool_shed_is_not_warm_enough() -> None:
    """Held at 2 °C, wanted at 12 °C."""
    found = actions(taxon=a_tropical_taxon(), place=a_frost_free_place(), on="2013-09-01")
    assert found == ["winter-shelter"]


def test_a_fig_comes_out_when_the_last_frost_is_past() -> None:
    """Six weeks after nine years of ten are free of frost; not from a greenhouse."""
    indoors = a_place("window", kind="indoors", minimum_held=16)
    case: dict[str, Any] = {"taxon": a_tropical_taxon(), "on": "2013-04-01"}
    (advice,) = winter.advise(a_case(place=indoors, **case))
    assert advice.action == "out-of-shelter"
    assert isinstance(advice.span, Days)
    assert advice.span.first == date(2013, 4, 19) + timedelta(weeks=6)
    glass = a_place("glass", kind="greenhouse", minimum_held=16)
    assert actions(place=glass, **case) == []


def test_the_southern_autumn_is_in_may() -> None:
    """Dates come from the outlook."""
    case = a_case(
        site=a_southern_site(), on="2013-04-20", autumn_frost=a_distribution("2013-05-25", 8)
    )
    (advice,) = winter.advise(case)
    assert isinstance(advice.span, Days)
    assert advice.span.first.month == 5


def test_after_the_usual_first_frost_the_window_is_past() -> None:
    """Two weeks more it is told as past, then no longer."""
    (late,) = winter.advise(a_case(on="2013-11-22"))
    assert late.urgency is Urgency.PAST
    assert actions(on="2013-11-23") == []


def test_an_olive_comes_out_as_soon_as_the_last_frost_is_past() -> None:
    """It wants no warm nights: the day after nine years of ten are free of frost."""
    taxon = a_taxon(
        "olea-europaea",
        hardiness={
            "shelter": {"value": "frost-free", "source": "practice"},
            "keep_above": {"value": -3, "source": "practice"},
        },
    )
    (advice,) = winter.advise(a_case(taxon=taxon, place=a_frost_free_place(), on="2013-04-01"))
    assert isinstance(advice.span, Days)
    assert advice.span.first == date(2013, 4, 19)


@pytest.mark.parametrize(
    ("frost", "year"), [("2013-11-08", "2013"), ("2014-01-20", "2013"), ("2014-05-25", "2014")]
)
def test_a_move_belongs_to_the_year_of_its_autumn(frost: str, year: str) -> None:
    """Its identity does not change when the season turns or the first frost comes late."""
    case = a_case(on="2013-10-01", season=2014, autumn_frost=a_distribution(frost, 5))
    assert winter.advise(case)[0].cycle == year
