"""Runs every care rule on a case, in a fixed order."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from mebuki.domain.advice import Advice, Case
from mebuki.rules import (
    deadwood,
    feed,
    frost,
    heat,
    observe,
    prune,
    records,
    repot,
    scout,
    water,
    wind,
    winter,
    wire,
)

RULES: tuple[Callable[[Case], tuple[Advice, ...]], ...] = (
    frost.advise,
    winter.advise,
    heat.advise,
    wind.advise,
    water.advise,
    repot.advise,
    wire.advise,
    prune.advise,
    deadwood.advise,
    feed.advise,
    scout.advise,
    observe.advise,
    records.advise,
)
"""The rules in the order in which their advice is listed."""


def evaluate(case: Case) -> tuple[Advice, ...]:
    """Return the advice of all rules for one tree."""
    return tuple(advice for rule in RULES for advice in rule(case))


def evaluate_all(cases: Iterable[Case]) -> tuple[Advice, ...]:
    """Return the advice of all rules for many trees, tree by tree."""
    return tuple(advice for case in cases for advice in evaluate(case))
