"""Advice of many trees becomes entries: grouped, titled, under stable keys."""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.agenda.body import body_of, leading, weather_line
from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.agenda.grouping import NIGHTS, OPENING, WEEKLY, WHOLE, Group, groups
from mebuki.agenda.situation import Situation
from mebuki.agenda.titles import title_of
from mebuki.domain.advice import Advice, CareKind, Certainty, Days, Moments, Urgency
from mebuki.domain.weather import Freshness
from mebuki.domain.wording import dated

NEAR = timedelta(days=7)
"""Wire checks that begin so soon after the earliest of their group share its days (default)."""

OPENING_DAYS = 14
"""Days of the bar of work without hurry, from the day on which it begins (default)."""

URGENCIES = tuple(Urgency)
SURE = (Certainty.OBSERVED, Certainty.LIKELY)


def build(situation: Situation) -> tuple[Entry, ...]:
    """Return the entries of a garden, sorted by key.

    The order of the advice does not matter. A predicted window is tentative
    until it is likely; what is put off stays tentative.
    """
    entries = [_entry(situation, group) for group in groups(situation)]
    blind = blind_entry(situation)
    return tuple(sorted([*entries, *([blind] if blind else [])], key=lambda entry: entry.key))


def _entry(situation: Situation, group: Group) -> Entry:
    near = _near(group)
    trees = tuple(dict.fromkeys(each.tree for each in near.advice))
    places = {situation.place_name(tree) for tree in trees}
    return Entry(
        key=group.key,
        kind=group.advice[0].kind,
        status=_status(near),
        title=title_of(situation, near),
        body=body_of(situation, near),
        span=_bar(near),
        trees=trees,
        place=places.pop() if len(places) == 1 else "",
        urgency=min((each.urgency for each in near.advice), key=URGENCIES.index),
        alarm=group.action in NIGHTS,
        created=situation.at,
        changed=situation.at,
        advice=near.advice,
    )


def _near(group: Group) -> Group:
    """Return a wire group without the trees whose check is still far off."""
    if group.action != "wire-check":
        return group
    first = min(_first(each) for each in group.advice)
    near = tuple(each for each in group.advice if _first(each) <= first + NEAR.days)
    return Group(group.key, group.action, near)


def _first(advice: Advice) -> int:
    if isinstance(advice.span, Days):
        return advice.span.first.toordinal()
    return advice.span.begins.toordinal()


def _span(group: Group) -> Days | Moments:
    chosen = group.open or group.advice
    if len(chosen) == 1:
        return chosen[0].span
    nights = [each.span for each in chosen if isinstance(each.span, Moments)]
    if nights:
        return Moments(min(span.begins for span in nights), max(span.ends for span in nights))
    spans = [each.span for each in chosen if isinstance(each.span, Days)]
    likely = min((span.likely for span in spans if span.likely is not None), default=None)
    return Days(min(span.first for span in spans), max(span.last for span in spans), likely)


def _bar(group: Group) -> Days | Moments:
    """Return the span that the calendar shows."""
    span = _span(group)
    if not isinstance(span, Days):
        return span
    if group.action in WEEKLY:
        return Days(span.first, span.first + timedelta(days=6 - span.first.weekday()))
    if group.action not in OPENING:
        return span
    # what is put off for a day begins no later for it
    begins = [_first(each) for each in group.advice]
    begun = max(begins) if group.action == "aftercare" else min(begins)
    last = date.fromordinal(begun + OPENING_DAYS - 1)
    return Days(date.fromordinal(min(begins)), min(max(last, span.first), span.last))


def _status(group: Group) -> EntryStatus:
    sure = bool(group.open) and leading(group).certainty in SURE
    return EntryStatus.CONFIRMED if sure else EntryStatus.TENTATIVE


def blind_entry(situation: Situation) -> Entry | None:
    """Return an entry that says that the coming nights cannot be seen, if that is so."""
    sight = situation.sight
    if not sight.blind:
        return None
    stale = sight.freshness is Freshness.BLIND
    reason = "the weather is missing or a day old" if stale else "the forecast does not reach them"
    told = (
        f"Mebuki cannot see the coming nights: {reason}. No warning of frost will come, and "
        "none is taken back. Look at another forecast and at your thermometer.",
        "\n".join(sight.remarks),
        f"As of {dated(situation.on)}, {situation.garden.name}. {weather_line(situation)}",
    )
    return Entry(
        key=f"{situation.garden.id}/weather/blind/{WHOLE}/{situation.on.isoformat()}",
        kind=CareKind.OBSERVE,
        status=EntryStatus.CONFIRMED,
        title="The coming nights cannot be seen: look at another forecast",
        body="\n\n".join(part for part in told if part),
        span=Days(situation.on, situation.on),
        trees=(),
        place="",
        urgency=Urgency.IMMEDIATE,
        alarm=False,
        created=situation.at,
        changed=situation.at,
    )
