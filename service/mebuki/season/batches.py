"""Many series at once: days of events for site-years by the hundred thousand, in little memory.

References
----------
Those of `mebuki.season.bud_break`; the size of a block is a design default.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from mebuki.domain.weather import Floats, Ints
from mebuki.season.bud_break import Clock, Offsets
from mebuki.season.crossing import event_days

BLOCK = 65_536
"""Values of temperature worked on at a time, so that sums and search stay in the cache."""


def batch_event_days(
    clock: Clock,
    temperature: Floats,
    chill_from: Offsets,
    forcing_from: Offsets,
    requirements: ArrayLike,
) -> Ints:
    """Return event days of many series without keeping their progress.

    The same as `event_days` of the clock's progress; memory beyond the
    arguments and the answer is a few blocks, whatever the number of series.

    Parameters
    ----------
    clock
        The clock to read.
    temperature
        Daily mean air temperature [°C], days on the last axis, any number of
        leading axes (site, year, ...).
    chill_from, forcing_from
        Position on the day axis of the first day that counts, one for all
        series or one for each (leading axes as ``temperature``).
    requirements
        One list for all series, or one list for each.

    Returns
    -------
    Ints
        Leading axes as ``temperature``, requirements on the last axis;
        `mebuki.season.crossing.NEVER` where not reached.
    """
    leading, days = temperature.shape[:-1], temperature.shape[-1]
    series = temperature.reshape(-1, days)
    asked = np.atleast_1d(np.asarray(requirements, dtype=np.float64))
    if asked.ndim > 1:
        asked = np.broadcast_to(asked, (*leading, asked.shape[-1])).reshape(len(series), -1)
    found = np.empty((len(series), asked.shape[-1]), dtype=np.int64)
    chill, forcing = (_by_series(offset, leading) for offset in (chill_from, forcing_from))
    rows = max(BLOCK // days, 1)
    for first in range(0, len(series), rows):
        here = slice(first, first + rows)
        progress = clock.progress(series[here], _part(chill, here), _part(forcing, here))
        found[here] = event_days(progress, asked if asked.ndim == 1 else asked[here])
    return found.reshape(*leading, -1)


def _by_series(offset: Offsets, leading: tuple[int, ...]) -> Offsets:
    return offset if isinstance(offset, int) else np.broadcast_to(offset, leading).reshape(-1)


def _part(offset: Offsets, here: slice) -> Offsets:
    return offset if isinstance(offset, int) else offset[here]
