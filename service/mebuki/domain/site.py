"""Where the trees stand: the site of a garden and the places in it."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import Field, field_validator

from mebuki.domain.figure import Frozen

Share = Annotated[float, Field(ge=0, le=1)]

PlaceKind = Literal["bench", "shade-bench", "ground", "cold-frame", "greenhouse", "shed", "indoors"]


class Site(Frozen):
    """The spot on Earth whose weather the garden has.

    Parameters
    ----------
    latitude, longitude
        Degrees, north and east positive.
    elevation
        Metres above sea level.
    time_zone
        An IANA name such as ``Europe/Berlin``.
    """

    name: str = Field(min_length=1)
    latitude: float = Field(ge=-90, le=90)
    longitude: float = Field(ge=-180, le=180)
    elevation: float = Field(default=0, ge=-430, le=8850)
    time_zone: str

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except (KeyError, ValueError, OSError) as error:
            msg = "must be an IANA time zone such as Europe/Berlin or America/New_York"
            raise ValueError(msg) from error
        return value

    @property
    def zone(self) -> ZoneInfo:
        """The time zone as an object."""
        return ZoneInfo(self.time_zone)

    def moment(self, day: date, hour: int) -> datetime:
        """Return the moment (UTC) of a full local hour, 0 to 23, of a day."""
        return datetime.combine(day, time(hour), self.zone).astimezone(UTC)

    @property
    def southern(self) -> bool:
        """Whether the seasons are those of the southern hemisphere."""
        return self.latitude < 0


class Place(Frozen):
    """A spot in the garden and what it does to the weather.

    Parameters
    ----------
    sun_share, sky_share, wind_share, rain_share
        Share [0..1] of the open site's sun, clear-sky radiation loss, wind and
        rain that reaches a tree here.
    temperature_offset
        Degrees Celsius added to the site's air temperature.
    minimum_held
        Air temperature [°C] that a heater or a building keeps, or none.
    lag_hours
        Time constant [h] with which the air here follows the air outside; 0
        for a place in the open.
    pot_on_ground
        Whether pots stand on or in the soil.
    insulation
        Thermal resistance [m2 K W-1] round the pots in winter (mulch, foam).
    """

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    name: str = Field(min_length=1)
    kind: PlaceKind
    sun_share: Share = 1.0
    sky_share: Share = 1.0
    wind_share: Share = 1.0
    rain_share: Share = 1.0
    temperature_offset: float = Field(default=0, ge=-10, le=15)
    minimum_held: float | None = Field(default=None, ge=-10, le=30)
    lag_hours: float = Field(default=0, ge=0, le=72)
    pot_on_ground: bool = False
    insulation: float = Field(default=0, ge=0, le=10)

    @property
    def sheltered(self) -> bool:
        """Whether frost can be kept from a pot here."""
        return self.minimum_held is not None and self.minimum_held >= 0
