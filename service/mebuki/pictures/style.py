"""The look of every picture: paper and ink, one accent colour, thin lines.

A picture is drawn with three literal colours. On a page they give way to the
page's own, so that one drawing serves light and dark; a picture file of its own
keeps them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

Spec = dict[str, Any]
"""A Vega-Lite specification or a part of one."""

INK: Final = "#22211e"
ACCENT: Final = "#9a3b1a"
PAPER: Final = "#faf8f3"
FONT: Final = "system-ui, 'Segoe UI', Roboto, Helvetica, Arial, sans-serif"
TEXT_SIZE: Final = 13
FAINT: Final = 0.28
"""Opacity of lines that only guide the eye; text is never fainter than ink."""

PHONE_WIDTH: Final = 350
PAGE_WIDTH: Final = 760


def chart(width: int, height: int, layers: Sequence[Spec], description: str) -> Spec:
    """Return a whole specification of layers that share their axes.

    ``width`` and ``height`` are those of the whole picture [px].
    """
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "description": description,
        "width": width,
        "height": height,
        "autosize": {"type": "fit", "contains": "padding"},
        "padding": 4,
        "background": None,
        "layer": list(layers),
        "config": {
            "font": FONT,
            "aria": False,
            "view": {"stroke": None},
            "axis": {
                "labelColor": INK,
                "titleColor": INK,
                "labelFontSize": TEXT_SIZE,
                "titleFontSize": TEXT_SIZE,
                "titleFontWeight": "normal",
                "domain": False,
                "ticks": False,
                "gridColor": INK,
                "gridOpacity": 0.12,
                "labelPadding": 6,
            },
            "text": {"color": INK, "fontSize": TEXT_SIZE, "font": FONT},
            "rule": {"color": INK, "strokeWidth": 1},
        },
    }


def layer(values: Sequence[dict[str, object]], mark: Spec, **encoding: object) -> Spec:
    """Return one layer: its own rows, a mark, and how rows become positions."""
    return {"data": {"values": list(values)}, "mark": mark, "encoding": encoding}


def words(values: Sequence[dict[str, object]], mark: Spec, **encoding: object) -> list[Spec]:
    """Return text from the column ``label``, with a rim of paper so that lines do not cross it."""
    rim = {"stroke": PAPER, "strokeWidth": 4, "strokeJoin": "round", "color": PAPER}
    text = {"type": "text", **mark}
    rimmed = {key: value for key, value in encoding.items() if key != "color"}
    return [
        layer(values, text | rim, text={"field": "label"}, **rimmed),
        layer(values, text, text={"field": "label"}, **encoding),
    ]


def place_on(field: str, kind: str, **more: object) -> Spec:
    """Return the encoding of a column by its Vega-Lite type."""
    return {"field": field, "type": kind, **more}
