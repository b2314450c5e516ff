"""The year of one tree in plain words: what comes in order, how sure, why, what must wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from mebuki.agenda.absence import lasts
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, Days
from mebuki.domain.outlook import Milestone, StageOutlook, TreeOutlook
from mebuki.domain.wording import chance_text, dated, day_text, days_text

STAGES: dict[Milestone, str] = {
    Milestone.SWELL: "buds begin to swell",
    Milestone.BREAK: "buds open",
    Milestone.FLOWERING: "first flowers",
    Milestone.UNFOLDED: "first leaves unfold",
    Milestone.GROWN: "leaves are grown",
    Milestone.SHOOTS_GROWN: "shoots are grown",
    Milestone.WARM_NIGHTS: "nights stay warm",
    Milestone.COLOUR: "leaves colour",
    Milestone.LEAF_FALL: "leaves fall",
}
"""What is told of the season, each in words."""

GROUNDS = 2
"""Reasons that the sentence names; all of them stand with the numbers."""


def year_of(situation: Situation, tree: str, advice: Sequence[Advice]) -> tuple[str, ...]:
    """Return the year of a tree as lines: the season, what is coming in order, and water.

    Parameters
    ----------
    situation
        The garden on the day.
    tree
        Its id.
    advice
        The advice of this tree that is to be told.
    """
    outlook = situation.outlooks[tree]
    return (
        *_season(outlook),
        "",
        *_coming(situation, advice),
        *_water(situation, outlook),
        *_sources(advice),
    )


def _season(outlook: TreeOutlook) -> Iterator[str]:
    yield "The season"
    told = [
        stage
        for stage in outlook.stages
        if stage.milestone in STAGES and stage.likely is not None and _near(outlook, stage)
    ]
    for stage in sorted(told, key=lambda each: (each.likely or date.max, each.milestone)):
        yield f"  {_stage(stage, outlook.on)}"
    if not told:
        yield "  no stage of the season can be foreseen"


def _near(outlook: TreeOutlook, stage: StageOutlook) -> bool:
    """Whether a stage belongs to the running season, or is still ahead."""
    ahead = stage.likely is not None and stage.likely >= outlook.on
    return ahead or stage.season == outlook.season


def _stage(stage: StageOutlook, on: date) -> str:
    likely, early, late = stage.likely, stage.earliest, stage.latest
    if likely is None:
        return STAGES[stage.milestone]
    if early == late:
        return f"{dated(likely)}: {STAGES[stage.milestone]}"
    past = " (past)" if late is not None and late < on else ""
    span = f"{day_text(early)} at the earliest, " if early else ""
    until = f"by {day_text(late)} in nine years of ten" if late else "in some years not at all"
    return f"about {dated(likely)}: {STAGES[stage.milestone]}{past}; {span}{until}"


def _coming(situation: Situation, advice: Sequence[Advice]) -> Iterator[str]:
    yield "What is coming, in order" if advice else "Nothing is coming that asks for a hand"
    zone = situation.garden.site.zone
    for each in sorted(advice, key=lambda one: (_begins(one, situation), one.kind, one.action)):
        if isinstance(each.span, Days):
            first, last = each.span.first, each.span.last
            likely = f", likely {day_text(each.span.likely)}" if each.span.likely else ""
            when = f"{days_text(first, last)} {last.year}{likely if first != last else ''}"
        else:
            when = f"night of {dated(each.span.begins.astimezone(zone).date())}"
        yield f"  {when}: {each.fact}"
        yield from (f"    {line}" for line in _sentences(each))


def _begins(advice: Advice, situation: Situation) -> date:
    if isinstance(advice.span, Days):
        return advice.span.first
    return advice.span.begins.astimezone(situation.garden.site.zone).date()


def _sentences(advice: Advice) -> Iterator[str]:
    if advice.blocked:
        yield f"This must wait: {advice.blocked}."
    else:
        yield advice.deed
    sure = advice.certainty.lower()
    if advice.probability is not None:
        sure = chance_text(advice.probability)
    grounds = [f"{each.what} {each.value}" for each in advice.reasons[:GROUNDS]]
    because = f" Because: {'; '.join(grounds)}." if grounds else ""
    yield f"How sure: {sure}.{because}"


def _water(situation: Situation, outlook: TreeOutlook) -> Iterator[str]:
    told = lasts(outlook, situation.rulebook)
    if told is not None:
        yield ""
        yield f"Without water a full pot lasts {told}, if no rain falls."


def _sources(advice: Sequence[Advice]) -> Iterator[str]:
    found = dict.fromkeys(reason.source for each in advice for reason in each.reasons)
    if found:
        yield ""
        yield "Sources"
        yield from (f"  {source}" for source in found)
