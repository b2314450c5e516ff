"""The result of planning one garden: everything that publishing and reporting need."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from mebuki.agenda.changes import shown
from mebuki.agenda.entry import Entry, Notice, Published
from mebuki.agenda.memory import remembered
from mebuki.agenda.situation import Sight, Situation
from mebuki.domain.advice import Advice
from mebuki.domain.garden import Garden
from mebuki.domain.outlook import TreeOutlook
from mebuki.domain.practice import Rulebook
from mebuki.domain.taxon import Taxon
from mebuki.domain.weather import WeatherPicture
from mebuki.season.corrected_forecast import corrected


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What one round found for one garden.

    Parameters
    ----------
    garden
        The garden as it was known on the day of the round.
    on, at
        The local day and the nominal moment (UTC) of the round.
    picture
        As looked at: its forecast is the provider's own.
    outlooks
        By tree id.
    entries
        Revised against what was published before.
    notices
        New ones only: nothing in here was sent before.
    marks
        What is to be remembered beside them (`mebuki.agenda.memory`).
    """

    garden: Garden
    on: date
    at: datetime
    picture: WeatherPicture
    taxa: Mapping[str, Taxon]
    outlooks: Mapping[str, TreeOutlook]
    advice: tuple[Advice, ...]
    entries: tuple[Entry, ...]
    notices: tuple[Notice, ...]
    rulebook: Rulebook
    marks: tuple[str, ...] = ()

    @property
    def weather(self) -> WeatherPicture:
        """The picture with its forecast corrected, as the outlooks saw it."""
        return corrected(self.picture, self.on)

    @property
    def shown(self) -> tuple[Entry, ...]:
        """The entries that readers see; ``entries`` also remembers what left the calendar."""
        return shown(self.entries, self.at, self.kept_days)

    @property
    def kept_days(self) -> int:
        """How many days a cancelled entry is shown."""
        return int(self.rulebook.practice.value("agenda.cancelled_kept_days"))

    def published(self, before: Published) -> Published:
        """Return what readers have been shown once this plan is out."""
        told = remembered(before.notices, self.notices, self.marks, self.on)
        return Published(at=self.at, entries=self.entries, notices=told)

    @property
    def situation(self) -> Situation:
        """What the agenda looked at."""
        return Situation(
            garden=self.garden,
            advice=self.advice,
            outlooks=self.outlooks,
            sight=Sight.of(self.picture),
            rulebook=self.rulebook,
            on=self.on,
            at=self.at,
        )
