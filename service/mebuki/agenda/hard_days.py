"""Heat, gusts and drought as notices: told when there is still time to act, once a spell."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from mebuki.agenda.body import basis_facts, official_facts
from mebuki.agenda.cautions import cautions_for
from mebuki.agenda.danger import Word, begins, lines_of, severest
from mebuki.agenda.entry import Notice, NoticeStep, Risk
from mebuki.agenda.memory import Mark, Memory, sign
from mebuki.agenda.nights import worst_of
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import who
from mebuki.domain.advice import Advice, CareKind, Severity
from mebuki.domain.exposure import HardDay
from mebuki.domain.wording import clock_text, temperature_text
from mebuki.season.heat_wind import WallHeat

GRAVE = (Severity.EXTREME, Severity.SEVERE)

NEW_SHARE = 0.5
"""Share of the trees named before from which new ones are told within a spell (default)."""

EVENING, NOON = 15, 12
"""Local hours: from the afternoon before, and until the middle of the day itself."""


@dataclass(frozen=True, slots=True)
class DayDanger:
    """One kind of hard day.

    Parameters
    ----------
    name
        The first word of its keys.
    urgent
        Which advice makes a notice; what does not stands in the digest.
    from_hour
        Local hour of the day before from which it is told; 24 is midnight.
    until_hour
        Local hour of the day itself until which it is still of use.
    quiet_days
        Days after a hard day within which another one is the same spell.
    fact, deed
        The words of its subject: what comes when, and what is done with ``{}``, the trees.
    peak
        The word for its worst hour and when that is; none where it is not known.
    """

    name: str
    kind: CareKind
    urgent: Callable[[Situation, Advice], bool]
    from_hour: int
    until_hour: int
    quiet_days: int
    fact: Callable[[HardDay | None, str], str]
    deed: str
    peak: Callable[[HardDay], tuple[str, datetime | None]]


def _hot(_: Situation, advice: Advice) -> bool:
    return advice.action == "heat-day" and advice.severity in GRAVE


def _windy(_: Situation, advice: Advice) -> bool:
    return advice.action == "gale-day"


def _dries_out(situation: Situation, advice: Advice) -> bool:
    """Whether a pot does not last from one watering to the next: twice a day is asked."""
    if advice.action != "water-today":
        return False
    twice = situation.rulebook.practice.value("water.twice_above")
    days = situation.outlooks[advice.tree].water
    return any(day.day.isoformat() == advice.cycle and day.empties > twice for day in days)


def _wind_fact(day: HardDay | None, when: str) -> str:
    return f"Gusts {when}" if day is None else f"Gusts to {day.gust_most:.0f} m/s {when}"


def _heat_fact(day: HardDay | None, when: str) -> str:
    """Return the warmth of the pots; of heat that only leaves suffer from, that it is dry."""
    if day is None:
        return f"Heat at the pots {when}"
    if day.heat < WallHeat.ACT:
        return f"Hot dry air {when}"
    return f"Heat {when}, pots to {temperature_text(day.wall_warmest, 0)}"


DANGERS = (
    DayDanger(
        "wind", CareKind.WIND, _windy, 0, 24, 1, _wind_fact, "tie down {}",
        lambda day: ("Strongest about", day.gust_at),
    ),
    DayDanger(
        "heat", CareKind.HEAT, _hot, EVENING, NOON, 3, _heat_fact, "shade {}",
        lambda day: ("Hottest about", day.hottest_at),
    ),
    DayDanger(
        "drought", CareKind.WATER, _dries_out, 24, EVENING, 7,
        lambda _, when: f"Pots run dry {when}", "water {} twice",
        lambda _: ("", None),
    ),
)  # fmt: skip
"""Hard days that are told at once, the gravest first."""


def hard_day_words(situation: Situation, memory: Memory) -> Iterator[Word]:
    """Yield what is to be told of hard days: soonest first, once a spell.

    Within a spell it is told again only when it is graver, when many more trees are in
    danger, or when it reaches the first tree of a reader who chose trees.
    """
    for danger in DANGERS:
        found: dict[date, list[Advice]] = {}
        for each in situation.advice:
            if each.tree in situation.trees and danger.urgent(situation, each):
                found.setdefault(date.fromisoformat(each.cycle), []).append(each)
        for day, advice in sorted(found.items()):
            if _in_time(situation, danger, day):
                word = _word(situation, memory, danger, (day, advice))
                if word is not None:
                    yield word
                break


def _in_time(situation: Situation, danger: DayDanger, day: date) -> bool:
    zone = situation.garden.site.zone
    midnight = datetime.combine(day, time(), zone)
    first = midnight - timedelta(hours=24 - danger.from_hour)
    last = midnight + timedelta(hours=danger.until_hour)
    return first <= situation.at.astimezone(zone) < last


def _word(
    situation: Situation, memory: Memory, danger: DayDanger, when: tuple[date, Sequence[Advice]]
) -> Word | None:
    day, advice = when[0], tuple(sorted(when[1], key=lambda each: each.tree))
    if f"{danger.name}:{day.isoformat()}:{NoticeStep.ACT}" in memory.told:
        return None
    spell = _spell(memory, danger, day)
    known = spell.trees if spell is not None else frozenset()
    severity = max(worst_of(advice), spell.severity if spell is not None else 0)
    trees = known | {sign(each.tree) for each in advice}
    mark = Mark(danger.name, day, acted=True, severity=severity, trees=trees)
    if spell is not None and not (_worse(spell, advice) or _unheard(situation, spell, advice)):
        return None, mark
    return _notice(situation, memory, danger, (day, advice)), mark


def _spell(memory: Memory, danger: DayDanger, day: date) -> Mark | None:
    """Return what is known of the spell that a day belongs to; none if it begins one."""
    first = day - timedelta(days=danger.quiet_days)
    days = [at for name, at in memory.marks if name == danger.name and first <= at <= day]
    return memory.marks[danger.name, max(days)] if days else None


def _worse(spell: Mark, advice: Sequence[Advice]) -> bool:
    new = {each.tree for each in advice if not spell.knows(each.tree)}
    return worst_of(advice) > spell.severity or len(new) > NEW_SHARE * len(spell.trees)


def _unheard(situation: Situation, spell: Mark, advice: Sequence[Advice]) -> bool:
    """Whether a reader who chose trees has heard nothing of a spell that reaches one of them."""
    new = {each.tree for each in advice if not spell.knows(each.tree)}
    return any(
        new & set(reader.trees) and not any(spell.knows(tree) for tree in reader.trees)
        for reader in situation.garden.subscribers
    )


def _hardest(situation: Situation, advice: Sequence[Advice], day: date) -> HardDay | None:
    """Return what a day is for the tree whose pot gets warmest; none where that is not told."""
    found = [
        hard
        for each in advice
        for hard in situation.outlooks[each.tree].hard_days
        if hard.day == day
    ]
    return max(found, key=lambda hard: (hard.wall_warmest, hard.gust_most), default=None)


def _peak(
    situation: Situation, danger: DayDanger, hard: HardDay | None
) -> tuple[str, str] | tuple[()]:
    """Return the word for the worst hour, and that hour on the garden's clock; or nothing."""
    if hard is None:
        return ()
    word, at = danger.peak(hard)
    return () if at is None else (word, clock_text(at, situation.garden.site.zone))


