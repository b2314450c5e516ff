"""The picture of a cold spell in pots: what is drawn, and that it can be drawn."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from mebuki.pictures.render import to_png, to_svg
from mebuki.pictures.root_ball import Spell, root_ball_chart
from mebuki.pictures.style import Spec
from tests.builders import a_pot
from tests.season.hourly_weather import a_daily_wave, some_hours

AIR = a_daily_wave(8, 0, 6) - np.linspace(0, 10, 8 * 24)
HERE = some_hours("2013-01-18T00", AIR, cloud_cover=0.5)
SPELL = Spell(HERE, HERE.start + 48, HERE.start + 168)
POTS = [("small", a_pot(length_cm=9, width_cm=7, height_cm=3)), ("large", a_pot())]


def panels(spec: Spec) -> list[Spec]:
    """Return the four panels, row by row."""
    return [panel for row in spec["vconcat"] for panel in row["hconcat"]]


def lines(panel: Spec) -> list[list[float]]:
    """Return the drawn lines of a panel: air, wall, root ball."""
    found: list[list[float]] = []
    for layer in panel["layer"]:
        mark: Any = layer["mark"]
        if mark["type"] == "line":
            found.append([row["value"] for row in layer["data"]["values"]])
    return found


SPEC = root_ball_chart(SPELL, POTS, {"roots": -4.0})


def test_a_row_for_each_pot_bare_and_wrapped() -> None:
    """Small above large, bare at the left, each with its name."""
    assert [panel["title"]["text"] for panel in panels(SPEC)] == [
        "small, bare", "small, in 30 mm of foam", "large, bare", "large, in 30 mm of foam",
    ]  # fmt: skip


def test_each_panel_has_the_air_the_wall_and_the_root_ball() -> None:
    """120 hours each; the air is the same in all; foam and size both warm the coldest hour."""
    drawn = [lines(panel) for panel in panels(SPEC)]
    assert {len(line) for panel in drawn for line in panel} == {120}
    assert all(panel[0] == drawn[0][0] for panel in drawn)
    lowest = [min(panel[2]) for panel in drawn]
    assert lowest[0] < lowest[1] < 0
    assert lowest[2] < lowest[3]
    assert lowest[0] <= lowest[2]


def test_the_wall_lies_between_air_and_root_ball() -> None:
    """While it freezes the wall is colder than the root ball and no colder than sky and air."""
    for panel in panels(SPEC):
        air, wall, ball = (np.array(line) for line in lines(panel))
        falling = ball > air + 1.5
        assert (wall[falling] <= ball[falling] + 0.01).all()
        assert (wall[falling] >= air[falling] - 1.5).all()


def test_it_is_told_in_words_and_drawn() -> None:
    """A text alternative with each pot's lowest temperature; SVG and PNG are made."""
    assert SPEC["description"].startswith("Air down to −")
    assert SPEC["description"].count("root ball down to −") == 4
    assert "maple" not in to_svg(SPEC)
    assert "freezing" in to_svg(SPEC)
    assert to_png(SPEC, scale=1).startswith(b"\x89PNG")


@pytest.mark.parametrize("width", [350, 760])
def test_the_panels_fit_the_width(width: int) -> None:
    """Two panels, their gap and the axis are as wide as asked."""
    found = panels(root_ball_chart(SPELL, POTS, width=width))
    assert 2 * found[0]["width"] <= width - 60
