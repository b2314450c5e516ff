"""Cold nights as notices to the readers of one level: prepare, act, and what grew worse."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from mebuki.agenda.body import basis_facts, official_facts
from mebuki.agenda.cautions import cautions_for
from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep, Risk
from mebuki.agenda.memory import Mark, Memory
from mebuki.agenda.nights import DANGER, ONE_DAY, ColdNight, cold_nights, threshold_of, worst_of
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import frost_fact, verb, who
from mebuki.domain.advice import Advice, CareKind, Moments, Severity
from mebuki.domain.wording import (
    chance_text,
    clock_text,
    frost_type_text,
    name_order,
    percent_text,
    temperature_text,
    weekday_text,
)
from mebuki.season.decision import LIKELY
from mebuki.season.sun import sunset

SOONEST_PREPARE = 2
"""Days ahead from which there is time to prepare; later the day itself calls."""

LITTLE_LIGHT = timedelta(minutes=30)
"""Before sunset: so late nobody is told to be done before dark (default)."""

AS_WELL = " as well"
"""How the subject of an update ends that names trees which are new."""

Word = tuple[Notice | None, Mark]
"""A notice, or silence, with what readers know after it."""


def notice_key(evening: date, step: NoticeStep) -> str:
    """Return the key of a notice about the night that begins on an evening."""
    return f"{DANGER}:{evening.isoformat()}:{step}"


def danger_words(situation: Situation, memory: Memory) -> Iterator[Word]:
    """Yield what is to be told of cold nights to the readers of a level, and was not yet.

    A spell of cold nights is prepared for once. Frost on fresh roots and new
    growth is told each night, in the first round of its day that sees it; cold at
    the roots in winter is told again only when other trees are in danger than on
    the night before. After that only what is worse is told: a graver danger, or
    trees that were not named.
    """
    furthest = situation.rulebook.practice.value("frost.prepare_days_ahead")
    nights = cold_nights(situation, memory)
    for cold in nights:
        lead = (cold.evening - situation.on).days
        before = memory.marks.get((DANGER, cold.evening))
        if lead == 0 and notice_key(cold.evening, NoticeStep.ACT) in memory.told:
            yield from _update(situation, memory, cold, before)
        elif lead == 0:
            yield _act(situation, memory, cold, before)
        elif SOONEST_PREPARE <= lead <= furthest and _worth_preparing(
            situation, memory, cold, nights
        ):
            yield _prepare(situation, memory, cold), cold.mark(acted=False, before=before)


def _act(situation: Situation, memory: Memory, cold: ColdNight, before: Mark | None) -> Word:
    mark = cold.mark(acted=True, before=before)
    if not cold.frosty and _goes_on(memory, cold, before):
        return None, mark
    subject = f"{_fact(cold)} tonight: {verb(cold.advice)} {who(situation, cold.advice)}"
    then = f"; {_when(situation, cold)}."
    return _notice(situation, memory, cold, (NoticeStep.ACT, 0), (subject, then)), mark


def _goes_on(memory: Memory, cold: ColdNight, today: Mark | None) -> bool:
    """Whether all trees were told of the night before, or kept quiet for tonight already."""
    before = memory.marks.get((DANGER, cold.evening - ONE_DAY))
    known = [mark for mark in (before, today) if mark is not None and mark.acted]
    return bool(known) and all(any(mark.knows(tree) for mark in known) for tree in cold.trees)


def _update(
    situation: Situation, memory: Memory, cold: ColdNight, before: Mark | None
) -> Iterator[Word]:
    if before is None:
        return
    new = tuple(each for each in cold.advice if not before.knows(each.tree))
    if not new and worst_of(cold.advice) <= before.severity:
        return
    revision = 1
    key = notice_key(cold.evening, NoticeStep.ACT)
    while f"{key}#{revision}" in memory.told:
        revision += 1
    what = (
        f"{verb(new)} {who(situation, new)}{AS_WELL}"
        if new
        else f"{verb(cold.advice)} all trees named"
    )
    fact = _fact(cold)
    subject = f"Worse tonight, {fact[0].lower()}{fact[1:]}: {what}"
    then = f"; {_when(situation, cold)}."
    notice = _notice(situation, memory, cold, (NoticeStep.ACT, revision), (subject, then))
    notice = replace(notice, named=tuple(dict.fromkeys(each.tree for each in new)))
    if new:
        known = tuple(each for each in cold.advice if before.knows(each.tree))
        lines = lines_of(situation, new, "New: ") + lines_of(situation, known, "Told before: ")
        notice = replace(notice, lines=lines)
    yield notice, cold.mark(acted=True, before=before)


def _worth_preparing(
    situation: Situation, memory: Memory, cold: ColdNight, nights: Sequence[ColdNight]
) -> bool:
    """Whether a night ahead is likely enough, and not part of a spell that was told."""
    before = cold.evening - ONE_DAY
    known = {(cold.evening, NoticeStep.PREPARE), (before, NoticeStep.PREPARE)} | {
        (before, NoticeStep.ACT)
    }
    told = any(notice_key(*each) in memory.told for each in known)
    if told or any(night.evening == before for night in nights):
        return False
    factor = situation.rulebook.practice.value("frost.prepare_factor")
    for each in cold.advice:
        threshold = threshold_of(situation, each, memory)
        if each.probability is not None and threshold is not None:
            limit = min(factor * threshold, max(threshold, LIKELY))
            if each.probability > limit:
                return True
    return False


def _prepare(situation: Situation, memory: Memory, cold: ColdNight) -> Notice:
    day = weekday_text(cold.evening)
    subject = f"{_fact(cold)}, night of {day}: make room for {who(situation, cold.advice)}"
    then = ". Move nothing yet: if it stays so, another word comes on the day."
    return _notice(situation, memory, cold, (NoticeStep.PREPARE, 0), (subject, then))


def _fact(cold: ColdNight) -> str:
    if cold.night is None:
        return "Cold"
    lowest = cold.night.air_minimum
    return frost_fact(lowest) if cold.frosty else f"Cold {temperature_text(lowest, 0)}"


def _lowest(situation: Situation, cold: ColdNight, advice: Advice) -> str:
    if cold.night is None:
        return "A cold night is coming"
    at = clock_text(cold.night.minimum_at, situation.garden.site.zone)
    chance = advice.probability
    sure = "" if chance is None else f", chance of harm {percent_text(chance)}"
    return f"Lowest {temperature_text(cold.night.air_minimum)} about {at}{sure}"


def _when(situation: Situation, cold: ColdNight) -> str:
    """Return until when to act: by daylight while there is some, else now."""
    site = situation.garden.site
    dark = sunset(site.latitude, site.longitude, cold.evening)
    if dark is None:
        begun = cold.night is not None and cold.night.begins <= situation.at
        return "act now" if begun else "act before dark"
    if situation.at > dark - LITTLE_LIGHT:
        return "act now"
    return f"act before dark (sunset {clock_text(dark, site.zone)})"


def _worst(cold: ColdNight) -> Advice:
    return _worst_first(cold)[0]


def _worst_first(cold: ColdNight) -> Sequence[Advice]:
    return sorted(cold.advice, key=lambda each: (-(each.probability or 0.0), each.tree))


def _notice(
    situation: Situation,
    memory: Memory,
    cold: ColdNight,
    which: tuple[NoticeStep, int],
    words: tuple[str, str],
) -> Notice:
    step, revision = which
    return Notice(
        key=notice_key(cold.evening, step),
        thread=f"{DANGER}:{cold.evening.isoformat()}",
        step=step,
        kind=CareKind.FROST if cold.frosty else CareKind.WINTER,
        subject=words[0],
        lead=f"{_lowest(situation, cold, _worst(cold))}{words[1]}",
        lines=lines_of(situation, cold.advice),
        facts=tuple(_facts(situation, memory, cold)),
        cautions=cautions_for(situation, cold.advice),
        at=situation.at,
        revision=revision,
        useful_until=_ends(cold.advice),
        chart="nights",
        level=memory.level,
        exact=() if cold.night is None else (cold.night.air_minimum,),
        severity=severest(cold.advice),
        act_by=begins(cold.advice),
        risks=tuple(
            Risk(
                each.tree,
                f"{_lowest(situation, cold, each)}{words[1]}",
                tuple(_risk_facts(situation, memory, each)),
            )
            for each in _worst_first(cold)
        ),
    )


def lines_of(
    situation: Situation, advice: Sequence[Advice], before: str = ""
) -> tuple[NoticeLine, ...]:
    """Return trees by place and deed; ``before`` stands before the name of each place."""
    found: dict[tuple[str, str], list[tuple[str, str]]] = {}
    named = [(situation.name(each.tree), each) for each in advice]
    for name, each in sorted(named, key=lambda one: (name_order(one[0]), one[1].tree)):
        place = situation.place_name(each.tree)
        found.setdefault((place, each.deed), []).append((name, each.tree))
    return tuple(
        NoticeLine(
            f"{before}{place}",
            deed,
            tuple(name for name, _ in trees),
            tuple(i for _, i in trees),
        )
        for (place, deed), trees in sorted(found.items())
    )


def _ends(advice: Sequence[Advice]) -> datetime | None:
    return max((each.span.ends for each in advice if isinstance(each.span, Moments)), default=None)


def begins(advice: Sequence[Advice]) -> datetime | None:
    """Return the moment from which the first of some dangers is there; none if not known."""
    return min(
        (each.span.begins for each in advice if isinstance(each.span, Moments)), default=None
    )


def severest(advice: Sequence[Advice]) -> Severity:
    """Return the worst severity of some dangers."""
    ranks = list(Severity)
    return min((each.severity for each in advice), key=ranks.index)


def _facts(situation: Situation, memory: Memory, cold: ColdNight) -> Iterator[tuple[str, str]]:
    zone = situation.garden.site.zone
    if cold.night is not None:
        night = cold.night
        yield (
            "Lowest air temperature",
            f"{temperature_text(night.air_minimum)} ± {night.spread:.1f}",
        )
        yield "Coldest about", f"{clock_text(night.minimum_at, zone)} local time"
        yield "Kind of cold", frost_type_text(night.frost_type)
    yield from _risk_facts(situation, memory, _worst(cold))
    yield from official_facts(situation)
    yield from basis_facts(situation)


def _risk_facts(situation: Situation, memory: Memory, advice: Advice) -> Iterator[tuple[str, str]]:
    """Yield what is said of the tree that is most at risk, if it is the one of an advice."""
    name = situation.name(advice.tree)
    if advice.probability is not None:
        yield "Chance of harm", f"{chance_text(advice.probability)} ({name})"
    threshold = threshold_of(situation, advice, memory)
    if threshold is not None:
        yield "You are told from a chance of", percent_text(threshold)
    yield "Most at risk", f"{name}: {advice.fact}"
