"""How far the forecast minimum of each coming night may be off."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from mebuki.domain.weather import WeatherPicture
from mebuki.season.decision import SPREAD_BY_LEAD, spread_at
from mebuki.season.frost import NIGHT_BEGINS, NIGHT_ENDS, NIGHTS
from mebuki.season.local_time import local_hour

LEAST_SPREAD = 1.0
"""An ensemble's own spread is never believed below this [K]: ensembles are too sure (default)."""


def spread_by_lead(picture: WeatherPicture, on: date) -> tuple[float, ...]:
    """Return the standard deviation [°C] of the forecast minimum on days 1 to 10.

    What past forecasts of the site have taught stands for the table of
    `decision.SPREAD_BY_LEAD`; where an ensemble covers a night, its own spread
    stands for both; where two providers differ, their difference is added to
    any of them as an independent error.

    Parameters
    ----------
    picture
        Its ``lessons``, ``ensemble_spread`` and ``disagreement`` [K].
    on
        The local day of the round.

    References
    ----------
    Own design (default). That ensembles are too narrow near the ground is
    general experience.
    """
    apart = picture.disagreement or 0.0
    found = []
    for lead in range(NIGHTS):
        own = _ensemble(picture, on + timedelta(days=lead))
        plain = _plain(picture, lead) if own is None else max(own, LEAST_SPREAD)
        found.append(float(np.hypot(plain, apart)))
    return tuple(found)


def _plain(picture: WeatherPicture, lead: int) -> float:
    if picture.lessons is None:
        return spread_at(lead, SPREAD_BY_LEAD)
    return picture.lessons.spread_at(lead)


def _ensemble(picture: WeatherPicture, evening: date) -> float | None:
    """Return the mean spread of an ensemble over a night; none where it does not reach."""
    spread = picture.ensemble_spread
    if spread is None:
        return None
    zone, start = picture.site.zone, picture.hourly.start
    first = max(local_hour(evening, NIGHT_BEGINS, zone) - start, 0)
    last = max(local_hour(evening + timedelta(days=1), NIGHT_ENDS, zone) - start, first)
    night = spread[first:last]
    known = night[np.isfinite(night)]
    return float(known.mean()) if len(known) and len(known) * 2 >= len(night) else None
