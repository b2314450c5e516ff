"""The pictures that go with notices, drawn once for all readers of the same units."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Final

from mebuki.agenda.entry import Notice
from mebuki.domain.customs import as_read
from mebuki.domain.quantity import Units
from mebuki.pictures.coming_nights import describe_nights, place_nights, place_shown
from mebuki.pictures.nights import nights_chart
from mebuki.pictures.render import to_png
from mebuki.pictures.small_png import small_png
from mebuki.pictures.style import PHONE_WIDTH
from mebuki.rounds.planned import Plan
from mebuki.rounds.ports import Picture

SCALE: Final = 1.5
"""Pixels per px: sharp on a phone."""

ALIKE: Final = 64
"""Pictures that are kept: all readers of a garden share one, and neighbours often do too."""


class MailPictures:
    """Draws the coming nights at the place with most trees under the open sky."""

    def draw(self, plan: Plan, notice: Notice, units: Units) -> Picture | None:
        """Return the picture of a notice; none if it has none, or no night can be seen."""
        return _nights(plan, units) if notice.chart == "nights" else None


def _nights(plan: Plan, units: Units) -> Picture | None:
    place = place_shown(plan)
    if place is None or not place_nights(plan, place):
        return None
    spec = {**nights_chart(plan, place, PHONE_WIDTH, units), "description": ""}
    nights = place_nights(plan, place)
    exact = [low for night in nights for low in (night.air_minimum, night.leaf_minimum)]
    text = as_read(describe_nights(plan, place), units, exact, (place.name,))
    return Picture(png=_png(json.dumps(spec)), text=text, width=PHONE_WIDTH)


@lru_cache(maxsize=ALIKE)
def _png(spec: str) -> bytes:
    return small_png(to_png(json.loads(spec), SCALE))
