"""Values that carry where they come from."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

Source = Annotated[
    str,
    Field(
        min_length=3,
        description="a publication, or 'practice', 'memory' or 'default'",
    ),
]
"""Where a value comes from: a publication, or one of three plain words.

``practice`` is common practice without a source, ``memory`` is from memory and
unchecked, ``default`` is our own design choice.
"""

Confidence = Literal["seen", "memory", "practice", "design"]


class Frozen(BaseModel):
    """Base of every value read from a file: immutable, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Figure(Frozen):
    """A number with its source.

    Parameters
    ----------
    value
        The number, in the unit that the key it stands under names.
    low, high
        The range of published or usual values, where there is one.
    source
        See `Source`.
    note
        What a reader must know to use it rightly.
    """

    value: float
    low: float | None = None
    high: float | None = None
    source: Source
    confidence: Confidence | None = None
    note: str = ""

    def over(self, shipped: Figure, where: str) -> Figure:
        """Return this figure as one that takes the place of another: its source says from where.

        What it means stays, unless this figure says so anew.
        """
        source = f"{where}: {self.source}"
        return self.model_copy(update={"source": source, "note": self.note or shipped.note})

    @model_validator(mode="after")
    def _ordered(self) -> Figure:
        if self.low is not None and self.high is not None and self.low > self.high:
            msg = "low must not exceed high"
            raise ValueError(msg)
        return self


class Phrase(Frozen):
    """A word or sentence with its source."""

    value: str
    source: Source
    confidence: Confidence | None = None
    note: str = ""
