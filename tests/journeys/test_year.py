"""A year of rounds on measured weather: every promise of the line, day by day.

The default run takes every fourth day and all days round the season's turns;
``./deploy/test long`` takes every day of 2013.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from mebuki.agenda.entry import Entry, NoticeStep, Published
from mebuki.agenda.grouping import TRACES
from mebuki.agenda.memory import remembered
from mebuki.bootstrap import demo_inputs, plan_day
from mebuki.domain.advice import CareKind, Days
from mebuki.domain.outlook import Milestone
from mebuki.rounds.planned import Plan
from mebuki.rulebook import shipped_config
from mebuki.weather.replay import ReplaySource
from tests.journeys.year_of_rounds import EVERY_DAY, Year, nominal, rounds, share

WEEK = timedelta(days=7)

pytestmark = pytest.mark.xdist_group("year")
"""One worker runs the year once for all."""


@pytest.fixture(
    scope="module",
    params=["share", pytest.param("every day", marks=pytest.mark.long)],
)
def year(request: pytest.FixtureRequest) -> Year:
    """Return the rounds of the year: a share of the days, or all of them."""
    return rounds(tuple(EVERY_DAY) if request.param == "every day" else share())


def _pairs(year: Year) -> Iterator[tuple[Plan, Plan]]:
    for earlier, later in zip(year.plans, year.plans[1:], strict=False):
        if later.on - earlier.on == timedelta(days=1):
            yield earlier, later


def _windows(plan: Plan) -> dict[tuple[str, str], Days]:
    return {
        (each.tree, each.cycle): each.span
        for each in plan.advice
        if each.kind is CareKind.REPOT and each.action == "repot-window"
        and isinstance(each.span, Days)
    }  # fmt: skip


def test_the_year_has_repotting_windows_and_every_kind_of_first_care(year: Year) -> None:
    """Over the year each rule of the first version speaks at least once."""
    kinds = {each.kind for plan in year.plans for each in plan.advice}
    assert {
        CareKind.REPOT, CareKind.FROST, CareKind.WIRE, CareKind.WATER, CareKind.WINTER,
    } <= kinds  # fmt: skip
    assert any(_windows(plan) for plan in year.plans)


def test_a_repotting_window_lies_before_the_predicted_leaf_out(year: Year) -> None:
    """For deciduous trees repotted at bud swell the window ends before leaves unfold."""
    seen = 0
    for plan in year.plans:
        trees = {tree.id: plan.taxa[tree.taxon] for tree in plan.garden.trees}
        for (tree, cycle), span in _windows(plan).items():
            taxon = trees[tree]
            if not taxon.deciduous or taxon.repotting.cue != "bud-swell":
                continue
            stage = plan.outlooks[tree].stage(Milestone.UNFOLDED, int(cycle[:4]))
            assert stage is not None
            assert stage.likely is not None
            assert span.first <= span.last < stage.likely, (plan.on, tree)
            seen += 1
    assert seen > 20


def test_a_repotting_window_moves_by_less_than_a_week_from_one_day_to_the_next(year: Year) -> None:
    """What was said yesterday holds today, give or take some days."""
    compared = 0
    for earlier, later in _pairs(year):
        old, new = _windows(earlier), _windows(later)
        for key in old.keys() & new.keys():
            assert abs(new[key].first - old[key].first) < WEEK, (later.on, key)
            assert abs(new[key].last - old[key].last) < WEEK, (later.on, key)
            compared += 1
    assert compared > 20


def test_the_false_spike_of_may_raises_no_frost_advice(year: Year) -> None:
    """The −10.5 °C of 2013-05-09 02 Z is shown as rejected and warns of nothing."""
    around = [plan for plan in year.plans if date(2013, 5, 6) <= plan.on <= date(2013, 5, 12)]
    assert around
    for plan in around:
        frost = [each for each in plan.advice if each.kind is CareKind.FROST]
        # a trace is a chance too small for any word; it is kept for the levels to judge
        assert {each.action for each in frost} <= TRACES, plan.on
        told = [each for each in plan.notices if each.kind is CareKind.FROST]
        assert {each.step for each in told} <= {NoticeStep.OVER}, plan.on  # of the night before
    after = [plan for plan in around if plan.on >= date(2013, 5, 9)]
    assert after
    for plan in after:
        assert [each for each in plan.picture.rejected if each.value == pytest.approx(-10.5)]


def test_the_false_spike_changes_no_advice_at_all(tmp_path: Path) -> None:
    """With the false value blanked in the file, every advice of the days round it is the same."""
    demo = shipped_config() / "demo"
    text = (demo / "nyc_jfk_hourly_2013.csv").read_text("utf-8")
    blank = re.sub(r"(?m)^2013-05-09T02:00:00Z,-10\.5,-11\.1,", "2013-05-09T02:00:00Z,,,", text)
    assert blank != text
    clean = tmp_path / "nyc_jfk_hourly_2013.csv"
    clean.write_text(blank, "utf-8")
    daily = demo / "noaa_seattle_newyork_daily_2012_2015.csv"
    given = demo_inputs()
    without = replace(given, weather=ReplaySource(clean, daily, location="New York"))
    for day in (date(2013, 5, 8), date(2013, 5, 9), date(2013, 5, 10)):
        false, true = (
            plan_day(inputs, day, nominal(inputs, day), Published.nothing()).advice
            for inputs in (given, without)
        )
        assert false == true


def test_an_identity_stays_while_windows_move(year: Year) -> None:
    """An entry's key and UID belong together for ever, and no key is used twice in a feed."""
    uids: dict[str, str] = {}
    for state in year.published:
        keys = [entry.key for entry in state.entries]
        assert len(keys) == len(set(keys))
        for entry in state.entries:
            assert uids.setdefault(entry.key, entry.uid) == entry.uid
    assert len(set(uids.values())) == len(uids)


