"""Pictures of ink on paper made small enough for mails: the few colours they have, numbered."""

from __future__ import annotations

from io import BytesIO
from typing import Final

from PIL import Image, UnidentifiedImageError

MOST_COLOURS: Final = 64
"""Colours that a picture keeps: inks, paper and the shades between them (design default)."""


def small_png(png: bytes) -> bytes:
    """Return a picture as an indexed PNG, a tenth of the size; as it is if it cannot be read."""
    try:
        picture = Image.open(BytesIO(png))
        indexed = picture.convert("RGB").quantize(
            MOST_COLOURS, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE
        )
    except (UnidentifiedImageError, OSError, SyntaxError):
        return png
    written = BytesIO()
    indexed.save(written, "PNG", dpi=picture.info.get("dpi"))
    return written.getvalue()
