"""The pictures that go with notices, drawn once for all readers of the same units."""

from __future__ import annotations

from collections import OrderedDict
from datetime import datetime
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

KEPT: Final = 8

_Key = tuple[str, datetime, Units]


class MailPictures:
    """Draws the coming nights at the place with most trees under the open sky.

    The notices of one round of one garden share the picture, whatever their level.
    """

    def __init__(self) -> None:
        self._drawn: OrderedDict[_Key, Picture | None] = OrderedDict()

    def draw(self, plan: Plan, notice: Notice, units: Units) -> Picture | None:
        """Return the picture of a notice; none if it has none, or no night can be seen."""
        if notice.chart != "nights":
            return None
        key = (plan.garden.id, plan.at, units)
        if key not in self._drawn:
            self._drawn[key] = _nights(plan, units)
            while len(self._drawn) > KEPT:
                self._drawn.popitem(last=False)
        return self._drawn[key]


def _nights(plan: Plan, units: Units) -> Picture | None:
    place = place_shown(plan)
    if place is None or not place_nights(plan, place):
        return None
    spec = nights_chart(plan, place, PHONE_WIDTH, units)
    text = as_read(describe_nights(plan, place), units, names=(place.name,))
    return Picture(png=small_png(to_png(spec, SCALE)), text=text, width=PHONE_WIDTH)
