"""Pruning: which cut falls when, on which tree, and which does not."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mebuki.domain.advice import Advice, Case, Days, Severity
from mebuki.domain.outlook import Milestone
from mebuki.domain.taxon import MaintenanceCode, StructuralWindow, Taxon
from mebuki.rules import prune, prune_windows
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
    some_stages,
)

REFINED = a_tree(development="refined")
STRONG = a_tree(development="refined", vigour="strong")
FROST = date(2013, 11, 8)


def phrase(value: str) -> dict[str, str]:
    """Return a word of a taxon file."""
    return {"value": value, "source": "practice"}


def cut(
    code: MaintenanceCode | None = None, *windows: StructuralWindow, **changes: object
) -> Taxon:
    """Return a maple whose upkeep says how it is cut; further keywords change its upkeep."""
    upkeep: dict[str, object] = {
        "maintenance_code": code, "maintenance": phrase("as usual"),
        "structural_windows": windows, "structural_pruning": phrase("in its time"),
    }  # fmt: skip
    return a_taxon(upkeep=upkeep | changes)


def a_pine(**changes: object) -> Taxon:
    """Return a pine of two flushes, its candles cut 13 to 16 weeks before frost."""
    weeks = {"value": 14.5, "low": 13, "high": 16, "source": "practice"}
    upkeep = cut("decandle", decandle_weeks=weeks, **changes).upkeep
    return a_taxon("pinus-thunbergii", group="needle-evergreen", upkeep=upkeep.model_dump())


def only(case: Case, action: str) -> Advice:
    """Return the one advice of an action."""
    (found,) = [each for each in prune.advise(case) if each.action == action]
    return found


def actions(case: Case) -> set[str]:
    """Return the actions advised."""
    return {each.action for each in prune.advise(case)}


def test_a_taxon_of_which_nothing_is_known_gets_no_cut() -> None:
    """Neither windows nor a way of upkeep: unknown is not guessed."""
    assert prune.advise(a_case()) == ()


def test_a_maple_in_training_is_cut_once_its_leaves_are_firm() -> None:
    """Common practice: maples bleed in late winter and are cut in early summer.

    Leaves are grown on 10 May; firm three weeks later, then four weeks.
    """
    case = a_case(taxon=cut("pinch", "leaf-fall", "early-summer"))
    advice = only(case, "prune-structure")
    assert advice.span == Days(date(2013, 5, 31), date(2013, 6, 28))
    assert advice.cycle == "2013/early-summer"
    assert advice.severity is Severity.MODERATE
    assert actions(case) == {"prune-structure"}


def test_a_refined_maple_is_pinched_from_bud_break_until_its_leaves_are_grown() -> None:
    """Branches of a refined tree stay, its soft shoots do not; and not in training."""
    taxon = cut("pinch", "early-summer")
    assert actions(a_case(REFINED, taxon=taxon)) == {"pinch"}
    advice = only(a_case(REFINED, taxon=taxon), "pinch")
    assert advice.span == Days(date(2013, 4, 12), date(2013, 5, 10))
    assert advice.probability == pytest.approx(9 / 19, abs=0.06)


def test_a_weak_tree_is_left_alone() -> None:
    """None in a weak year: its branches are put off with the reason, the rest is not told."""
    taxon = cut("clip", "early-summer", defoliation=phrase("partial"))
    weak = a_tree(vigour="weak")
    (advice,) = prune.advise(a_case(weak, taxon=taxon))
    assert "weak" in advice.blocked
    assert "6 months" in advice.blocked
    assert prune.advise(a_case(a_tree(vigour="weak", development="refined"), taxon=taxon)) == ()


def test_candles_of_a_strong_pine_are_cut_weeks_before_the_first_frost() -> None:
    """Common practice for black pine: 13 to 16 weeks before a first frost on 8 November."""
    advice = only(a_case(STRONG, taxon=a_pine()), "decandle")
    assert advice.span == Days(FROST - timedelta(weeks=16), FROST - timedelta(weeks=13))
    assert "shorten-candles" not in actions(a_case(STRONG, taxon=a_pine()))
    weeks = next(each for each in advice.reasons if "first frost" in each.what)
    assert weeks.value == "14.5 weeks (usually 13 to 16)"


def test_candles_still_growing_are_waited_for() -> None:
    """The window opens when shoots have grown; no time left means no cut this year."""
    stages = some_stages()
    grown = a_case(
        STRONG, taxon=a_pine(), stages=(*stages, a_stage(Milestone.SHOOTS_GROWN, "2013-08-01"))
    )
    assert only(grown, "decandle").span == Days(date(2013, 8, 1), date(2013, 8, 9))
    late = a_stage(Milestone.SHOOTS_GROWN, "2013-08-20")
    short = a_case(STRONG, taxon=a_pine(), stages=(*stages, late))
    assert "decandle" not in actions(short)


@pytest.mark.parametrize("vigour", ["normal", "weak"])
def test_only_strong_pines_lose_their_candles(vigour: str) -> None:
    """A tree of usual vigour has its longest candles shortened, a weak one keeps them."""
    found = actions(a_case(a_tree(vigour=vigour), taxon=a_pine()))
    assert found == ({"shorten-candles"} if vigour == "normal" else set())


def test_a_pine_of_one_flush_is_never_decandled() -> None:
    """Candles shortened in spring, buds chosen in autumn, whatever its vigour."""
    found = actions(a_case(STRONG, taxon=cut("single-flush")))
    assert found == {"shorten-candles", "select-buds"}


def test_without_a_first_frost_no_day_is_made_up_for_candles() -> None:
    """Where frost cannot be foreseen, what is counted back from it is left out."""
    case = a_case(STRONG, taxon=a_pine(), autumn_frost=a_distribution(None))
    assert {"decandle", "select-buds"} & actions(case) == set()


@pytest.mark.parametrize(
    ("told", "action"),
    [
        ("partial, healthy trees, early summer, not in repot year", "defoliate"),
        ("half-leaf cut only; no full defoliation", "cut-leaves"),
        ("no", None),
    ],
)
def test_leaves_are_taken_off_as_the_taxon_allows(told: str, action: str | None) -> None:
    """Strong, refined trees once the leaves of spring are firm, and only where it is borne."""
    taxon = cut(defoliation=phrase(told))
    assert actions(a_case(STRONG, taxon=taxon)) == ({action} if action else set())
    for other in (REFINED, a_tree(vigour="strong")):
        assert actions(a_case(other, taxon=taxon)) == set()


def test_shoots_let_run_are_cut_six_weeks_after_the_leaves_are_grown() -> None:
    """Common practice for flowering trees: early summer, before flower buds are set."""
    advice = only(a_case(taxon=cut("let-run-then-cut")), "cut-back")
    assert advice.span == Days(date(2013, 6, 21), date(2013, 7, 19))


def test_an_azalea_is_clipped_right_after_bloom() -> None:
    """Two weeks after its first flowers; six weeks after bud break where bloom is unknown."""
    taxon = cut("after-flowering")
    bloom = (*some_stages(), a_stage(Milestone.FLOWERING, "2013-05-20"))
    first = date(2013, 6, 3)
    advice = only(a_case(taxon=taxon, stages=bloom), "clip-after-flowering")
    assert advice.span == Days(first, first + timedelta(weeks=4))
    unknown = only(a_case(taxon=taxon), "clip-after-flowering")
    assert unknown.span == Days(date(2013, 5, 24), date(2013, 6, 21))
    assert any("not computed" in each.value for each in unknown.reasons)


def test_a_larch_is_pinched_only_as_its_shoots_extend() -> None:
    """Common practice: early summer, weeks after its tufts have opened."""
    taxon = a_taxon(group="deciduous-conifer", upkeep=cut("pinch").upkeep.model_dump())
    assert only(a_case(REFINED, taxon=taxon), "pinch").span == Days(
        date(2013, 5, 31), date(2013, 6, 28)
    )


@pytest.mark.parametrize(
    ("window", "first", "last"),
    [
        ("winter", date(2012, 10, 24), date(2013, 3, 13)),
        ("late-winter", date(2013, 1, 30), date(2013, 3, 13)),
        ("late-winter-to-spring", date(2013, 1, 30), date(2013, 4, 12)),
        ("spring-to-early-summer", date(2013, 4, 12), date(2013, 6, 7)),
        ("late-spring", date(2013, 5, 10), date(2013, 6, 7)),
        ("summer", date(2013, 5, 31), FROST - timedelta(weeks=8)),
        ("early-autumn", FROST - timedelta(weeks=12), FROST - timedelta(weeks=8)),
    ],
)
def test_every_part_of_the_year_has_its_clock(
    window: StructuralWindow, first: date, last: date
) -> None:
    """Swelling on 13 March, bud break 12 April, leaves grown 10 May, frost 8 November."""
    case = a_case(taxon=cut(None, window), on="2013-02-01")
    assert only(case, "prune-structure").span == Days(first, last)


def test_after_leaf_fall_means_the_weeks_as_leaves_fall() -> None:
    """The window of autumn is told in December for the leaves of the year before."""
    fall = a_stage(Milestone.LEAF_FALL, "2013-11-12")
    case = a_case(taxon=cut(None, "leaf-fall"), stages=(*some_stages(), fall), on="2013-12-01")
    assert only(case, "prune-structure").span == Days(date(2013, 11, 19), date(2013, 12, 17))


def test_a_fig_is_cut_in_the_warm_weeks() -> None:
    """Tropical trees have no bud break: warm nights stand for it."""
    warm = (a_stage(Milestone.WARM_NIGHTS, "2013-06-10"),)
    upkeep = cut("clip", "active-growth").upkeep.model_dump()
    taxon = a_tropical_taxon().model_copy(update={"upkeep": cut("clip", "active-growth").upkeep})
    assert upkeep["structural_windows"] == ("active-growth",)
    case = a_case(taxon=taxon, stages=warm, growth=())
    assert only(case, "prune-structure").span == Days(date(2013, 7, 8), date(2013, 8, 5))


def test_seasons_of_the_south_are_half_a_year_apart() -> None:
    """Bud break on 10 September: firm leaves at the end of October, frost of the next May."""
    case = a_case(
        STRONG, taxon=cut("clip", "early-summer"), site=a_southern_site(), on="2013-10-01",
        stages=some_stages("2013-09-10"), autumn_frost=a_distribution("2014-05-20"),
    )  # fmt: skip
    spans = [each.span for each in prune.advise(case) if each.action == "clip"]
    assert spans == [
        Days(date(2013, 10, 29), date(2013, 11, 26)), Days(date(2013, 12, 24), date(2014, 1, 21)),
    ]  # fmt: skip


def test_a_strong_tree_is_clipped_a_second_time_if_frost_leaves_time() -> None:
    """Eight weeks after the first clip, and no later than eight weeks before frost."""
    spans = [
        each.span for each in prune.advise(a_case(STRONG, taxon=cut("clip")))
        if each.action == "clip"
    ]  # fmt: skip
    assert spans == [
        Days(date(2013, 5, 31), date(2013, 6, 28)), Days(date(2013, 7, 26), date(2013, 8, 23)),
    ]  # fmt: skip
    early = a_case(STRONG, taxon=cut("clip"), autumn_frost=a_distribution("2013-09-15"))
    assert len([each for each in prune.advise(early) if each.action == "clip"]) == 1
    assert len(prune.advise(a_case(REFINED, taxon=cut("clip")))) == 1


def test_work_on_record_is_not_asked_for_again() -> None:
    """Pinched in this window: the next one is that of the next spring."""
    taxon, stages = cut("pinch"), (*some_stages(), *some_stages("2014-04-14", season=2014))
    tree = a_tree(development="refined", records=[a_record("pinched", "2013-04-20")])
    advice = only(a_case(tree, taxon=taxon, stages=stages, on="2013-04-25"), "pinch")
    assert advice.cycle.startswith("2014/")
    before = a_tree(development="refined", records=[a_record("pinched", "2012-05-19")])
    assert only(a_case(before, taxon=taxon, stages=stages), "pinch").cycle.startswith("2013/")


def test_a_window_that_has_just_closed_is_still_told_for_a_week() -> None:
    """Its last day moves with the forecast; after a week it is over."""
    taxon = cut("pinch")
    assert actions(a_case(REFINED, taxon=taxon, on="2013-05-17")) == {"pinch"}
    assert actions(a_case(REFINED, taxon=taxon, on="2013-05-18")) == set()


def test_blades_and_poison_are_warned_of() -> None:
    """Every cut names sharp tools; yew and its like their poison too."""
    yew = cut("clip", toxicity=phrase("VERY TOXIC in all parts"))
    (advice,) = prune.advise(a_case(REFINED, taxon=yew))
    assert advice.cautions == ("sharp-tools", "toxic-taxon")


def test_growth_so_far_is_among_the_reasons_once_it_has_begun() -> None:
    """A cut in growth shows the share of the year's growth that is done."""
    case = a_case(REFINED, taxon=cut("clip"), on="2013-06-10", growth=((2013, a_growth_clock()),))
    (advice,) = prune.advise(case)
    assert any(each.source == "growth clock" for each in advice.reasons)


@given(
    st.dates(date(2013, 3, 1), date(2013, 6, 1)), st.dates(date(2013, 8, 15), date(2013, 12, 31))
)
def test_no_cut_that_brings_shoots_falls_late(bud_break: date, frost: date) -> None:
    """Law: second clip, summer and early-autumn cuts end eight weeks before frost or are left out.

    Whatever the spring and the autumn; no window ends before it begins.
    """
    case = a_case(
        STRONG, taxon=cut("clip", "summer", "early-autumn"), stages=some_stages(bud_break),
        autumn_frost=a_distribution(frost),
    )  # fmt: skip
    slots = [*prune_windows.structural(case, 2013)]
    second = prune_windows.second_flush(case, 2013)
    slots += [second] if second else []
    for slot in slots:
        assert slot.first <= slot.last <= frost - timedelta(weeks=8)
