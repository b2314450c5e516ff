"""The pictures of mails: drawn once, small, and in the units of the reader."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import Image

from mebuki.domain.quantity import Units
from mebuki.pictures.for_mail import MailPictures
from mebuki.pictures.nights import nights_chart
from mebuki.pictures.render import to_png
from mebuki.pictures.small_png import small_png
from tests.builders import a_night
from tests.plans import LOWS, a_notice, a_plan

SIGNATURE = b"\x89PNG\r\n\x1a\n"
NIGHTS = a_notice(chart="nights")


@pytest.fixture(scope="module")
def drawn() -> bytes:
    """Return the picture of the nights as the renderer writes it."""
    plan = a_plan()
    return to_png(nights_chart(plan, plan.garden.places[0], 350), 1.5)


def _pixels(png: bytes) -> np.ndarray[Any, np.dtype[np.int64]]:
    return np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int)


def test_a_small_picture_shows_the_same(drawn: bytes) -> None:
    """No colour is off by more than an eye can tell (8 of 256); paper is exact, as is the size."""
    small = small_png(drawn)
    before, after = _pixels(drawn), _pixels(small)
    assert Image.open(BytesIO(small)).mode == "P"
    assert after.shape == before.shape
    assert np.abs(after - before).max() <= 8
    paper = (before == before[0, 0]).all(axis=2)
    assert (after[paper] == before[0, 0]).all()


def test_a_small_picture_is_small(drawn: bytes) -> None:
    """Less than a quarter of what the renderer writes, and fit for ten thousand mails."""
    assert len(small_png(drawn)) < min(len(drawn) / 4, 30_000)


@pytest.mark.parametrize("content", [b"", b"GIF89a", SIGNATURE])
def test_what_is_no_picture_of_ours_stays_as_it_is(content: bytes) -> None:
    """Nothing is guessed."""
    assert small_png(content) == content


def test_a_picture_is_drawn_once_for_all_who_see_the_same() -> None:
    """Levels share it, and gardens of the same nights; other units have their own."""
    pictures, plan = MailPictures(), a_plan()
    first = pictures.draw(plan, NIGHTS, "metric")
    neighbours = replace(plan, garden=plan.garden.model_copy(update={"name": "Next door"}))
    assert first is not None
    for again in (
        pictures.draw(plan, replace(NIGHTS, level="few"), "metric"),
        pictures.draw(neighbours, NIGHTS, "metric"),
    ):
        assert again is not None
        assert again.png is first.png
    other = pictures.draw(plan, NIGHTS, "us")
    assert other is not None
    assert other.png != first.png
    assert first.png.startswith(SIGNATURE)


def test_the_words_of_a_picture_round_once() -> None:
    """−9.56 °C is 14.8 °F as in the mail's first line, not the 14.7 °F of −9.6 °C."""
    plan = a_plan()
    cold = {
        tree: replace(outlook, nights=(a_night(outlook.nights[0].evening, -9.56),))
        for tree, outlook in plan.outlooks.items()
    }
    picture = MailPictures().draw(replace(plan, outlooks=cold), NIGHTS, "us")
    assert picture is not None
    assert "Wednesday 14.8 °F give or take" in picture.text


def test_a_notice_without_a_chart_has_no_picture() -> None:
    """Nor has a garden whose nights cannot be seen."""
    pictures = MailPictures()
    assert pictures.draw(a_plan(), a_notice(), "metric") is None
    assert pictures.draw(replace(a_plan(), outlooks={}), NIGHTS, "metric") is None


@pytest.mark.parametrize(("units", "mine", "other"), [("metric", "°C", "°F"), ("us", "°F", "°C")])
def test_the_words_of_a_picture_are_in_the_readers_units(
    units: Units, mine: str, other: str
) -> None:
    """The text alternative names each night in one system."""
    picture = MailPictures().draw(a_plan(), NIGHTS, units)
    assert picture is not None
    assert mine in picture.text
    assert other not in picture.text


def test_the_numbers_drawn_are_in_the_readers_units() -> None:
    """Each low as °F, and the axis marked at round °F."""
    plan = a_plan()
    spec = nights_chart(plan, plan.garden.places[0], 350, "us")
    labels = {
        row["label"] for part in spec["layer"] for row in part["data"]["values"] if "label" in row
    }
    for low in LOWS[:5]:
        assert f"{low * 1.8 + 32:.1f}°" in labels
    (axis,) = _axes(spec)
    ticks = [value * 1.8 + 32 for value in axis["values"]]
    assert 3 <= len(ticks) <= 7
    assert np.allclose(ticks, np.round(ticks))


def _axes(spec: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the axis of temperatures, once."""
    found = [
        part["encoding"]["y"]["axis"]
        for part in spec["layer"]
        if "values" in (part["encoding"].get("y", {}).get("axis") or {})
    ]
    return found[:1]
