"""A year of mails to readers of every level: three rounds a day on measured weather."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest

from mebuki.agenda.entry import Notice, NoticeStep
from mebuki.domain.advice import CareKind
from mebuki.rounds.hindcast import Season, replayed
from mebuki.rulebook import shipped_config
from mebuki.rulebook.garden import read_garden
from tests.rounds.trials import STATIONS, rules, source

HOURS = (6, 13, 20)
PARTS = (
    Season(date(2013, 3, 24), date(2013, 4, 2), HOURS),
    Season(date(2013, 7, 14), date(2013, 7, 20), HOURS),
)
"""Frost on fresh roots, and the heat of July."""

YEAR = (Season(date(2013, 1, 2), date(2013, 12, 28), HOURS),)
FEW_TREES = 8

Told = list[tuple[date, Notice]]

pytestmark = pytest.mark.xdist_group("mails")
"""One worker runs the rounds once for all."""


@pytest.fixture(
    scope="module", params=["share", pytest.param("whole year", marks=pytest.mark.long)]
)
def told(request: pytest.FixtureRequest) -> Told:
    """Return every notice with the local day of its round."""
    whole = request.param == "whole year"
    known = rules()
    garden = read_garden(
        shipped_config() / "garden.example.toml", known.taxa, substrates=known.rulebook.substrates
    )
    trees = garden.trees if whole else garden.trees[:FEW_TREES]
    weather = source(STATIONS["JFK"], seed=5)
    return [
        (plan.on, notice)
        for season in (YEAR if whole else PARTS)
        for plan in replayed(garden.model_copy(update={"trees": trees}), known, weather, season)
        for notice in plan.notices
        if notice.step is not NoticeStep.DIGEST
    ]


def test_nobody_gets_more_than_two_mails_a_day(told: Told) -> None:
    """Outside the digest, whatever the level."""
    assert told
    mails = Counter((notice.level, day) for day, notice in told)
    assert max(mails.values()) <= 2


def test_nobody_is_called_twice_for_a_night(told: Told) -> None:
    """One act for each night and danger; what comes after is an update that answers it."""
    calls = Counter(
        (notice.level, notice.key)
        for _, notice in told
        if notice.step is NoticeStep.ACT and not notice.revision
    )
    assert set(calls.values()) <= {1}
    for _, notice in told:
        if notice.revision:
            assert (notice.level, notice.key) in calls


def test_each_end_belongs_to_a_danger_that_was_told(told: Told) -> None:
    """Of a thread the end comes after its beginning, and once."""
    begun: set[tuple[str | None, str]] = set()
    ended: set[tuple[str | None, str]] = set()
    for _, notice in told:
        place = (notice.level, notice.thread)
        if notice.step is NoticeStep.OVER:
            assert place in begun, notice.key
            assert place not in ended, notice.key
            ended.add(place)
        else:
            begun.add(place)


def test_few_means_few(told: Told) -> None:
    """A night of frost that few are called for is called for the balanced and the cautious."""

    def called(level: str, *kinds: CareKind) -> set[str]:
        return {
            notice.key
            for _, notice in told
            if notice.level == level
            and notice.step is NoticeStep.ACT
            and notice.kind in (kinds or tuple(CareKind))
        }

    frost = CareKind.FROST
    assert called("few", frost) <= called("balanced")
    assert called("balanced", frost) <= called("cautious")
    assert len(called("few", frost)) < len(called("cautious", frost))
