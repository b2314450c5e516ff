"""Figures of the practice file that a whole round stands on."""

from __future__ import annotations

from datetime import timedelta

import pytest

from mebuki.domain.weather import Freshness
from mebuki.rounds.plan import aged
from tests.builders import AT, a_rulebook
from tests.plans import a_picture


@pytest.mark.parametrize(
    ("fresh", "blind", "expected"),
    [(6, 24, Freshness.STALE), (12, 24, Freshness.FRESH), (3, 8, Freshness.BLIND)],
)
def test_how_old_weather_may_be_stands_in_the_practice_file(
    fresh: float, blind: float, expected: Freshness
) -> None:
    """Weather nine hours old is stale, fresh or blind by the keeper's own hours."""
    book = a_rulebook(weather__fresh_hours=fresh, weather__blind_hours=blind)
    picture = a_picture(measured_until=AT - timedelta(hours=9))
    assert aged(picture, book.practice).freshness is expected
