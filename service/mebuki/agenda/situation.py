"""What the agenda looks at: a garden on a day, the advice for it, how far one can see."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from mebuki.domain.advice import Advice
from mebuki.domain.garden import Garden
from mebuki.domain.lessons import ForecastLessons
from mebuki.domain.outlook import TreeOutlook
from mebuki.domain.practice import Rulebook
from mebuki.domain.tree import Tree
from mebuki.domain.warning import OfficialWarning
from mebuki.domain.weather import Freshness, WeatherPicture

NIGHT_AHEAD = timedelta(hours=24)
"""How far a forecast must reach for the coming night to be seen."""


@dataclass(frozen=True, slots=True)
class Sight:
    """How far the weather can be seen from one moment (UTC)."""

    at: datetime
    freshness: Freshness
    measured_until: datetime | None
    forecast_until: datetime | None
    remarks: tuple[str, ...] = ()
    warnings: tuple[OfficialWarning, ...] = ()
    credits_: tuple[str, ...] = ()
    lessons: ForecastLessons | None = None

    @classmethod
    def of(cls, picture: WeatherPicture) -> Sight:
        """Return how far a weather picture sees."""
        return cls(
            at=picture.at,
            freshness=picture.freshness,
            measured_until=picture.measured_until,
            forecast_until=picture.forecast_until,
            remarks=picture.remarks,
            credits_=picture.credits_,
            lessons=picture.lessons,
            warnings=tuple(each for each in picture.warnings if not each.over(picture.at)),
        )

    @property
    def blind(self) -> bool:
        """Whether the coming night cannot be seen: weather a day old, or no forecast."""
        if self.freshness is Freshness.BLIND or self.forecast_until is None:
            return True
        return self.forecast_until < self.at + NIGHT_AHEAD


@dataclass(frozen=True, slots=True, eq=False)
class Situation:
    """All that the agenda works on for one garden.

    Parameters
    ----------
    advice
        Of all trees, conflicts settled; in any order.
    outlooks
        By tree id.
    on, at
        The local day and the moment (UTC) of the round.
    unsent
        A line for each letter that could not be sent, for the digest.
    """

    garden: Garden
    advice: tuple[Advice, ...]
    outlooks: Mapping[str, TreeOutlook]
    sight: Sight
    rulebook: Rulebook
    on: date
    at: datetime
    unsent: tuple[str, ...] = ()
    trees: Mapping[str, Tree] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Set ``trees``, the trees of the garden by id."""
        object.__setattr__(self, "trees", {tree.id: tree for tree in self.garden.trees})

    def name(self, tree: str) -> str:
        """Return the name of a tree by its id; the id itself if it is gone."""
        found = self.trees.get(tree)
        return found.name if found else tree

    def place_name(self, tree: str) -> str:
        """Return the name of the place where a tree stands; empty if it is gone."""
        found = self.trees.get(tree)
        return self.garden.place(found.place).name if found else ""
