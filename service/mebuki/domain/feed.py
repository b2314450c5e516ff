"""What one calendar feed of a reader holds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final, Self, TypeVar

from pydantic import Field, PlainSerializer

from mebuki.domain.advice import CareKind
from mebuki.domain.figure import Frozen

WHOLE_FEED: Final = ""
"""The variant that holds the whole garden; other feeds have an id of their own."""

MUST_NOT_MISS: Final = frozenset({CareKind.FROST, CareKind.WINTER, CareKind.REPOT})
"""The kinds whose moment does not come back: cold nights and repotting."""


@dataclass(frozen=True, slots=True)
class Revoked:
    """What is found behind the address of a feed that was deliberately ended."""


class FeedForm(StrEnum):
    """How entries are shown: as events of a calendar, or as tasks to tick off."""

    EVENTS = "events"
    TASKS = "tasks"


_Member = TypeVar("_Member", bound=str)
Some = Annotated[frozenset[_Member], Field(min_length=1), PlainSerializer(sorted, when_used="json")]
"""A choice of some: never of none, and written in order."""


class FeedChoice(Frozen):
    """What one feed holds; nothing chosen means all of it.

    Parameters
    ----------
    name
        How calendar programs call the feed; the garden's name if empty.
    kinds, places, trees
        Care kinds, place ids and tree ids; None for all of them.
    alarms
        Whether entries that need a hand at a certain hour may ring.
    form
        Events, or tasks.
    """

    name: str = Field(default="", max_length=80)
    kinds: Some[CareKind] | None = None
    places: Some[str] | None = None
    trees: Some[str] | None = None
    alarms: bool = True
    form: FeedForm = FeedForm.EVENTS

    @classmethod
    def must_not_miss(cls, name: str = "") -> Self:
        """Return the choice of what nobody may miss: cold nights and repotting."""
        return cls(name=name, kinds=MUST_NOT_MISS)
