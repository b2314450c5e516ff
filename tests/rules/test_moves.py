"""Into shelter, out again before growth, and cold before warmth."""

from __future__ import annotations

from datetime import date

import pytest

from mebuki.domain.advice import Advice, Case, Days
from mebuki.rules.moves import moves
from tests.builders import (
    BREAK,
    a_case,
    a_figure,
    a_place,
    a_record,
    a_refuge,
    a_taxon,
    a_tree,
    a_tropical_taxon,
)

SHED = a_place("shed", kind="shed")
WARM = a_place("window", kind="indoors", minimum_held=15)
OLIVE = a_taxon(
    "olea-europaea", group="evergreen-broadleaf",
    hardiness={"keep_above": a_figure(-3).model_dump(),
               "shelter": {"value": "frost-free", "source": "practice"}},
)  # fmt: skip


def of(case: Case, action: str) -> list[Advice]:
    """Return the moves of one action."""
    return [each for each in moves(case) if each.action == action]


def test_a_maple_comes_out_of_the_shed_before_its_buds_open() -> None:
    """Rule R52: from swelling buds to the day before bud break, with the cold it has had."""
    (advice,) = of(a_case(place=SHED, cold_weeks=9.5), "out-of-shelter")
    assert advice.span == Days(date(2013, 3, 13), date(2013, 4, 11))
    assert advice.span.last < BREAK
    told = {reason.what: reason.value for reason in advice.reasons}
    assert told["cold so far"] == "9.5 of 6 weeks below 4.4 °C"


def test_a_tree_just_repotted_stays_in() -> None:
    """Rule R26 goes first: its roots stand no frost for eight weeks."""
    fresh = a_tree(records=[a_record("repotted", "2013-03-20")])
    assert of(a_case(fresh, place=SHED), "out-of-shelter") == []


def test_an_olive_goes_in_weeks_before_frost_to_the_place_that_suits_it() -> None:
    """Named: the shed that keeps frost out, not the frame that does not."""
    places = [a_refuge("Shed", 2), a_refuge("Cold frame", -2, frost_chance=0.8)]
    (advice,) = of(a_case(taxon=OLIVE, on="2013-09-01", shelters=places), "winter-shelter")
    assert "frost-free, light place (Shed)" in advice.deed
    assert isinstance(advice.span, Days)
    assert advice.span.last < date(2013, 11, 1)


@pytest.mark.parametrize(("weeks", "told"), [(None, True), (0.5, True), (5.9, True), (6, False)])
def test_a_temperate_tree_in_the_warm_is_sent_to_the_cold(weeks: float | None, told: bool) -> None:
    """Rule R50: six weeks below 4.4 °C before warmth."""
    case = a_case(place=WARM, on="2012-12-20", cold_weeks=weeks, shelters=[a_refuge("Shed")])
    found = of(case, "too-warm")
    assert bool(found) is told
    assert not found or "cold place" in found[0].deed
    assert not found or "(Shed)" in found[0].deed


def test_nobody_sends_a_fig_into_the_cold_or_a_maple_there_in_summer() -> None:
    """Tropical trees need none; in July it is no matter."""
    fig = a_case(taxon=a_tropical_taxon(), place=WARM, on="2012-12-20", cold_weeks=0.0)
    assert of(fig, "too-warm") == []
    assert of(a_case(place=WARM, on="2013-07-01", cold_weeks=0.0), "too-warm") == []
    cool = a_place("porch", kind="indoors", minimum_held=5)
    assert of(a_case(place=cool, on="2012-12-20", cold_weeks=0.0), "too-warm") == []
