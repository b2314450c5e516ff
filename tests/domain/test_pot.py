"""What a pot may be: its sizes, and how long it may lag behind the air."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from tests.builders import a_pot


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"width_cm": 31}, "width_cm must not exceed length_cm"),
        ({"height_cm": 91}, "more than three times length_cm"),
        ({"height_cm": 0}, "greater than 0"),
        ({"length_cm": 201}, "less than or equal to 200"),
        ({"shape": "round"}, "a round pot has one diameter"),
        ({"wall": "gold"}, "Input should be"),
        ({"time_constant_hours": 0.05}, "greater than or equal to 0.1"),
        ({"time_constant_hours": 100}, "less than or equal to 72"),
        ({"time_constant_hours": float("nan")}, "finite"),
    ],
)
def test_an_impossible_pot_is_refused(changes: dict[str, Any], says: str) -> None:
    """The message names what is wrong and what it may be."""
    with pytest.raises(ValidationError, match=says):
        a_pot(**changes)


def test_a_pot_without_a_probe_has_no_time_constant() -> None:
    """It is reckoned from the sizes then."""
    assert a_pot().time_constant_hours is None
    assert a_pot(time_constant_hours=2.5).time_constant_hours == 2.5
