"""The catalogue of mails: every sentence of this station, by language.

A translation is one more `Phrases` in `CATALOGUE`; nothing else changes. Words in
braces are filled in. What a notice itself says comes from the agenda and the rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from mebuki.agenda.entry import NoticeStep
from mebuki.domain.advice import CareKind


@dataclass(frozen=True, slots=True)
class Phrases:
    """All sentences of mails in one language.

    Parameters
    ----------
    language
        As HTML names it (BCP 47).
    moment, moment_us
        How a day and time is written (Unicode date patterns), and by US custom.
    steps
        The word for each step, above the subject.
    harms
        What happens if nothing is done, by kind of care.
    topics
        What mails of a topic are about, for the link that stops them
        (`mebuki.agenda.audience.notice_kind`).
    """

    language: str
    moment: str
    moment_us: str
    steps: Mapping[NoticeStep, str]
    harms: Mapping[CareKind, str]
    topics: Mapping[str, str]
    asked_then: str
    counted: str
    if_not: str
    numbers: str
    what: str
    value: str
    care: str
    official: str
    official_note: str
    more: str
    see: str
    see_nights: str
    picture: str
    acknowledge: str
    record: str
    scores: str
    credits_: str
    written: str
    invented: str
    humble: str
    leave_by_mail: str
    leave_kind: str
    leave_all: str


ENGLISH: Final = Phrases(
    language="en",
    moment="EEEE d MMMM y, HH:mm",
    moment_us="EEEE, MMMM d, y, HH:mm",
    steps={
        NoticeStep.PREPARE: "Prepare",
        NoticeStep.ACT: "Act today",
        NoticeStep.OVER: "Over",
        NoticeStep.BLIND: "No clear view",
        NoticeStep.DIGEST: "The day’s work",
    },
    harms={
        CareKind.FROST: (
            "Cut roots, opening buds and young leaves freeze first. What freezes dies back; "
            "a tree with fresh roots may be lost."
        ),
        CareKind.WINTER: (
            "Fine roots at the pot wall die first, unseen. It shows in spring, as a tree that "
            "leafs out poorly or not at all."
        ),
        CareKind.HEAT: (
            "Roots at the sunny wall of the pot die and leaves scorch; the tree may lose its "
            "leaves or whole branches."
        ),
        CareKind.WIND: (
            "Pots may be blown over. Branches break, and roots that hold poorly are torn."
        ),
        CareKind.WATER: (
            "The root ball runs dry before the next watering; leaves wilt and fine roots die."
        ),
    },
    topics={
        CareKind.FROST: "frost",
        CareKind.WINTER: "cold at the roots",
        CareKind.HEAT: "heat",
        CareKind.WIND: "wind",
        CareKind.WATER: "water",
        CareKind.REPOT: "repotting",
        CareKind.WIRE: "wire",
        CareKind.PRUNE: "pruning",
        CareKind.DEADWOOD: "deadwood",
        CareKind.FEED: "feeding",
        CareKind.SCOUT: "pests",
        CareKind.OBSERVE: "things to look at",
        "digest": "the work of the day",
        "blind": "weather that cannot be seen",
        "over": "weather that can be seen again",
    },
    asked_then="If it stays so, this will be asked:",
    counted="{count} trees:",
    if_not="If nothing is done",
    numbers="The numbers behind it",
    what="What",
    value="Value",
    care="Take care",
    official="Official warnings",
    official_note="In the words of those who issued them.",
    more="Go on",
    see="See it as a page",
    see_nights="See it as a page, with the picture of the night",
    picture="The coming nights",
    acknowledge="Say that you have seen it",
    record="Record what you did",
    scores="How well we warned you of frost",
    credits_="Weather",
    written="Mebuki for {garden}, {moment} (garden’s time).",
    invented="This garden is invented: it is an example.",
    humble=(
        "Forecasts can be wrong. This is advice, not a promise: a look at the thermometer and "
        "the tree decides."
    ),
    leave_by_mail="To stop these mails, write to {sender} with the subject “{subject}”.",
    leave_kind="Stop mails about {kind}",
    leave_all="Stop all mails about this garden",
)

CATALOGUE: Final[Mapping[str, Phrases]] = {"en": ENGLISH}


def phrases(language: str) -> Phrases:
    """Return the sentences of a language such as ``en`` or ``en-US``; English if it has none.

    >>> phrases("en-US").language, phrases("xx").language
    ('en', 'en')
    """
    return CATALOGUE.get(language.partition("-")[0].lower(), ENGLISH)
