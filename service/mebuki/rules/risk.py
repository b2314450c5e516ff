"""How a probability becomes the words and limits that every rule uses."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Final, get_args

from mebuki.domain.advice import Case, Certainty, Reason, Severity, Urgency
from mebuki.domain.figure import Figure
from mebuki.domain.garden import Caution
from mebuki.domain.outlook import LEVELS
from mebuki.domain.practice import Practice
from mebuki.domain.wording import number_text, percent_text
from mebuki.season.decision import LIKELY, act_above

LEVELS_MEDIAN = LEVELS.index(50)
"""Where the median stands in a distribution of days."""

DAYS_A_MONTH = 30.44
"""Mean length of a month [d]."""

NOTICE_LEVELS: Final[tuple[Caution, ...]] = get_args(Caution)
"""How early people want to be told, the most cautious first."""

SOON_DAYS = 7


def harm_threshold(case: Case) -> Figure:
    """Return the probability above which it pays to act for a tree of this value.

    Acting pays where the probability exceeds cost over loss (Richardson 2000);
    the practice file has one figure for each value class.
    """
    return case.rulebook.practice.figure(f"frost.threshold_{case.tree.value}")


def told_ahead(case: Case, lead_days: int) -> bool:
    """Whether rules speak of a night so many days ahead as a single night."""
    return 0 <= lead_days <= case.rulebook.practice.value("frost.prepare_days_ahead")


def weak_reason(case: Case) -> Reason:
    """Return how long a weak tree is left alone."""
    months = case.rulebook.practice.figure("recovery.weak_months")
    return span_reason("a weak tree grows well first for", months, "months")


def cost_losses(practice: Practice) -> Mapping[Caution, float]:
    """Return the ratio of cost and loss [0..1] that each level of notices stands for."""
    return {level: practice.value(f"frost.notice_{level}") for level in NOTICE_LEVELS}


def level_threshold(practice: Practice, threshold: float, level: Caution) -> float:
    """Return the probability [0..1] above which a person of a level is told of a tree.

    Parameters
    ----------
    practice
        Its ``frost.notice_*`` figures are the chances from which people of each
        level are told of a good tree.
    threshold
        `harm_threshold` of the tree, which holds for the balanced level.
    """
    balanced = practice.value("frost.notice_balanced")
    return act_above(threshold, practice.value(f"frost.notice_{level}") / balanced)


def night_word(case: Case, chance: float) -> str:
    """Return what a chance of harm [0..1] makes of a night; empty where it is nothing.

    ``night`` asks for a deed at the balanced level, ``watch`` is not clearly over at
    that level. ``trace`` is less than that, and still enough for some level.
    """
    practice, threshold = case.rulebook.practice, harm_threshold(case).value
    clear = practice.value("frost.clear_share")
    if chance > threshold:
        return "night"
    if chance >= clear * threshold:
        return "watch"
    lowest = min(level_threshold(practice, threshold, level) for level in NOTICE_LEVELS)
    return "trace" if chance >= clear * lowest else ""


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


def span_reason(what: str, figure: Figure, unit: str = "") -> Reason:
    """Return a figure as a reason, with its usual range where it has one."""
    unit = unit.removesuffix("s") if figure.value == 1 else unit
    if figure.low is None or figure.high is None or figure.low == figure.high:
        return Reason(what, f"{number_text(figure.value)} {unit}".strip(), figure.source)
    usual = f"usually {number_text(figure.low)} to {number_text(figure.high)}"
    return Reason(what, f"{number_text(figure.value)} {unit} ({usual})", figure.source)


def share_reason(what: str, figure: Figure) -> Reason:
    """Return a figure that is a share or a probability [0..1] as a reason, in per cent."""
    told = percent_text(figure.value)
    if figure.low is not None and figure.high is not None and figure.low < figure.high:
        told += f" (usually {percent_text(figure.low)} to {percent_text(figure.high)})"
    return Reason(what, told, figure.source)


def months_after(day: date, months: float) -> date:
    """Return the day a number of mean months later."""
    return day + timedelta(days=round(DAYS_A_MONTH * months))
