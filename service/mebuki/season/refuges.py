"""What the closed places of a garden keep out in the coming nights, and how much cold was had.

References
----------
Chilling below 4.4 °C (40 °F) for six to eight weeks: Rutgers New Jersey Agricultural
Experiment Station, fact sheet FS528. The straight-line day is our own.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from mebuki.domain.exposure import Refuge
from mebuki.domain.site import Place
from mebuki.domain.weather import HourlySeries, WeatherPicture, hour_number
from mebuki.season.decision import probability_below
from mebuki.season.frost import coming_nights
from mebuki.season.members import Members
from mebuki.season.parameters import SeasonLimits
from mebuki.season.places import at_place

CLOSED = ("cold-frame", "greenhouse", "shed", "indoors")
"""Kinds of place that walls or glass close."""

SURE_NIGHTS = 4
"""Nights ahead over which a place is judged; later ones are too unsure (default)."""

CHILL_BELOW = SeasonLimits().chill_below
"""Air temperature [°C] under which the weeks of cold count, as shipped."""


def refuges(
    places: Sequence[Place], sky: HourlySeries, picture: WeatherPicture, on: date
) -> dict[str, Refuge]:
    """Return what each closed place keeps out in the coming nights, by the place's id.

    A place whose nights cannot be seen is told as one where frost is certain,
    unless a building holds it above 0 °C.

    Parameters
    ----------
    places
        All places of the garden.
    sky
        Hourly weather of the site.
    picture
        For its site.
    on
        The local day of the round.
    """
    found: dict[str, Refuge] = {}
    for place in places:
        if place.kind not in CLOSED and not place.sheltered:
            continue
        here = at_place(sky.between(hour_number(picture.at) - 96, sky.end), place)
        nights = coming_nights(here, picture.site, place, on).nights
        lowest = min((night.air_minimum for night in nights), default=None)
        chances = [
            float(probability_below(0, each.air_minimum, each.spread))
            for each in nights
            if each.lead_days < SURE_NIGHTS
        ]
        chance = 0.0 if place.sheltered else max(chances, default=1.0)
        found[place.id] = Refuge(place.name, lowest, chance, place.minimum_held)
    return found


def weeks_of_cold(members: Members, on: date, below: float = CHILL_BELOW) -> float | None:
    """Return the weeks below 4.4 °C that a place has had since the chill season began.

    Each day counts by the share of its range that lies below; a day whose extremes
    are unknown counts as none. None where no day is known.

    Parameters
    ----------
    members
        Daily extremes of the season at the place, from its first day of chill.
    on
        The last day that counts.
    below
        Air temperature [°C] under which cold counts.
    """
    days = max(on.toordinal() - members.start + 1, 0)
    low, high = members.minimum[0, :days], members.maximum[0, :days]
    if not np.isfinite(low).any():
        return None
    span = np.maximum(high - low, 0.1)
    share = np.clip((below - low) / span, 0, 1)
    return float(np.nan_to_num(share).sum() / 7)
