"""Repotting: due or not, the window, what blocks it, and the care afterwards."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.advice import Advice, Case, Days, Urgency
from mebuki.domain.outlook import Milestone
from mebuki.rules import repot
from tests.builders import (
    BREAK,
    a_case,
    a_distribution,
    a_figure,
    a_frost_free_place,
    a_night,
    a_pot,
    a_record,
    a_refuge,
    a_rulebook,
    a_southern_site,
    a_stage,
    a_taxon,
    a_tree,
    a_tropical_taxon,
    some_stages,
)


def windows(case: Case) -> list[Advice]:
    """Return the repotting windows advised for a case."""
    return [advice for advice in repot.advise(case) if advice.action == "repot-window"]


def days(advice: Advice) -> Days:
    """Return the span of an all-day advice."""
    assert isinstance(advice.span, Days)
    return advice.span


def test_a_tree_never_repotted_is_due_from_swell_to_the_day_before_the_first_open_bud() -> None:
    """The window of rule R20: moderate swell to first open bud, both medians."""
    (advice,) = windows(a_case())
    span = days(advice)
    assert span.first == BREAK - timedelta(days=21)
    assert span.last == BREAK - timedelta(days=8)
    assert span.likely is not None
    assert span.first <= span.likely <= span.last
    assert advice.cycle == "2013"
    assert "buds swell" in advice.fact
    assert advice.blocked == ""


def test_a_tree_repotted_a_year_ago_is_not_due() -> None:
    """Two years is the interval of this maple in training; one has passed."""
    tree = a_tree(records=[a_record("repotted", "2012-03-25")])
    assert windows(a_case(tree)) == []


def test_an_early_spring_does_not_put_off_a_repotting_by_a_year() -> None:
    """Repotted two springs ago, a week later in the year than the window now: due."""
    tree = a_tree(records=[a_record("repotted", "2011-04-10")])
    assert len(windows(a_case(tree))) == 1


def test_a_refined_tree_has_the_longer_interval() -> None:
    """Two years after repotting a refined maple still waits: its interval is four."""
    record = a_record("repotted", "2011-03-25")
    assert windows(a_case(a_tree(development="refined", records=[record]))) == []
    older = a_record("repotted", "2009-03-25")
    assert len(windows(a_case(a_tree(development="refined", records=[older])))) == 1


def test_when_the_window_has_passed_the_next_season_is_told() -> None:
    """In June the window of next spring is the coming one."""
    stages = (*some_stages(), *some_stages("2014-04-10", 2014))
    (advice,) = windows(a_case(on="2013-06-10", stages=stages))
    assert advice.cycle == "2014"
    assert days(advice).first.year == 2014
    assert advice.urgency is Urgency.FUTURE


def test_a_window_that_has_just_closed_is_told_as_past() -> None:
    """So that an entry does not come and go while the forecast moves its last day."""
    (advice,) = windows(a_case(on="2013-04-08"))
    assert advice.cycle == "2013"
    assert advice.urgency is Urgency.PAST


def test_a_weak_tree_waits() -> None:
    """Rule R04: health first."""
    (advice,) = windows(a_case(a_tree(vigour="weak")))
    assert "weak" in advice.blocked
    assert "6 months" in advice.blocked


def test_likely_frost_afterwards_asks_for_shelter_where_there_is_one() -> None:
    """Rule R26: the root ball is kept above 0 °C for eight weeks."""
    (advice,) = windows(a_case(spring_frost=a_distribution("2013-04-20", 6)))
    assert advice.blocked == ""
    assert "shelter" in advice.deed
    assert "8 weeks" in advice.deed
    assert any(reason.what == "frost after the likely day" for reason in advice.reasons)


def test_likely_frost_afterwards_blocks_where_no_place_is_sheltered() -> None:
    """Without a frost-free place the repotting waits, and says until when."""
    case = a_case(spring_frost=a_distribution("2013-04-20", 6), shelter_available=False)
    (advice,) = windows(case)
    assert "no place in the garden" in advice.blocked
    assert "30 Apr" in advice.blocked


def test_a_tree_in_a_sheltered_place_fears_no_frost() -> None:
    """The edge: minimum held exactly at 0 °C counts as frost-free."""
    case = a_case(
        place=a_frost_free_place(minimum_held=0),
        spring_frost=a_distribution("2013-04-20", 6),
        shelter_available=False,
    )
    (advice,) = windows(case)
    assert advice.blocked == ""


def test_no_frost_afterwards_needs_no_shelter() -> None:
    """Where the last frost is long past, nothing is said of shelter."""
    case = a_case(spring_frost=a_distribution("2013-02-20", 6), shelter_available=False)
    (advice,) = windows(case)
    assert advice.blocked == ""
    assert "shelter" not in advice.deed


def test_a_cold_coming_night_without_shelter_forbids_a_start_today() -> None:
    """Rule R27: not below −1 °C in the coming nights."""
    early = a_distribution("2013-02-20", 6)
    mild = a_case(spring_frost=early, shelter_available=False, nights=[a_night("2013-03-29", 0)])
    cold = a_case(spring_frost=early, shelter_available=False, nights=[a_night("2013-03-29", -3)])
    assert windows(mild)[0].blocked == ""
    assert "−3.0 °C" in windows(cold)[0].blocked


def test_the_southern_spring_gives_a_southern_window() -> None:
    """The dates come from the outlook, so September works as March does."""
    case = a_case(
        site=a_southern_site(),
        on="2013-08-20",
        stages=some_stages("2013-09-20"),
        spring_frost=a_distribution("2013-08-10", 3),
    )
    (advice,) = windows(case)
    assert days(advice).first == date(2013, 8, 30)


def test_a_tropical_tree_waits_for_warm_nights() -> None:
    """Rule R28: 15 °C or more; before, the window is blocked with the coldest night."""
    case = a_case(taxon=a_tropical_taxon(), on="2013-05-25", nights=[a_night("2013-05-26", 11)])
    (advice,) = windows(case)
    assert "11.0 °C" in advice.blocked
    warm = a_case(taxon=a_tropical_taxon(), on="2013-05-25", nights=[a_night("2013-05-26", 18)])
    assert windows(warm)[0].blocked == ""


def test_a_tropical_tree_in_the_south_has_its_window_round_new_year() -> None:
    """Late spring to midsummer is November to January there."""
    case = a_case(taxon=a_tropical_taxon(), site=a_southern_site(), on="2013-11-25")
    span = days(windows(case)[0])
    assert (span.first.month, span.last.month) == (11, 1)


def test_an_evergreen_is_repotted_in_the_weeks_before_bud_break() -> None:
    """The default for junipers: three weeks up to the day before bud break."""
    taxon = a_taxon(
        "juniperus-chinensis", group="scale-juniper", repotting={"cue": "spring-growth-start"}
    )
    span = days(windows(a_case(taxon=taxon))[0])
    assert span.first == BREAK - timedelta(weeks=3)
    assert span.last == BREAK - timedelta(days=1)


def test_an_azalea_is_repotted_after_its_flowers() -> None:
    """From two weeks after the first flowers, where flowering is computed."""
    taxon = a_taxon(
        "rhododendron-indicum", group="evergreen-broadleaf", repotting={"cue": "after-flowering"}
    )
    stages = (*some_stages(), a_stage(Milestone.FLOWERING, "2013-05-20"))
    span = days(windows(a_case(taxon=taxon, on="2013-05-01", stages=stages))[0])
    assert span.first == date(2013, 6, 3)


def test_a_cherry_that_flowers_too_late_is_repotted_at_bud_swell() -> None:
    """A deciduous tree is never repotted into its leaves: its window falls back to buds."""
    taxon = a_taxon("prunus-serrulata", repotting={"cue": "after-flowering"})
    stages = (*some_stages(), a_stage(Milestone.FLOWERING, "2013-04-20"))
    assert days(windows(a_case(taxon=taxon, stages=stages))[0]).last < BREAK


def test_a_quince_is_repotted_in_early_autumn() -> None:
    """Rule R31: finished six weeks before the median first frost, and not cut short by leaves."""
    taxon = a_taxon("chaenomeles-japonica", repotting={"cue": "early-autumn"})
    span = days(windows(a_case(taxon=taxon, on="2013-08-20"))[0])
    assert span.last == date(2013, 11, 8) - timedelta(weeks=6)


def test_where_bud_break_cannot_be_foreseen_there_is_no_window() -> None:
    """No distribution, no advice: nothing is guessed."""
    assert windows(a_case(stages=())) == []


@given(
    break_day=st.dates(date(2013, 2, 15), date(2013, 6, 15)),
    sd=st.floats(0, 15),
    swell=st.integers(-40, 0),
    opened=st.integers(-20, 12),
    unfolded=st.integers(1, 25),
)
def test_a_deciduous_window_always_ends_before_leaf_out(
    break_day: date, sd: float, swell: int, opened: int, unfolded: int
) -> None:
    """Whatever the stages, the last day lies before the median of unfolded leaves."""
    stages = tuple(
        a_stage(milestone, break_day + timedelta(days=offset), sd)
        for milestone, offset in (
            (Milestone.MODERATE_SWELL, swell),
            (Milestone.FIRST_OPEN, max(opened, swell)),
            (Milestone.BREAK, 0),
            (Milestone.UNFOLDED, unfolded),
        )
    )
    (advice,) = windows(a_case(on="2013-01-05", stages=stages))
    assert days(advice).last < break_day + timedelta(days=unfolded)


def test_after_repotting_shade_feed_and_frost_are_told_for_their_weeks() -> None:
    """Rules R24 to R26, counted from the record."""
    tree = a_tree(records=[a_record("repotted", "2013-03-20")])
    (advice,) = repot.advise(a_case(tree))
    assert advice.action == "aftercare"
    assert days(advice) == Days(date(2013, 3, 20), date(2013, 5, 15))
    assert "no feed until 1 May" in advice.fact
    assert repot.advise(a_case(tree, on="2013-05-16")) == ()


def test_a_heavy_pot_brings_the_caution_on_lifting() -> None:
    """A 60 cm pot weighs far more than 10 kg wet; a small one does not."""
    heavy = a_tree(pot=a_pot(length_cm=60, width_cm=45, height_cm=15))
    assert "lifting" in windows(a_case(heavy))[0].cautions
    assert "lifting" not in windows(a_case())[0].cautions


@pytest.mark.parametrize(
    ("harm", "named"), [("VERY TOXIC: all parts", True), ("none known", False)]
)
def test_a_poisonous_tree_brings_its_caution(harm: str, named: bool) -> None:
    """Yew is named, maple is not."""
    taxon = a_taxon(upkeep={"toxicity": {"value": harm, "source": "practice"}})
    assert ("toxic-taxon" in windows(a_case(taxon=taxon))[0].cautions) is named


def test_the_interval_and_its_source_are_among_the_reasons() -> None:
    """An advice carries the numbers it used and where they come from."""
    (advice,) = windows(a_case(rulebook=a_rulebook()))
    told = {reason.what: reason for reason in advice.reasons}
    assert told["interval, training"].value == "2 years"
    assert told["interval, training"].source == "practice"


def test_a_strong_tree_is_due_sooner() -> None:
    """Three quarters of four years: due after three, where a normal tree waits."""
    record = a_record("repotted", "2010-03-25")
    normal = a_tree(development="refined", records=[record])
    strong = a_tree(development="refined", vigour="strong", records=[record])
    assert windows(a_case(normal)) == []
    (advice,) = windows(a_case(strong))
    told = {reason.what: reason.value for reason in advice.reasons}
    assert told["interval, refined, strong tree"] == "3 years"


def test_no_tree_is_due_within_a_year() -> None:
    """A strong tree with an interval of one year keeps it."""
    taxon = a_taxon(repotting={"years_young": {"value": 1, "source": "practice"}})
    tree = a_tree(vigour="strong", records=[a_record("repotted", "2012-09-20")])
    assert windows(a_case(tree, taxon=taxon)) == []


def test_an_old_tree_in_training_has_the_interval_of_a_mature_one() -> None:
    """Born in 1970 and repotted two years ago: four years is its interval."""
    record = a_record("repotted", "2011-03-25")
    assert windows(a_case(a_tree(born=1970, records=[record]))) == []
    assert len(windows(a_case(a_tree(born=2000, records=[record])))) == 1


AUTUMN = a_taxon("malus", repotting={"alternative": "early-autumn"})


def autumns(case: Case) -> list[Advice]:
    """Return the early-autumn windows advised for a case."""
    return [advice for advice in repot.advise(case) if advice.action == "repot-autumn"]


def test_where_spring_was_missed_early_autumn_is_offered() -> None:
    """Rule R31: ended six weeks before the usual first frost, with what was missed."""
    (advice,) = autumns(a_case(taxon=AUTUMN, on="2013-08-20"))
    assert days(advice).last == date(2013, 11, 8) - timedelta(weeks=6)
    assert "in early autumn" in advice.fact
    assert any(reason.what == "missed" for reason in advice.reasons)


def test_autumn_is_not_offered_while_spring_may_still_be_used_or_months_ahead() -> None:
    """In March the spring window speaks, in June the autumn is far."""
    assert autumns(a_case(taxon=AUTUMN)) == []
    assert autumns(a_case(taxon=AUTUMN, on="2013-06-10")) == []


def test_a_tree_repotted_in_spring_is_not_offered_autumn() -> None:
    """It is not due."""
    tree = a_tree(records=[a_record("repotted", "2013-03-25")])
    assert autumns(a_case(tree, taxon=AUTUMN, on="2013-08-20")) == []


def test_a_maple_is_not_repotted_in_autumn() -> None:
    """Its taxon file names no alternative."""
    assert autumns(a_case(on="2013-08-20")) == []


def test_in_mild_climates_alone_the_autumn_ends_earlier() -> None:
    """The longer of the usual gaps before frost is kept: eight weeks in the shipped file."""
    note = {"alternative": "early-autumn", "alternative_note": "mild climates"}
    taxon = a_taxon("juniperus-chinensis", group="scale-juniper", repotting=note)
    book = a_rulebook()
    gap = a_figure(6, low=6, high=8)
    figures = {**book.practice.figures, "repot.autumn_weeks_before_frost": gap}
    practice = book.practice.model_copy(update={"figures": figures})
    book = book.model_copy(update={"practice": practice})
    (advice,) = autumns(a_case(taxon=taxon, on="2013-08-20", rulebook=book))
    assert days(advice).last == date(2013, 11, 8) - timedelta(weeks=8)


def test_a_shed_that_lets_frost_in_now_is_named_to_be_watched() -> None:
    """It may serve in spring: the repotting is not blocked weeks ahead, the place is named."""
    case = a_case(
        on="2013-03-01",
        spring_frost=a_distribution("2013-04-20", 6),
        shelter_available=False,
        shelters=[a_refuge("Shed", -1, frost_chance=0.8)],
    )
    (advice,) = windows(case)
    assert advice.blocked == ""
    assert "watch the thermometer in Shed" in advice.deed


def test_the_first_watering_is_told_in_the_first_days() -> None:
    """Rule R40: through, until it runs clear; afterwards when the surface dries."""
    tree = a_tree(records=[a_record("repotted", "2013-03-26")])
    (fresh,) = repot.advise(a_case(tree, shelters=[a_refuge("Shed")]))
    assert fresh.deed.startswith("Water through now")
    assert "Shed would keep frost out" in fresh.deed
    (later,) = repot.advise(a_case(tree, on="2013-04-10"))
    assert "Water through now" not in later.deed


def test_a_frozen_root_ball_is_to_thaw_before_repotting() -> None:
    """Rule R42 is named wherever pots may freeze, and not to tropical trees on warm nights."""
    (maple,) = windows(a_case())
    assert "Let a frozen root ball thaw first." in maple.deed
    (fig,) = windows(a_case(taxon=a_tropical_taxon(), on="2013-06-10"))
    assert "frozen" not in fig.deed
