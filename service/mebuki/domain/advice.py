"""One finding of a care rule, with the numbers that led to it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from mebuki.domain.exposure import Refuge
from mebuki.domain.figure import Figure
from mebuki.domain.outlook import TreeOutlook
from mebuki.domain.practice import Rulebook
from mebuki.domain.site import Place, Site
from mebuki.domain.taxon import Taxon
from mebuki.domain.tree import Tree
from mebuki.domain.warning import Severity as Severity  # noqa: PLC0414 - a word of advice too


class CareKind(StrEnum):
    """The kinds of care, in the order a page shows them."""

    FROST = "frost"
    WINTER = "winter"
    HEAT = "heat"
    WIND = "wind"
    WATER = "water"
    REPOT = "repot"
    WIRE = "wire"
    PRUNE = "prune"
    DEADWOOD = "deadwood"
    FEED = "feed"
    SCOUT = "scout"
    OBSERVE = "observe"


class Urgency(StrEnum):
    """Urgency in the words of CAP 1.2."""

    IMMEDIATE = "Immediate"
    EXPECTED = "Expected"
    FUTURE = "Future"
    PAST = "Past"


class Certainty(StrEnum):
    """Certainty in the words of CAP 1.2."""

    OBSERVED = "Observed"
    LIKELY = "Likely"
    POSSIBLE = "Possible"
    UNLIKELY = "Unlikely"


@dataclass(frozen=True, slots=True)
class Days:
    """An inclusive span of local days; ``likely`` is the most likely one."""

    first: date
    last: date
    likely: date | None = None

    def __post_init__(self) -> None:
        if self.last < self.first:
            msg = f"a span may not end ({self.last}) before it begins ({self.first})"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Moments:
    """A span of UTC moments within a night or a day."""

    begins: datetime
    ends: datetime

    def __post_init__(self) -> None:
        if self.ends <= self.begins:
            msg = f"a span may not end ({self.ends}) before it begins ({self.begins})"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Reason:
    """One number behind an advice: what it is, its value as text, its source."""

    what: str
    value: str
    source: str

    @classmethod
    def of(cls, what: str, figure: Figure, unit: str = "") -> Reason:
        """Return the reason that a rule-file figure gives."""
        return cls(what, f"{figure.value:g} {unit}".strip(), figure.source)


@dataclass(frozen=True, slots=True)
class Advice:
    """One finding of a rule for one tree.

    Parameters
    ----------
    action
        A stable code for the deed, such as ``repot-window``; texts for people
        are made from it by the agenda.
    cycle
        What makes this occurrence one of its kind (``2013``, ``2013-03-24``,
        ``2013-1``); with kind, action and tree it is the identity.
    fact
        The finding in a few words for this tree, without its name.
    deed
        What to do, as one sentence.
    probability
        [0..1] of the event, where one was computed.
    threshold
        [0..1] above which the rule asks for a deed, where it decides by
        probability.
    rule
        The rule and its version of thought, such as ``repot R20``.
    cautions
        Keys of ``cautions.toml``.
    blocked
        Why it must wait, or empty.
    weight
        How much it would help, for requests of which only the best are told.
    """

    kind: CareKind
    action: str
    tree: str
    cycle: str
    span: Days | Moments
    fact: str
    deed: str
    urgency: Urgency
    severity: Severity
    certainty: Certainty
    rule: str
    reasons: tuple[Reason, ...]
    probability: float | None = None
    cautions: tuple[str, ...] = ()
    blocked: str = ""
    threshold: float | None = None
    weight: float = 0.0


@dataclass(frozen=True, slots=True)
class Case:
    """All that a rule may look at: one tree, on one day, at one moment (UTC).

    Parameters
    ----------
    shelter_available
        Whether some place of the garden that suits the tree keeps frost out.
    shelters
        The closed places of the garden that suit the tree, the mildest first,
        whether or not they keep frost out in the coming nights.
    doubts
        Records of the tree that contradict others and are not used, in words.
    """

    tree: Tree
    taxon: Taxon
    place: Place
    site: Site
    outlook: TreeOutlook
    rulebook: Rulebook
    on: date
    at: datetime
    shelter_available: bool
    shelters: tuple[Refuge, ...] = ()
    doubts: tuple[str, ...] = ()