def _noticeable(entry: Entry) -> tuple[object, ...]:
    return (entry.title, entry.status, entry.span, entry.trees, entry.gone)


def test_a_revision_grows_only_with_something_a_person_would_notice(year: Year) -> None:
    """SEQUENCE and LAST-MODIFIED move together, forward, and never without a visible change."""
    last: dict[str, Entry] = {}
    grown = 0
    for state in year.published:
        for entry in state.entries:
            old = last.get(entry.key)
            if old is not None:
                changed = _noticeable(entry) != _noticeable(old)
                assert (entry.revision > old.revision) == changed, entry.key
                assert (entry.changed > old.changed) == changed, entry.key
                assert changed or entry.body == old.body, entry.key
                grown += changed
            last[entry.key] = entry
    assert grown > 0


def test_the_same_round_twice_changes_nothing() -> None:
    """A second run for the same moment gives the same entries and tells nobody again."""
    inputs = demo_inputs()
    day = date(2013, 3, 27)
    first = plan_day(inputs, day, nominal(inputs, day), Published.nothing())
    told = remembered((), first.notices, first.marks, day)
    before = Published(at=first.at, entries=first.entries, notices=told)
    second = plan_day(inputs, day, nominal(inputs, day), before)
    bare = [replace(entry, advice=()) for entry in first.entries]
    assert [replace(entry, advice=()) for entry in second.entries] == bare
    assert second.notices == ()


def test_no_notice_is_told_twice_in_a_year(year: Year) -> None:
    """Each notice is new when it is told, to the readers of each level."""
    told: set[str] = set()
    for plan in year.plans:
        keys = {each.told for each in plan.notices}
        assert len(keys) == len(plan.notices)
        assert not keys & told, plan.on
        told |= keys


def test_a_day_is_not_flooded(year: Year) -> None:
    """No day of any feed carries more than a handful of new entries that begin on it."""
    for plan in year.plans:
        today = [
            entry
            for entry in plan.shown
            if isinstance(entry.span, Days) and entry.span.first == plan.on
        ]
        assert len(today) <= 8, (plan.on, [entry.title for entry in today])
