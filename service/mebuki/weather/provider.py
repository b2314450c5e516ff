"""What a live provider can do, and what it gives: the port inside the weather station."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from mebuki.domain.warning import OfficialWarning
from mebuki.weather.answers import Answer
from mebuki.weather.asking import Request
from mebuki.weather.cells import Cell
from mebuki.weather.http_client import WeatherClient


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """A valid answer with its age.

    ``fetched`` is when the bytes came, ``checked`` when the provider last said
    they hold, ``problem`` why they are older than wanted, if they are.
    """

    answer: Answer
    fetched: datetime
    checked: datetime
    problem: str = ""


class Provider(Protocol):
    """One weather service."""

    @property
    def name(self) -> str:
        """The word used in settings."""
        ...

    @property
    def title(self) -> str:
        """The name for people."""
        ...

    def serves(self, cell: Cell) -> bool:
        """Whether a place may lie in its area; a coarse box, to ask nothing in vain."""
        ...

    def requests(self, cell: Cell, at: datetime) -> tuple[Request, ...]:
        """Return what would be asked for a cell, ready to be sent or printed."""
        ...

    def current(self, client: WeatherClient, cell: Cell, at: datetime) -> Reading:
        """Return the newest hours and the forecast.

        Raises
        ------
        ProviderError
            If there is neither a good answer nor a good snapshot.
        """
        ...

    def past(self, client: WeatherClient, cell: Cell, first: int, stop: int) -> tuple[Answer, ...]:
        """Return hours first <= hour < stop of the past, or nothing where it has none.

        Raises
        ------
        ProviderError
            If it should have them and gave none.
        """
        ...

    def warnings(
        self, client: WeatherClient, cell: Cell, at: datetime
    ) -> tuple[OfficialWarning, ...] | None:
        """Return the official warnings of a cell; none where it issues none.

        Raises
        ------
        ProviderError
            If they could not be had: silence must not be taken for calm.
        """
        ...


def in_boxes(cell: Cell, boxes: tuple[tuple[float, float, float, float], ...]) -> bool:
    """Whether a cell lies in a box of (south, north, west, east) degrees."""
    return any(
        south <= cell.latitude <= north and west <= cell.longitude <= east
        for south, north, west, east in boxes
    )
