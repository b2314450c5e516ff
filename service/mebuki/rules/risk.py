"""How a probability becomes the words and limits that every rule uses."""

from __future__ import annotations

from datetime import date, timedelta

from mebuki.domain.advice import Case, Certainty, Reason, Severity, Urgency
from mebuki.domain.figure import Figure
from mebuki.domain.outlook import LEVELS
from mebuki.domain.wording import number_text, percent_text

LEVELS_MEDIAN = LEVELS.index(50)
"""Where the median stands in a distribution of days."""

DAYS_A_MONTH = 30.44
"""Mean length of a month [d]."""

LIKELY = 0.5
"""CAP 1.2 calls likely what has a probability above about one half."""

SOON_DAYS = 7
FORECAST_NIGHTS = 3
"""Nights ahead, after tonight, for which rules speak of single nights."""


def harm_threshold(case: Case) -> Figure:
    """Return the probability above which it pays to act for a tree of this value.

    Acting pays where the probability exceeds cost over loss (Richardson 2000);
    the practice file has one figure for each value class.
    """
    return case.rulebook.practice.figure(f"frost.threshold_{case.tree.value}")


def certainty_of(probability: float) -> Certainty:
    """Return the word of CAP 1.2 for a probability [0..1]."""
    return Certainty.LIKELY if probability >= LIKELY else Certainty.POSSIBLE


def urgency_of_night(lead_days: int) -> Urgency:
    """Return how soon to act before a night: tonight, tomorrow, or later."""
    if lead_days <= 0:
        return Urgency.IMMEDIATE
    return Urgency.EXPECTED if lead_days == 1 else Urgency.FUTURE


def urgency_of_days(on: date, first: date, last: date) -> Urgency:
    """Return how soon to act within a window of days."""
    if on > last:
        return Urgency.PAST
    if on >= first and (last - on).days <= SOON_DAYS:
        return Urgency.IMMEDIATE
    soon = first - on <= timedelta(days=2 * SOON_DAYS)
    return Urgency.EXPECTED if soon else Urgency.FUTURE


def severity_of(case: Case, probability: float) -> Severity:
    """Return what is at stake: a likely loss, by the value of the tree."""
    if probability < LIKELY or case.tree.value == "ordinary":
        return Severity.MODERATE
    return Severity.EXTREME if case.tree.value == "prized" else Severity.SEVERE


def span_reason(what: str, figure: Figure, unit: str) -> Reason:
    """Return a figure as a reason, with its usual range where it has one."""
    unit = unit.removesuffix("s") if figure.value == 1 else unit
    if figure.low is None or figure.high is None or figure.low == figure.high:
        return Reason(what, f"{number_text(figure.value)} {unit}".strip(), figure.source)
    usual = f"usually {number_text(figure.low)} to {number_text(figure.high)}"
    return Reason(what, f"{number_text(figure.value)} {unit} ({usual})", figure.source)


def share_reason(what: str, figure: Figure) -> Reason:
    """Return a figure that is a share or a probability [0..1] as a reason, in per cent."""
    return Reason(what, percent_text(figure.value), figure.source)


def months_after(day: date, months: float) -> date:
    """Return the day a number of mean months later."""
    return day + timedelta(days=round(DAYS_A_MONTH * months))