def _notice(
    situation: Situation, memory: Memory, danger: DayDanger, when: tuple[date, tuple[Advice, ...]]
) -> Notice:
    day, advice = when
    today = day == situation.on
    ranked = sorted(advice, key=lambda each: (worst_of((each,)), each.tree), reverse=True)
    midnight = datetime.combine(day + timedelta(days=1), time(), situation.garden.site.zone)
    hard = _hardest(situation, advice, day)
    peak = _peak(situation, danger, hard)
    risks = tuple(_risk(situation, each, peak) for each in ranked)
    fact = danger.fact(hard, "today" if today else "tomorrow")
    subject = f"{fact}: {danger.deed.format(who(situation, advice))}"
    return Notice(
        key=f"{danger.name}:{day.isoformat()}:{NoticeStep.ACT}",
        thread=f"{danger.name}:{day.isoformat()}",
        step=NoticeStep.ACT,
        kind=danger.kind,
        subject=subject,
        lead=risks[0].lead,
        lines=lines_of(situation, advice),
        facts=(
            *risks[0].facts,
            *official_facts(situation),
            *basis_facts(situation),
        ),
        cautions=cautions_for(situation, advice),
        at=situation.at,
        useful_until=midnight.astimezone(situation.at.tzinfo),
        level=memory.level,
        severity=severest(advice),
        act_by=begins(advice),
        risks=risks,
    )


def _risk(situation: Situation, advice: Advice, peak: tuple[str, str] | tuple[()]) -> Risk:
    told = f"{situation.name(advice.tree)}: {advice.fact}"
    reasons = tuple((reason.what, reason.value) for reason in advice.reasons)
    hour = ((peak[0], f"{peak[1]} local time"),) if peak else ()
    worst_hour = f"; {peak[0].lower()} {peak[1]}" if peak else ""
    return Risk(advice.tree, f"{told}{worst_hour}.", (("Most at risk", told), *hour, *reasons))
