"""The hours that a plan rested on, as bytes: kept with where they came from.

Long past hours are left out: what a plan decides rests on the last days and on
the forecast, and the season before is kept by the weather station itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from typing import Final

import numpy as np

from mebuki.domain.weather import COLUMNS, HourlySeries, WeatherPicture, hour_number
from mebuki.storage.snapshots import Snapshot

KEPT_HOURS: Final = 72
"""Hours before the moment of the picture that are kept."""


def snapshots_of(picture: WeatherPicture, cell: str) -> Iterator[Snapshot]:
    """Yield one snapshot for each source of a picture that says when it was fetched."""
    now = hour_number(picture.at)
    content: bytes | None = None
    for source in picture.provenance:
        if source.fetched is None or source.last < picture.at:
            continue
        if content is None:
            content = hours_bytes(picture.hourly.between(now - KEPT_HOURS, picture.hourly.end))
        yield Snapshot(cell, source, content)


def hours_bytes(series: HourlySeries) -> bytes:
    """Return a series as compressed bytes; the same series gives the same bytes."""
    columns = {name: getattr(series, name).astype(np.float32) for name in COLUMNS}
    buffer = BytesIO()
    np.savez_compressed(
        buffer, allow_pickle=False, start=np.int64(series.start), origin=series.origin, **columns
    )
    return buffer.getvalue()


def hours_of(content: bytes) -> HourlySeries:
    """Return the series from its bytes, to four bytes a value."""
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        columns = {name: kept[name].astype(np.float64) for name in COLUMNS}
        return HourlySeries(start=int(kept["start"]), origin=kept["origin"], **columns)
