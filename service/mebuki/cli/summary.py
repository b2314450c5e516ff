"""The short readable summary that a round prints."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from itertools import islice

from mebuki.agenda.absence import absence_lines
from mebuki.agenda.entry import Entry, EntryStatus
from mebuki.bootstrap import Done
from mebuki.domain.advice import CareKind, Days, Moments
from mebuki.domain.weather import Freshness
from mebuki.rounds.planned import Plan

NEXT_DAYS = 14
SHOWN = 8
AWAY = 3


def summary(done: Done) -> str:
    """Return what to do next, what to know of the weather, and where the files are."""
    plan = done.plan
    lines = [
        f"Mebuki: {plan.garden.name}{' (invented)' if plan.garden.invented else ''}, "
        f"{plan.on:%A} {plan.on.day} {plan.on:%B %Y}",
        *_section("Today and tonight", _now(plan)),
        *_section(f"The next {NEXT_DAYS} days", _soon(plan)),
        *_section("Going away (full pots, no rain)", islice(absence_lines(plan.situation), AWAY)),
        *_section("Weather", _weather(plan)),
        *_section("Files", _files(done)),
    ]
    return "\n".join(lines)


def _section(title: str, rows: Iterator[str]) -> Iterator[str]:
    found = list(rows)
    yield ""
    yield title
    if not found:
        yield "  nothing"
    for row in found[:SHOWN]:
        yield f"  {row}"
    if len(found) > SHOWN:
        yield f"  and {len(found) - SHOWN} more: see the report"


def _first_day(entry: Entry, plan: Plan) -> int:
    if isinstance(entry.span, Days):
        return entry.span.first.toordinal()
    return entry.span.begins.astimezone(plan.garden.site.zone).date().toordinal()


def _last_day(entry: Entry, plan: Plan) -> int:
    if isinstance(entry.span, Days):
        return entry.span.last.toordinal()
    return entry.span.ends.astimezone(plan.garden.site.zone).date().toordinal()


def _open(plan: Plan) -> list[Entry]:
    live = [entry for entry in plan.shown if entry.status is not EntryStatus.CANCELLED]
    return sorted(live, key=lambda entry: (_first_day(entry, plan), entry.kind, entry.title))


def _now(plan: Plan) -> Iterator[str]:
    today = plan.on.toordinal()
    running = [
        entry for entry in _open(plan) if _first_day(entry, plan) <= today <= _last_day(entry, plan)
    ]
    kinds = list(CareKind)
    for entry in sorted(running, key=lambda one: (kinds.index(one.kind), _last_day(one, plan))):
        yield f"{entry.title}{_until(entry)}"


def _until(entry: Entry) -> str:
    if isinstance(entry.span, Moments) or entry.span.first == entry.span.last:
        return ""
    return f" (until {entry.span.last.day} {entry.span.last:%b})"


def _soon(plan: Plan) -> Iterator[str]:
    today = plan.on.toordinal()
    for entry in _open(plan):
        first = _first_day(entry, plan)
        if today < first <= today + NEXT_DAYS:
            day = plan.on + timedelta(days=first - today)
            yield f"{day:%a} {day.day:>2} {day:%b}  {entry.title}"


def _weather(plan: Plan) -> Iterator[str]:
    picture = plan.picture
    if picture.measured_until is None:
        yield "No measured weather: the coming nights cannot be seen."
    else:
        local = picture.measured_until.astimezone(plan.garden.site.zone)
        age = f"{picture.age_hours:.0f} h old"
        mark = "" if picture.freshness is Freshness.FRESH else f", {picture.freshness.upper()}"
        yield f"measured until {local:%d %b %H:%M} ({age}{mark})"
    for rejected in picture.rejected[-3:]:
        yield (
            f"rejected: {rejected.quantity} {rejected.value:g} at {rejected.at:%Y-%m-%d %H:%M} UTC "
            f"({rejected.rule})"
        )
    yield from picture.remarks


def _files(done: Done) -> Iterator[str]:
    yield f"{done.report}  the report: open it in a browser"
    yield f"{done.feed}  the calendar feed"
    people = {letter.recipient for letter in done.letters}
    if not people:
        yield f"no new mail; {len(done.mails)} kept in {done.feed.parent}"
        return
    count = f"{len(done.letters)} mail{'s' if len(done.letters) != 1 else ''}"
    yield f"{done.feed.parent / '*.eml'}  {count} to {len(people)}:"
    for subject in dict.fromkeys(letter.subject for letter in done.letters):
        yield f"    {subject}"


def as_data(done: Done) -> str:
    """Return the entries of a round and the weather's state as JSON."""
    plan = done.plan
    picture = plan.picture
    data = {
        "garden": plan.garden.id,
        "on": plan.on.isoformat(),
        "at": plan.at.isoformat(),
        "weather": {
            "freshness": picture.freshness,
            "measured_until": picture.measured_until and picture.measured_until.isoformat(),
            "forecast_until": picture.forecast_until and picture.forecast_until.isoformat(),
            "rejected": [
                {
                    "at": each.at.isoformat(),
                    "quantity": each.quantity,
                    "value": each.value,
                    "rule": each.rule,
                }
                for each in picture.rejected
            ],
            "remarks": list(picture.remarks),
        },
        "entries": [_entry_data(entry) for entry in plan.shown],
        "files": [str(path) for path in (done.report, done.feed, *done.mails)],
    }
    return json.dumps(data, indent=2, ensure_ascii=False)


def _entry_data(entry: Entry) -> dict[str, object]:
    span = entry.span
    first, last = (
        (span.first.isoformat(), span.last.isoformat())
        if isinstance(span, Days)
        else (span.begins.isoformat(), span.ends.isoformat())
    )
    return {
        "uid": entry.uid,
        "kind": entry.kind,
        "status": entry.status,
        "title": entry.title,
        "first": first,
        "last": last,
        "trees": list(entry.trees),
        "revision": entry.revision,
        "changed": entry.changed.isoformat(),
    }
