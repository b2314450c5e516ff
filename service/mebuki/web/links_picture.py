"""The picture of a notice, taken from the very mail that its reader was sent."""

from __future__ import annotations

import re
from email.parser import BytesParser
from email.policy import default
from html import unescape
from typing import Final

from mebuki.rounds.ports import Picture

_SHOWN: Final = re.compile(r'<img\b[^>]*\bwidth="(\d{1,4})"[^>]*\balt="([^"]*)"')


def picture_in(message: bytes) -> Picture | None:
    """Return the first picture of a message with its text alternative; none if it has none."""
    parts = list(BytesParser(policy=default).parsebytes(message).walk())
    pictures = [part for part in parts if part.get_content_type() == "image/png"]
    pages = [part for part in parts if part.get_content_type() == "text/html"]
    if not pictures or not pages:
        return None
    shown = _SHOWN.search(pages[0].get_content())
    if shown is None:
        return None
    return Picture(pictures[0].get_content(), unescape(shown[2]), int(shown[1]))
