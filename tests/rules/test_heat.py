"""Heat at the pot and dry air at the leaves: what to do at which place."""

from __future__ import annotations

import pytest

from mebuki.domain.advice import Severity, Urgency
from mebuki.rules import heat
from tests.builders import ON, a_case, a_hard_day, a_place, a_pot, a_tree

HOT = a_hard_day(ON, wall_warmest=39, heat=2, hours_hot=3)


def test_a_mild_day_brings_no_advice() -> None:
    """Nothing hard, nothing told; nor where nothing is known."""
    assert heat.advise(a_case(hard_days=[a_hard_day(ON)])) == ()
    assert heat.advise(a_case()) == ()


def test_a_wall_of_38_degrees_asks_for_shade_today() -> None:
    """The numbers and their limits are among the reasons."""
    (advice,) = heat.advise(a_case(hard_days=[HOT]))
    assert (advice.action, advice.urgency) == ("heat-day", Urgency.IMMEDIATE)
    assert "pot wall up to 39 °C" in advice.fact
    told = {reason.what: reason.value for reason in advice.reasons}
    assert told["act from"] == "38 °C"
    assert "3 hours at 38 °C" in told["pot wall, sunny side"]


def test_both_ends_of_the_guess_at_the_sunny_wall_are_told() -> None:
    """The sunny side adds 3 to 5 °C: both ends, and that it is a guess."""
    day = a_hard_day(ON, wall_warmest=39, wall_least=37, heat=2, hours_hot=3)
    (advice,) = heat.advise(a_case(hard_days=[day]))
    told = {reason.what: reason for reason in advice.reasons}["pot wall, sunny side"]
    assert told.value.startswith("37 °C to 39 °C, ")
    assert "guess" in told.source


@pytest.mark.parametrize(
    ("kind", "words"),
    [("bench", "half shade"), ("cold-frame", "Open the frame"), ("greenhouse", "Ventilate"),
     ("indoors", "back from the glass"), ("ground", "Shade the pot")],
)  # fmt: skip
def test_the_deed_is_that_of_the_place(kind: str, words: str) -> None:
    """A frame is opened, a pot on the bench moved or shaded, a tree indoors drawn back."""
    (advice,) = heat.advise(a_case(place=a_place(kind=kind), hard_days=[HOT]))
    assert words in advice.deed


def test_a_warm_wall_is_watched_and_asks_for_nothing() -> None:
    """35 °C is kept in view."""
    (advice,) = heat.advise(a_case(hard_days=[a_hard_day(ON, wall_warmest=36, heat=1)]))
    assert (advice.action, advice.severity) == ("heat-watch", Severity.MINOR)


def test_heat_in_three_days_is_watched_and_tomorrow_acts() -> None:
    """Leads of two days and more ask for nothing yet."""
    days = [a_hard_day(day, wall_warmest=43, heat=3) for day in ("2013-03-28", "2013-03-30")]
    tomorrow, later = heat.advise(a_case(hard_days=days))
    assert (tomorrow.action, tomorrow.severity) == ("heat-day", Severity.SEVERE)
    assert tomorrow.urgency is Urgency.EXPECTED
    assert later.action == "heat-watch"


def test_scorching_air_asks_for_shade_on_the_leaves() -> None:
    """Without a hot wall only the leaves are spoken of."""
    (advice,) = heat.advise(a_case(hard_days=[a_hard_day(ON, scorches=True, deficit=3.4)]))
    assert "leaves may scorch" in advice.fact
    assert "Shade the leaves" in advice.deed
    assert "half shade" not in advice.deed


def test_moving_a_heavy_pot_brings_the_caution_on_lifting() -> None:
    """A pot of 60 × 45 × 15 cm is far above 10 kg wet."""
    heavy = a_tree(pot=a_pot(length_cm=60, width_cm=45, height_cm=15))
    assert heat.advise(a_case(heavy, hard_days=[HOT]))[0].cautions == ("lifting",)
