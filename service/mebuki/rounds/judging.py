"""Calls and verdicts: what a round called in at each level, and what the last nights did.

A round judges the nights of the last days that none has judged yet, by what was measured
meanwhile and with the outlooks it has made anyway.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from mebuki.agenda.judged import Call, TreeNight, call_of, would_call
from mebuki.agenda.memory import levels_of
from mebuki.domain.garden import Garden
from mebuki.rounds.cases import Rules, sound_garden
from mebuki.rounds.harm import looked_back, well_measured
from mebuki.rounds.planned import Plan
from mebuki.rules.risk import NOTICE_LEVELS

JUDGED_BACK: Final = timedelta(days=7)
"""How long after its evening a night may still be judged (design default)."""


@dataclass(frozen=True, slots=True)
class OpenNight:
    """A night that is to be judged.

    Parameters
    ----------
    called
        The trees that were called in for it at any level, each with the place where it
        stood then: it may have been moved because of the call.
    """

    evening: date
    called: Mapping[str, str]


def calls_of(plan: Plan) -> tuple[Call, ...]:
    """Return the calls of a round: those it made, and those it would have made.

    It makes notices for the levels of its readers and the balanced one; what it would
    have called at the others follows from the chances of the same plan.
    """
    situation = plan.situation
    made = (call_of(notice, situation) for notice in plan.notices)
    others = set(NOTICE_LEVELS) - set(levels_of(plan.garden))
    unmade = (would_call(situation, level) for level in NOTICE_LEVELS if level in others)
    return tuple(call for call in (*made, *unmade) if call is not None)


def verdicts(plan: Plan, nights: Sequence[OpenNight]) -> dict[date, tuple[TreeNight, ...]]:
    """Return what nights did to the trees, by evening; those not measured yet are left out."""
    found = {}
    for night in nights:
        if well_measured(plan.picture, night.evening):
            found[night.evening] = looked_back(
                _as_it_stood(plan.garden, night),
                Rules(plan.taxa, plan.rulebook),
                plan.picture,
                plan.outlooks,
                [night.evening],
                called=night.called.keys(),
            )
    return found


def _as_it_stood(garden: Garden, night: OpenNight) -> Garden:
    """Return the garden as it was on an evening, trees that were called in where they stood."""
    then = sound_garden(garden.known_on(night.evening))
    places = {place.id for place in garden.places}
    trees = tuple(
        tree.model_copy(update={"place": stood})
        if (stood := night.called.get(tree.id)) in places
        else tree
        for tree in then.trees
    )
    return then.model_copy(update={"trees": trees})
