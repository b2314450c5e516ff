"""Which places suit a tree: cold for a maple, warm for a fig."""

from __future__ import annotations

from mebuki.domain.practice import Practice
from mebuki.rules.frost import advise as frost_advise
from mebuki.rules.shelter import frost_free, needs_cold, place_words, shelter_reasons, suiting
from tests.builders import (
    ON,
    a_case,
    a_figure,
    a_night,
    a_refuge,
    a_rulebook,
    a_taxon,
    a_tropical_taxon,
    some_stages,
)

WINDOW = a_refuge("South window", 15, frost_chance=0, held=15)
SHED = a_refuge("Shed", 1.5, frost_chance=0.04)
FRAME = a_refuge("Cold frame", -1, frost_chance=0.7)
PRACTICE: Practice = a_rulebook().practice


def test_a_heated_windowsill_is_not_proposed_for_a_maple() -> None:
    """A tree that needs cold is offered shed and frame, the milder first."""
    assert suiting(a_taxon(), [WINDOW, FRAME, SHED], PRACTICE) == (SHED, FRAME)


def test_a_fig_is_offered_only_what_holds_its_warmth() -> None:
    """12 °C and more, never the unheated shed."""
    assert suiting(a_tropical_taxon(), [WINDOW, FRAME, SHED], PRACTICE) == (WINDOW,)
    cooler = a_refuge("Porch", 5, frost_chance=0, held=5)
    assert suiting(a_tropical_taxon(), [cooler], PRACTICE) == ()


def test_an_olive_needs_its_cool_winter() -> None:
    """Kept above −3 °C it is hardier than a fig, and a warm room would wake it."""
    olive = a_taxon("olea-europaea", group="evergreen-broadleaf",
                    hardiness={"keep_above": a_figure(-3).model_dump()})  # fmt: skip
    assert needs_cold(olive, a_rulebook().practice)
    assert suiting(olive, [WINDOW, SHED], PRACTICE) == (SHED,)


def test_only_places_below_the_chance_count_as_frost_free() -> None:
    """At 5 % the shed counts, at 3 % it does not; the edge counts."""
    assert frost_free([SHED, FRAME], 0.05) == (SHED,)
    assert frost_free([SHED, FRAME], 0.04) == (SHED,)
    assert frost_free([SHED, FRAME], 0.03) == ()


def test_a_frost_night_names_the_place_to_bring_the_tree_to() -> None:
    """The shed by name; the frame, which lets frost in, is not named."""
    case = a_case(
        shelters=[SHED, FRAME], nights=[a_night(ON, -4)], stages=some_stages("2013-03-20")
    )
    (advice,) = frost_advise(case)
    assert advice.deed == "Bring into a frost-free place (Shed) before dark."


def test_the_place_where_it_stands_is_not_offered() -> None:
    """Nobody is told to bring a tree to where it is."""
    assert place_words(a_case(shelters=[a_refuge("Bench")]), 0.15, "the warm") == "the warm"


def test_what_a_place_keeps_out_is_told_with_its_numbers() -> None:
    """A place whose nights are not known gives no number."""
    unknown = a_refuge("Cellar", lowest=0, frost_chance=1)
    case = a_case(shelters=[SHED, a_refuge("Attic", None, frost_chance=1), unknown])
    told = {reason.what: reason.value for reason in shelter_reasons(case)}
    assert set(told) == {"shelter: Shed", "shelter: Cellar"}
    assert told["shelter: Shed"] == "air down to 1.5 °C in the coming nights, frost 4 %"
