"""Rendering: drawings that take the page's colours, and pictures of their own."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import vl_convert
from hypothesis import given
from hypothesis import strategies as st

from mebuki.pictures.render import VEGA_LITE, to_png, to_svg
from mebuki.pictures.season import season_chart
from mebuki.pictures.style import ACCENT, INK, PAPER, chart, words
from mebuki.pictures.wording import degrees, number
from tests.plans import a_plan


def test_a_drawing_takes_the_colours_of_its_page() -> None:
    """No literal colour of ours is left; ink is the text's colour, accent a variable."""
    svg = to_svg(season_chart(a_plan()))
    assert not re.search("|".join((INK, ACCENT, PAPER)), svg, re.IGNORECASE)
    assert "currentColor" in svg
    assert "var(--accent)" in svg
    assert not re.search(r'(?:fill|stroke)="(?:#|black|white|rgb)', svg)


def test_a_drawing_needs_nothing_from_elsewhere() -> None:
    """Well-formed, no script, no reference, no address but name spaces."""
    svg = to_svg(season_chart(a_plan()))
    ET.fromstring(svg)  # noqa: S314 - our own renderer's output
    bare = re.sub(r'xmlns(:\w+)?="[^"]*"', "", svg)
    assert "http" not in bare
    assert "<script" not in bare
    assert "style=" not in bare


def test_a_picture_file_is_a_png_on_paper() -> None:
    """Twice the pixels at scale 2."""
    small = to_png(season_chart(a_plan(), 350), 1)
    large = to_png(season_chart(a_plan(), 350), 2)
    sizes = [int.from_bytes(png[16:20], "big") for png in (small, large)]
    assert small.startswith(b"\x89PNG\r\n\x1a\n")
    assert sizes == [350, 700]


def test_the_renderer_knows_the_version_that_is_asked_for() -> None:
    """The specifications are written for a version inside the wheel."""
    assert VEGA_LITE in vl_convert.get_vegalite_versions()


@given(st.text(st.characters(exclude_categories=["Cc", "Cs", "Cn"]), max_size=12))
def test_a_name_is_drawn_as_text_whatever_it_holds(name: str) -> None:
    """Markup in a tree's name stays text: the drawing is well-formed and has no new element."""
    label = f"<script>&{name}"
    spec = chart(200, 40, words([{"label": label}], {}, x={"value": 2}, y={"value": 9}), "test")
    svg = to_svg(json.loads(json.dumps(spec)))
    tags = {part.tag.rpartition("}")[2] for part in ET.fromstring(svg).iter()}  # noqa: S314 - ours
    assert tags <= {"svg", "g", "path", "text", "rect", "defs", "clipPath"}


def test_numbers_have_a_true_minus_and_no_minus_nought() -> None:
    """−0.04 °C to one place is 0.0 °C."""
    assert number(-0.04, 1) == "0.0"
    assert degrees(-3.26, 1) == "−3.3 °C"


def _luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    parts = [int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_ink_and_accent_are_legible_on_paper() -> None:
    """Contrast of at least 4.5 (WCAG 2.2, success criterion 1.4.3)."""
    for colour in (INK, ACCENT):
        dark, light = sorted((_luminance(colour), _luminance(PAPER)))
        assert (light + 0.05) / (dark + 0.05) >= 4.5
