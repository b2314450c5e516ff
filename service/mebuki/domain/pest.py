"""Cues for a look at pests and diseases, by the warmth since spring."""

from __future__ import annotations

from pydantic import Field, model_validator

from mebuki.domain.figure import Figure, Frozen


class PestCue(Frozen):
    """When to look for one stage of one pest on some trees.

    Parameters
    ----------
    hosts
        Taxon ids, or genera: the first word of a taxon id.
    look
        What to look for and where, as the end of a sentence that begins with "Look".
    begins, ends
        Degree days [°C d] above 10 °C, from the daily mean since the first of March
        (of September in the south); without ``ends`` the cue is a single point.
    region
        Where the figures were gathered; elsewhere they are a hint.
    """

    id: str
    name: str = Field(min_length=3)
    hosts: tuple[str, ...] = Field(min_length=1)
    look: str = Field(min_length=10)
    begins: Figure
    ends: Figure | None = None
    region: str = Field(min_length=3)

    @model_validator(mode="after")
    def _ordered(self) -> PestCue:
        if self.ends is not None and self.ends.value < self.begins.value:
            msg = "ends must not be less than begins"
            raise ValueError(msg)
        return self

    def infests(self, taxon_id: str) -> bool:
        """Return whether a taxon is among the hosts, by its id or its genus."""
        return taxon_id in self.hosts or taxon_id.partition("-")[0] in self.hosts
