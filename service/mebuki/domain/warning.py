"""Official warnings: what a weather service itself says, verbatim, beside our own advice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Severity(StrEnum):
    """How bad, in the words of the Common Alerting Protocol 1.2 (OASIS 2010)."""

    EXTREME = "Extreme"
    SEVERE = "Severe"
    MODERATE = "Moderate"
    MINOR = "Minor"
    UNKNOWN = "Unknown"


@dataclass(frozen=True, slots=True)
class OfficialWarning:
    """One warning in force or to come, as its issuer worded it.

    It never enters a probability of ours, and its texts are never changed.

    Parameters
    ----------
    key
        What stays the same through all updates of one event.
    issuer
        The office that issued it, in its own words.
    event, headline, description, instruction, area
        Verbatim; empty where the issuer gave none.
    urgency, certainty
        Words of the Common Alerting Protocol.
    sent
        When this message was issued.
    onset, ends
        When the event begins and ends, or none where the issuer leaves it open.
    expires
        When this *message* runs out, or none. An update may follow.
    link
        Where the issuer shows it.
    """

    key: str
    issuer: str
    event: str
    headline: str
    description: str
    instruction: str
    area: str
    severity: Severity
    urgency: str
    certainty: str
    sent: datetime
    onset: datetime | None
    ends: datetime | None
    expires: datetime | None
    link: str

    def over(self, at: datetime) -> bool:
        """Whether the event has ended; a warning without an end is over when its message expires.

        >>> from datetime import UTC, datetime
        >>> noon = datetime(2026, 3, 25, 12, tzinfo=UTC)
        >>> warning = OfficialWarning("k", "i", "Freeze", "", "", "", "", Severity.MINOR, "", "",
        ...     sent=noon, onset=None, ends=None, expires=noon, link="")
        >>> warning.over(noon)
        True
        """
        end = self.ends or self.expires
        return end is not None and end <= at
