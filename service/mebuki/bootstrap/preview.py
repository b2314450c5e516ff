"""A notice of each step, as the demo garden and its measured year bring them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from mebuki.agenda.entry import Notice, NoticeStep, Published
from mebuki.bootstrap.folder import Inputs
from mebuki.rounds.look import look
from mebuki.rounds.plan import plan_garden
from mebuki.rounds.planned import Plan

FIRST_DAY: Final = date(2013, 3, 27)
"""Where the search begins: frosts over freshly repotted trees lie ahead."""

MOST_DAYS: Final = 45
ROUND_HOUR: Final = 7
BLIND: Final = frozenset({NoticeStep.BLIND})


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """A notice, and the plan that it comes from."""

    notice: Notice
    plan: Plan


def sample_notices(inputs: Inputs, wanted: frozenset[NoticeStep]) -> dict[NoticeStep, Sample]:
    """Return the first notice of each wanted step in the demo's spring, told as in life.

    A step that the spring does not bring is left out.
    """
    found: dict[NoticeStep, Sample] = {}
    for plan in _spring(inputs, blind=wanted == BLIND):
        for notice in plan.notices:
            found.setdefault(notice.step, Sample(notice, plan))
        if NoticeStep.BLIND in wanted and wanted - BLIND <= found.keys() and wanted != BLIND:
            return {**_of(found, wanted), **sample_notices(inputs, BLIND)}
        if wanted <= found.keys():
            break
    return _of(found, wanted)


def _of(found: dict[NoticeStep, Sample], wanted: frozenset[NoticeStep]) -> dict[NoticeStep, Sample]:
    return {step: found[step] for step in NoticeStep if step in wanted and step in found}


def _spring(inputs: Inputs, *, blind: bool) -> Iterator[Plan]:
    """Yield the plans of one day after another, each knowing what was told before.

    Without a forecast if ``blind``.
    """
    site, before = inputs.garden.site, Published.nothing()
    for number in range(MOST_DAYS):
        day = FIRST_DAY + timedelta(days=number)
        picture = look(inputs.weather, site, site.moment(day, ROUND_HOUR))
        if blind:
            picture = replace(picture, forecast_until=None)
        plan = plan_garden(inputs.garden, inputs.taxa, inputs.rulebook, picture, before, day)
        yield plan
        before = plan.published(before)
