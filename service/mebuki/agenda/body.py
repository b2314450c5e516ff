"""The text of an entry: what, how sure, which trees, why in numbers, what to mind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

from mebuki.agenda.cautions import cautions_of
from mebuki.agenda.grouping import OPENING, SHOOT_WORK, Group
from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice, Certainty, Days
from mebuki.domain.practice import Rulebook
from mebuki.domain.tree import RecordKind
from mebuki.domain.weather import Freshness
from mebuki.domain.wording import (
    chance_text,
    clock_text,
    count_text,
    dated,
    day_text,
    days_text,
    temperature_text,
)

TOLD: tuple[RecordKind, ...] = (
    "acquired", "collected", "repotted", "hard-pruned", "major-bend", "wired", "wire-checked",
)  # fmt: skip
"""Records that are told for a single tree."""

WORTH_A_WORD = 0.3
"""Correction [°C] of a night's minimum below which nothing is said (default)."""

_CERTAINTY = {Certainty.OBSERVED: "on record"}


def body_of(situation: Situation, group: Group) -> str:
    """Return the text of an entry; paragraphs are parted by an empty line."""
    main = leading(group)
    parts = (
        _what(group, main),
        _sureness(group, main),
        _trees(situation, group),
        _waiting(situation, group),
        _why(situation, group, main),
        _records(situation, group),
        _mind(situation.rulebook, group.advice),
        _as_of(situation),
    )
    return "\n\n".join("\n".join(part) for part in map(list, parts) if part)


def leading(group: Group) -> Advice:
    """Return the most pressing advice of a group: what can be done, then the likeliest."""
    chosen = group.open or group.advice
    return min(chosen, key=lambda each: (-(each.probability or 0.0), each.tree))


def _what(group: Group, main: Advice) -> Iterator[str]:
    """Yield what to do; where several kinds of work share an entry, each with its trees below."""
    if not group.open:
        yield f"Wait: {main.blocked}."
    elif group.action == SHOOT_WORK:
        yield from dict.fromkeys(each.deed for each in _by_begin(group.open))
    else:
        yield main.deed


def _by_begin(advice: Sequence[Advice]) -> list[Advice]:
    return sorted(advice, key=lambda one: (_begins(one), one.action, one.tree))


def _begins(advice: Advice) -> int:
    return advice.span.first.toordinal() if isinstance(advice.span, Days) else 0


def _sureness(group: Group, main: Advice) -> Iterator[str]:
    chosen = group.open or group.advice
    spans = [each.span for each in chosen if isinstance(each.span, Days)]
    first = min((span.first for span in spans), default=None)
    last = max((span.last for span in spans), default=None)
    if first is not None and last is not None and first != last:
        likely = spans[0].likely if len(spans) == 1 else None
        told = f", likely {day_text(likely)}" if likely else ""
        yield f"When: {days_text(first, last)}{told}"
        if group.action in OPENING:
            yield "The calendar marks when it begins; each tree has its days below."
    if main.blocked:
        return
    if main.probability is not None:
        yield f"How sure: {chance_text(main.probability)}"
    else:
        yield f"How sure: {_CERTAINTY.get(main.certainty, main.certainty.lower())}"


def _trees(situation: Situation, group: Group) -> Iterator[str]:
    if not group.open:
        return
    yield "Trees"
    place = ""
    for each in sorted(group.open, key=lambda one: _by_place(situation, one)):
        here = situation.place_name(each.tree)
        if here != place:
            yield f"{here}:"
            place = here
        yield f"- {situation.name(each.tree)}: {each.fact}{_window(group, each)}"


def _by_place(situation: Situation, advice: Advice) -> tuple[str, str, str]:
    return situation.place_name(advice.tree), situation.name(advice.tree), advice.cycle


def _window(group: Group, advice: Advice) -> str:
    several = len(group.open) > 1 and isinstance(advice.span, Days)
    if not several or not isinstance(advice.span, Days) or advice.span.first == advice.span.last:
        return ""
    return f" ({days_text(advice.span.first, advice.span.last)})"


def _waiting(situation: Situation, group: Group) -> Iterator[str]:
    if group.put_off and len(group.advice) > 1:
        yield "Put off"
        for each in group.put_off:
            yield f"- {situation.name(each.tree)}: {each.blocked}"


def _why(situation: Situation, group: Group, main: Advice) -> Iterator[str]:
    name = f" ({situation.name(main.tree)})" if len(group.advice) > 1 else ""
    yield f"Why{name}"
    for reason in main.reasons:
        yield f"- {reason.what}: {reason.value} [{reason.source}]"
    yield f"- rule: {main.rule}"


def _records(situation: Situation, group: Group) -> Iterator[str]:
    tree = situation.trees[group.advice[0].tree]
    found = [record for record in (tree.last(kind) for kind in TOLD) if record is not None]
    if len({each.tree for each in group.advice}) > 1 or not found:
        return
    yield "On record"
    for record in sorted(found, key=lambda one: (one.on, one.kind)):
        yield f"- {record.kind.replace('-', ' ')} {dated(record.on)}"


def _mind(rulebook: Rulebook, advice: Sequence[Advice]) -> Iterator[str]:
    texts = cautions_of(rulebook, advice)
    if texts:
        yield "Mind"
    for text in texts:
        yield f"- {text}"


def _as_of(situation: Situation) -> Iterator[str]:
    yield f"As of {dated(situation.on)}, {situation.garden.name}. {weather_line(situation)}"
    for credit in situation.sight.credits_:
        yield f"Weather: {credit}"


def weather_line(situation: Situation) -> str:
    """Return until when the weather is measured, and how old that is."""
    until = situation.sight.measured_until
    if until is None:
        return "No measured weather."
    zone = situation.garden.site.zone
    told = f"{day_text(until.astimezone(zone).date())} {clock_text(until, zone)}"
    age = (situation.at - until) // timedelta(hours=1)
    old = "" if situation.sight.freshness is Freshness.FRESH else f", {age} h old"
    return f"Weather measured until {told}{old}."


def basis_facts(situation: Situation) -> Iterator[tuple[str, str]]:
    """Yield what weather a notice rests on, and whom it is owed to: each service's own credit."""
    yield "Basis", weather_line(situation)
    yield from _learned_facts(situation)
    for credit in situation.sight.credits_:
        yield "Credit", credit


def _learned_facts(situation: Situation) -> Iterator[tuple[str, str]]:
    """Yield by how much the coming night's forecast was corrected, where that is worth a word."""
    lessons = situation.sight.lessons
    if lessons is None or abs(lessons.bias_at(0)) < WORTH_A_WORD:
        return
    bias = lessons.bias_at(0)
    word = "warm" if bias > 0 else "cold"
    nights = count_text(lessons.nights[0], "night")
    told = f"forecasts here have been {temperature_text(abs(bias))} too {word} over {nights}"
    yield "Learned", f"{told}: corrected"


def official_facts(situation: Situation) -> Iterator[tuple[str, str]]:
    """Yield the official warnings as facts of a notice: verbatim, with issuer and link."""
    for warning in situation.sight.warnings:
        told = warning.headline or warning.event
        yield "Official warning", f"{told} ({warning.issuer}) {warning.link}".strip()
