"""A notice says when its forecast was corrected by what past ones have taught."""

from __future__ import annotations

import pytest

from mebuki.agenda.body import basis_facts
from mebuki.domain.lessons import ForecastLessons
from tests.builders import a_sight, a_situation


@pytest.mark.parametrize(
    ("bias", "nights", "told"),
    [
        (1.5, 40, "forecasts here have been 1.5 °C too warm over 40 nights: corrected"),
        (-0.8, 12, "forecasts here have been 0.8 °C too cold over 12 nights: corrected"),
    ],
)
def test_a_correction_is_told_with_its_nights(bias: float, nights: int, told: str) -> None:
    """By how much, which way, and what it rests on; after what the weather is."""
    sight = a_sight(lessons=ForecastLessons((bias,), (1.6,), (nights,)))
    facts = list(basis_facts(a_situation(sight=sight)))
    assert facts[0][0] == "Basis"
    assert facts[1] == ("Learned", told)


@pytest.mark.parametrize("lessons", [None, ForecastLessons((0.29,), (1.6,), (40,))])
def test_a_correction_within_the_noise_is_not_worth_a_word(lessons: ForecastLessons | None) -> None:
    """Nothing learned, or less than 0.3 °C."""
    facts = dict(basis_facts(a_situation(sight=a_sight(lessons=lessons))))
    assert "Learned" not in facts
