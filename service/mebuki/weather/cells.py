"""Grid cells: what leaves the house in place of a garden's coordinates."""

from __future__ import annotations

from dataclasses import dataclass

from mebuki.domain.site import Site

CELL_DEGREES = 0.05
"""Width of a cell [degrees]: about 5 km, half of what the global models resolve."""

HEIGHT_STEP = 50.0
"""Step of the elevation that is asked for [m]; the rest is worked out here."""

MOST_DECIMALS = 4
"""Decimals beyond which MET Norway refuses to answer."""

DATE_LINE = 180.0
"""Longitude that is written with a minus [degrees]."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A rounded place: gardens in one cell share one pull.

    ``latitude`` and ``longitude`` [degrees] of its middle, ``elevation`` [m] in steps.
    """

    latitude: float
    longitude: float
    elevation: float

    @property
    def name(self) -> str:
        """A short text, the same for every garden of the cell."""
        return f"{self.latitude:g},{self.longitude:g},{self.elevation:g}"


def cell_of(site: Site, degrees: float = CELL_DEGREES) -> Cell:
    """Return the cell of a site.

    >>> site = Site(name="x", latitude=52.5163, longitude=13.3777, elevation=34,
    ...             time_zone="Europe/Berlin")
    >>> cell_of(site).name
    '52.5,13.4,50'
    """
    latitude = _rounded(site.latitude, degrees)
    longitude = _rounded(site.longitude, degrees)
    return Cell(
        latitude=min(max(latitude, -90.0), 90.0),
        longitude=-180.0 if longitude >= DATE_LINE else longitude,
        elevation=round(site.elevation / HEIGHT_STEP) * HEIGHT_STEP,
    )


def plain(value: float) -> str:
    """Return a coordinate with at most four decimals and no trailing zeros.

    >>> plain(39.90), plain(-75.0), plain(10.75123)
    ('39.9', '-75', '10.7512')
    """
    return f"{value:.{MOST_DECIMALS}f}".rstrip("0").rstrip(".")


def _rounded(value: float, degrees: float) -> float:
    return round(round(value / degrees) * degrees, MOST_DECIMALS) + 0.0
