"""Specifications become pictures; the renderer starts at the first use."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from typing import Any, Final

import vl_convert

from mebuki.pictures.style import ACCENT, INK, PAPER, Spec

VEGA_LITE: Final = "6.4"
_PAGE_COLOURS: Final = {INK: "currentColor", ACCENT: "var(--accent)", PAPER: "var(--paper)"}
_COLOUR: Final = re.compile(
    r'(?<==")(?:' + "|".join(map(re.escape, _PAGE_COLOURS)) + r')(?=")', re.IGNORECASE
)


def to_svg(spec: Spec) -> str:
    """Return a picture that takes the colours of the page it stands on.

    The page sets ``color``, ``--accent`` and ``--paper``.
    """
    return _COLOUR.sub(lambda found: _PAGE_COLOURS[found[0].lower()], _svg(_text(spec)))


def to_png(spec: Spec, scale: float = 2) -> bytes:
    """Return a picture on paper as PNG, for mails; ``scale`` is pixels per px."""
    drawn: Any = vl_convert.vegalite_to_png(
        {**spec, "background": PAPER}, vl_version=VEGA_LITE, scale=scale
    )
    return bytes(drawn)


def _text(spec: Spec) -> str:
    return json.dumps(spec, sort_keys=True, ensure_ascii=False)


@lru_cache(maxsize=64)
def _svg(text: str) -> str:
    return str(vl_convert.vegalite_to_svg(text, vl_version=VEGA_LITE))
