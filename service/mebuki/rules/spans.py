"""Spans of time from the practice file that windows are reckoned with, and how they are told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta

from mebuki.domain.advice import Case, Reason
from mebuki.rules.risk import span_reason

LABELS: Mapping[str, str] = {
    "repot.window_weeks": "usual length of a window",
    "repot.growth_weeks": "growth has started after bud break by",
    "repot.after_flowering_days": "bloom is past after the first flowers by",
    "repot.bloom_weeks": "bloom is taken as past after bud break by",
    "repot.warm_window_weeks": "from the first warm nights for",
    "repot.autumn_weeks_before_frost": "before the usual first frost by",
    "prune.winter_weeks": "winter cuts before the buds swell",
    "prune.late_winter_weeks": "late-winter cuts before the buds swell",
    "prune.candle_weeks": "shoots are soft after bud break for",
    "prune.harden_days": "leaves are firm after they are grown by",
    "prune.flush_weeks": "flush or bloom is past after bud break by",
    "prune.run_weeks": "shoots are let run after the leaves are grown for",
    "prune.recut_weeks": "second clip after the first by",
    "prune.window_weeks": "usual length of a window",
    "prune.late_weeks": "no late cut before the usual first frost within",
    "prune.leaf_fall_weeks": "after leaf fall begins by",
}
"""What each span says."""


def span(case: Case, key: str) -> timedelta:
    """Return a practice figure given in days or weeks, as its key says."""
    days = case.rulebook.practice.value(key)
    return timedelta(days=days) if unit_of(key) == "days" else timedelta(weeks=days)


def unit_of(key: str) -> str:
    """Return the unit of a span of time: ``days`` or ``weeks``."""
    return "days" if key.endswith("_days") else "weeks"


def span_reasons(case: Case, keys: Iterable[str]) -> tuple[Reason, ...]:
    """Return spans that were reckoned with, each once, as reasons with their sources."""
    practice = case.rulebook.practice
    return tuple(
        span_reason(LABELS[key], practice.figure(key), unit_of(key)) for key in dict.fromkeys(keys)
    )
