"""Cold nights as notices: prepare, act, over; at most one act a night.

Frost on fresh roots and new growth, and cold at the roots of trees in winter,
are one danger to the person who must act before dark: one notice tells both.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from mebuki.agenda.body import basis_facts, cautions_of, official_facts
from mebuki.agenda.done import action_of
from mebuki.agenda.entry import Notice, NoticeLine, NoticeStep, Published
from mebuki.agenda.grouping import NIGHTS, wanted
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import frost_fact, verb, who
from mebuki.domain.advice import Advice, CareKind, Moments
from mebuki.domain.outlook import Night
from mebuki.domain.wording import (
    chance_text,
    clock_text,
    frost_type_text,
    temperature_text,
    weekday_text,
)

PREPARE_DAYS = (2, 3)
"""Days ahead at which a likely danger is told to prepare for."""

ONE_DAY = timedelta(days=1)

DANGER = "frost"
"""The first word of the key of every notice about a cold night."""


@dataclass(frozen=True, slots=True)
class ColdNight:
    """One coming night with the advice for it, and the coldest night of its trees."""

    evening: date
    advice: tuple[Advice, ...]
    night: Night | None

    def key(self, step: NoticeStep) -> str:
        """Return the key of a notice about this night."""
        return notice_key(self.evening, step)


def notice_key(evening: date, step: NoticeStep) -> str:
    """Return the key of a notice about the night that begins on an evening."""
    return f"{DANGER}:{evening.isoformat()}:{step}"


def cold_nights(situation: Situation) -> tuple[ColdNight, ...]:
    """Return the nights that ask for a deed, soonest first."""
    found: dict[str, list[Advice]] = {}
    for each in wanted(situation):
        if each.action in NIGHTS:
            found.setdefault(each.cycle, []).append(each)
    return tuple(
        ColdNight(
            date.fromisoformat(cycle),
            tuple(sorted(advice, key=lambda each: (each.kind, each.tree))),
            _coldest(situation, advice, cycle),
        )
        for cycle, advice in sorted(found.items())
    )


def _coldest(situation: Situation, advice: Sequence[Advice], cycle: str) -> Night | None:
    nights = [
        night
        for each in advice
        for night in situation.outlooks[each.tree].nights
        if night.evening.isoformat() == cycle
    ]
    return min(nights, key=lambda night: (night.air_minimum, night.begins), default=None)


def danger_notices(situation: Situation, published: Published) -> Iterator[Notice]:
    """Return what is to be told of cold nights and was not told before.

    A spell of cold nights is prepared for once. Frost on fresh roots and new
    growth is told each night; cold at the roots in winter is told again only
    when other trees are in danger than in the night before.
    """
    told = published.notices
    nights = cold_nights(situation)
    for cold in nights:
        lead = (cold.evening - situation.on).days
        new = cold.key(NoticeStep.ACT) not in told
        if lead == 0 and new and not _goes_on(situation, cold, published):
            yield _act(situation, cold)
        ripe = lead in PREPARE_DAYS and _well_above(situation, cold)
        known = cold.key(NoticeStep.PREPARE) in told or _within_spell(cold, nights, told)
        if ripe and not known:
            yield _prepare(situation, cold)


def _goes_on(situation: Situation, cold: ColdNight, published: Published) -> bool:
    """Whether a winter night only continues one whose trees were all told of before."""
    if any(each.kind is CareKind.FROST for each in cold.advice):
        return False
    before = (cold.evening - ONE_DAY).isoformat()
    known = {
        tree
        for entry in published.entries
        if action_of(entry) in NIGHTS and entry.key.endswith(before)
        for tree in entry.trees
    }
    return {each.tree for each in cold.advice} <= known


def _within_spell(cold: ColdNight, nights: Sequence[ColdNight], told: Sequence[str]) -> bool:
    """Whether the night before is cold too, or was told of."""
    before = cold.evening - ONE_DAY
    if any(night.evening == before for night in nights):
        return True
    return any(notice_key(before, step) in told for step in (NoticeStep.PREPARE, NoticeStep.ACT))


def _well_above(situation: Situation, cold: ColdNight) -> bool:
    factor = situation.rulebook.practice.value("frost.prepare_factor")
    return any(
        each.probability is not None
        and each.threshold is not None
        and each.probability > factor * each.threshold
        for each in cold.advice
    )


def _act(situation: Situation, cold: ColdNight) -> Notice:
    subject = f"{_fact(cold)} tonight: {verb(cold.advice)} {who(situation, cold.advice)}"
    return _notice(
        situation, cold, NoticeStep.ACT, subject, f"{_lowest(situation, cold)}; act before dark."
    )


def _prepare(situation: Situation, cold: ColdNight) -> Notice:
    day = weekday_text(cold.evening)
    subject = f"{_fact(cold)} on the night of {day}: make room for {who(situation, cold.advice)}"
    lead = f"{_lowest(situation, cold)}. Nothing to do today; another word comes on the day."
    return _notice(situation, cold, NoticeStep.PREPARE, subject, lead)


def _fact(cold: ColdNight) -> str:
    if cold.night is None:
        return "Cold"
    lowest = cold.night.air_minimum
    frost = any(each.kind is CareKind.FROST for each in cold.advice)
    return frost_fact(lowest) if frost else f"Cold {temperature_text(lowest, 0)}"


def _lowest(situation: Situation, cold: ColdNight) -> str:
    if cold.night is None:
        return "A cold night is coming"
    at = clock_text(cold.night.minimum_at, situation.garden.site.zone)
    return f"Lowest {temperature_text(cold.night.air_minimum)} about {at}"


def _notice(
    situation: Situation, cold: ColdNight, step: NoticeStep, subject: str, lead: str
) -> Notice:
    frost = any(each.kind is CareKind.FROST for each in cold.advice)
    return Notice(
        key=cold.key(step),
        thread=f"{DANGER}:{cold.evening.isoformat()}",
        step=step,
        kind=CareKind.FROST if frost else CareKind.WINTER,
        subject=subject,
        lead=lead,
        lines=_lines(situation, cold.advice),
        facts=tuple(_facts(situation, cold)),
        cautions=cautions_of(situation.rulebook, cold.advice),
        at=situation.at,
        useful_until=_ends(cold.advice),
        chart="nights",
    )


def _lines(situation: Situation, advice: Sequence[Advice]) -> tuple[NoticeLine, ...]:
    """Return trees by place and deed."""
    found: dict[tuple[str, str], list[str]] = {}
    for each in advice:
        place = situation.place_name(each.tree)
        found.setdefault((place, each.deed), []).append(situation.name(each.tree))
    return tuple(
        NoticeLine(place, deed, tuple(sorted(names)))
        for (place, deed), names in sorted(found.items())
    )


def _ends(advice: Sequence[Advice]) -> datetime | None:
    return max((each.span.ends for each in advice if isinstance(each.span, Moments)), default=None)


def _facts(situation: Situation, cold: ColdNight) -> Iterator[tuple[str, str]]:
    zone = situation.garden.site.zone
    if cold.night is not None:
        night = cold.night
        yield (
            "Lowest air temperature",
            f"{temperature_text(night.air_minimum)} ± {night.spread:.1f}",
        )
        yield "Coldest about", f"{clock_text(night.minimum_at, zone)} local time"
        yield "Kind of frost", frost_type_text(night.frost_type)
    worst = min(cold.advice, key=lambda each: (-(each.probability or 0.0), each.tree))
    if worst.probability is not None:
        yield "Chance of harm", f"{chance_text(worst.probability)} ({situation.name(worst.tree)})"
    if worst.threshold is not None:
        yield "Told above a chance of", f"{worst.threshold:.0%}".replace("%", " %")
    yield "Most at risk", f"{situation.name(worst.tree)}: {worst.fact}"
    yield from official_facts(situation)
    yield from basis_facts(situation)
