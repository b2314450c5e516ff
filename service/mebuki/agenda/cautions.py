"""Cautions of notices: each with the authority behind it, and the trees that it is about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from mebuki.agenda.situation import Situation
from mebuki.domain.advice import Advice
from mebuki.domain.practice import CautionText, Rulebook
from mebuki.domain.wording import listing, name_order

NAMED: Final = 4
"""Trees that a caution names; of more it says how many of all (default)."""


def cautions_of(rulebook: Rulebook, advice: Sequence[Advice]) -> tuple[str, ...]:
    """Return the cautions of some advice as text with the authority behind each."""
    return tuple(_told(caution) for caution in _found(rulebook, advice))


def cautions_for(situation: Situation, advice: Sequence[Advice]) -> tuple[str, ...]:
    """Return the cautions of a notice; one that is not about all its trees says about which."""
    everybody = {each.tree for each in advice}
    told = []
    for caution in _found(situation.rulebook, advice):
        trees = {each.tree for each in advice if caution.id in each.cautions}
        about = "" if trees == everybody else f"{_named(situation, trees, len(everybody))}: "
        told.append(f"{about}{_told(caution)}")
    return tuple(told)


def _found(rulebook: Rulebook, advice: Sequence[Advice]) -> list[CautionText]:
    ids = dict.fromkeys(key for each in advice for key in each.cautions)
    return [rulebook.cautions[key] for key in ids if key in rulebook.cautions]


def _told(caution: CautionText) -> str:
    """Return text and authority; brackets within brackets give way to commas."""
    authority = caution.authority.replace(" (", ", ").replace(")", "")
    return f"{caution.text} ({authority})"


def _named(situation: Situation, trees: set[str], everybody: int) -> str:
    if len(trees) > NAMED:
        return f"{len(trees)} of the {everybody} trees"
    return listing(sorted((situation.name(tree) for tree in trees), key=name_order))
