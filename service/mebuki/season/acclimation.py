"""How much of their midwinter hardiness shoots and roots have, from daily extremes."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats
from mebuki.season.parameters import Hardening

SHIPPED = Hardening()
"""The figures as they are shipped."""

SHOOTS_HARD = 51
ROOTS_HARD = 75
"""Days from the start of the season to full hardening by the calendar alone.

Shoots by the winter solstice (22 December), roots by midwinter (15 January);
the south half a year later. Warmth counts against both from midwinter on.
"""


def hardening(
    minimum: ArrayLike, maximum: ArrayLike, figures: Hardening = SHIPPED
) -> tuple[Floats, Floats]:
    """Return the share of midwinter hardiness of shoots and of roots, day by day.

    It rises from 0 to 1 with 600 hours between 0 and 7 °C or by the calendar,
    whichever is first, and falls to 0 with 100 degree days above 5 °C summed
    from midwinter on.

    Parameters
    ----------
    minimum, maximum
        Daily air temperature [°C], days on the last axis; the first is the
        first day of a season (1 November, 1 May in the south).
    figures
        The hours and degree days of the practice file.

    Returns
    -------
    tuple of Floats
        Shares [0..1] for shoots and for roots at the end of each day; NaN from
        the first missing day on.

    Notes
    -----
    A design default, not a measured curve: it keeps the limits of autumn and
    spring near those of unhardened roots. A cold spell after a warm one does
    not restore what was lost, which errs on the side of care. The hours of a
    day within bounds are those of a sine between its extremes.

    References
    ----------
    Roots harden later than shoots and are hardest in January; a warm root zone
    delays them: Havis (1976, HortScience 11, 385-386).
    """
    low = np.asarray(minimum, dtype=np.float64)
    high = np.asarray(maximum, dtype=np.float64)
    hours = 24.0 * (share_below(low, high, 7.0) - share_below(low, high, 0.0))
    gained = np.cumsum(hours, axis=-1) / figures.hours
    warmth = np.maximum((low + high) / 2 - 5.0, 0.0)
    warmth[..., :ROOTS_HARD] = 0.0 * warmth[..., :ROOTS_HARD]
    kept = np.clip(1.0 - np.cumsum(warmth, axis=-1) / figures.degree_days, 0.0, 1.0)
    day = np.arange(1.0, low.shape[-1] + 1)
    shoots, roots = (
        np.minimum(np.minimum(np.maximum(gained, day / by), 1.0), kept)
        for by in (SHOOTS_HARD, ROOTS_HARD)
    )
    return shoots, roots


def share_below(minimum: ArrayLike, maximum: ArrayLike, bound: ArrayLike) -> Floats:
    """Return the share [0..1] of a day below a temperature, on a sine between its extremes.

    Parameters
    ----------
    minimum, maximum
        Extremes of the day [°C].
    bound
        Temperature [°C].
    """
    low = np.asarray(minimum, dtype=np.float64)
    high = np.asarray(maximum, dtype=np.float64)
    half = np.maximum((high - low) / 2, 1e-9)
    across = np.clip((np.asarray(bound) - (low + high) / 2) / half, -1.0, 1.0)
    share: Floats = 0.5 + np.arcsin(across) / np.pi
    return share
